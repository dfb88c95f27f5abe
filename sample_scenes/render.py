"""From a place to a picture: linear sRGB in cd/m2, tile by tile, some rays a pixel."""

import numpy as np

from sample_scenes.coarse import Coarse
from sample_scenes.indirect import Probes, lamp_reach, one_lamp_on, sun_on
from sample_scenes.scene import Place
from sample_scenes.shapes import dot, unit
from sample_scenes.skin import Skin, shine, skin

TILE = 128  # pixels along the side of what is rendered together


class Painter:
    """Renders one place at one size."""

    def __init__(self, place: Place, width: int, height: int, rays: int = 3, directions: int = 64):
        self.place, self.width, self.height, self.rays = place, width, height, rays
        self.origin = np.asarray(place.camera.position, np.float32)
        self.pixel = np.float32(2 * place.camera.half_width() / width)
        self.probes = Probes(place)
        self.coarse = Coarse(place, width, height, self.probes, directions)

    def picture(self) -> np.ndarray:
        """The picture (height, width, 3), float32, linear sRGB in cd/m2."""
        out = np.zeros((self.height, self.width, 3), np.float32)
        for y in range(0, self.height, TILE):
            for x in range(0, self.width, TILE):
                high, wide = min(TILE, self.height - y), min(TILE, self.width - x)
                out[y : y + high, x : x + wide] = self._tile(x, y, wide, high)
        return out

    def _tile(self, x0, y0, wide, high):
        rng = np.random.default_rng((x0, y0, 7))
        y, x = (m.ravel().astype(np.float32) for m in np.mgrid[y0 : y0 + high, x0 : x0 + wide])
        total = np.zeros((3, x.size), np.float32)
        for i in range(self.rays):
            for j in range(self.rays):
                fx = x + (i + rng.random(x.size, np.float32)) / self.rays
                fy = y + (j + rng.random(x.size, np.float32)) / self.rays
                total += self.light(fx, fy, rng)
        return (total / self.rays**2).T.reshape(high, wide, 3)

    def light(self, x, y, rng):
        """Light (3, N) that comes to the camera at picture points x, y [pixels]."""
        d = self.place.camera.rays(x / self.width, y / self.height)
        o = np.repeat(self.origin[:, None], x.size, axis=1)
        t, which = self.place.tree.first(o, d)
        out = np.zeros_like(o)
        missed, hit = np.flatnonzero(which < 0), np.flatnonzero(which >= 0)
        if missed.size:
            out[:, missed] = self.place.open_light(d[:, missed], seen=True)
        if hit.size:
            found = skin(self.place, o[:, hit], d[:, hit], t[hit], which[hit], t[hit] * self.pixel, rng)
            around = self.coarse.near(x[hit], y[hit], found)
            lit = self._shade(found, d[:, hit], around, rng)
            out[:, hit] = self._haze(lit, d[:, hit], t[hit])
        return out

    def _shade(self, s: Skin, d, around, rng, mirrored: bool = False):
        place = self.place
        lux, light = around * 1, s.glow.copy()
        start = s.p + s.flat * np.float32(2e-3)
        if place.sun is not None:
            lux_sun = self._sun(s, start, rng)
            lux += lux_sun
            to = np.repeat(place.sun.direction[:, None], s.f0.size, axis=1)
            light += shine(s, d, to, dot(to, s.n), lux_sun)
            light += self._glowing_cloth(s, rng)
        if mirrored:
            lux += one_lamp_on(place, start, s.n, rng)
        elif place.lamps:
            self._lamps(s, start, d, lux, light, rng)
        fresnel = s.mirror * (s.f0 + (1 - s.f0) * (1 - np.clip(-dot(d, s.n), 0, 1)) ** 5)
        light += s.reflectance / np.pi * lux * (1 - fresnel)
        shiny = np.flatnonzero(fresnel > 0.004)
        if shiny.size:
            light[:, shiny] += fresnel[shiny] * self._mirrored(s, start, d, shiny, rng)
        return light

    def _sun(self, s: Skin, start, rng):
        slant = np.maximum(np.tensordot(self.place.sun.direction, s.n, axes=1), 0)
        flat = np.maximum(np.tensordot(self.place.sun.direction, s.flat, axes=1), 1e-4)
        return sun_on(self.place, start, s.flat, rng, self.place.tree) / flat * slant

    def _glowing_cloth(self, s: Skin, rng):
        """Light (3, N) of the sun that comes through thin cloth from behind."""
        out = np.zeros_like(s.p)
        some = np.flatnonzero(s.thin > 0)
        if some.size:
            back = -s.flat[:, some]
            lux = sun_on(self.place, s.p[:, some] + back * np.float32(2e-3), back, rng, self.place.tree)
            out[:, some] = s.reflectance[:, some] * s.thin[some] / np.pi * lux
        return out

    def _lamps(self, s: Skin, start, d, lux, light, rng):
        """Add the lamps: the strongest at each point, and one of the others, picked by its share."""
        lamps = self.place.lamps
        reached = [lamp_reach(lamp, s.p, s.n, rng) for lamp in lamps]
        strength = np.array([full[1] * (dot(to, s.flat) > 0) for to, _, full in reached])
        first = np.argmax(strength, axis=0)
        rest = strength.copy()
        rest[first, np.arange(first.size)] = 0
        share = np.cumsum(rest, axis=0)
        second = (rng.random(first.size, np.float32) * share[-1] > share).sum(axis=0)
        for k, (to, distance, full) in enumerate(reached):
            gain = np.where(first == k, 1, np.where(second == k, share[-1] / np.maximum(rest[k], 1e-12), 0))
            some = np.flatnonzero((gain > 0) & (strength[k] > 1e-4))
            if some.size:
                reach = distance[some] - lamps[k].radius - 0.12
                some = some[~self.place.tree.blocked(start[:, some], to[:, some], reach)]
                part = s.part(some)
                given = full[:, some] * gain[some]
                lux[:, some] += given
                light[:, some] += shine(part, d[:, some], to[:, some], dot(to[:, some], part.n), given)

    def _mirrored(self, s: Skin, start, d, some, rng):
        """Light (3, M) that the mirror in the surface shows, one reflection deep."""
        n = s.n[:, some]
        r = d[:, some] - 2 * dot(d[:, some], n) * n
        under = dot(r, s.flat[:, some])
        r = unit(r - np.minimum(under - 0.02, 0) * s.flat[:, some])
        o = start[:, some]
        t, which = self.place.tree.first(o, r)
        out = np.zeros_like(o)
        missed, hit = np.flatnonzero(which < 0), np.flatnonzero(which >= 0)
        if missed.size:
            out[:, missed] = self.place.open_light(r[:, missed], seen=True)
        if hit.size:
            far = t[hit] + np.sqrt(((o[:, hit] - self.origin[:, None]) ** 2).sum(axis=0))
            found = skin(self.place, o[:, hit], r[:, hit], t[hit], which[hit], far * self.pixel * 1.5, rng)
            found.mirror[:] = 0
            around = self.probes.irradiance(found.p, found.n)
            out[:, hit] = self._haze(self._shade(found, r[:, hit], around, rng, True), r[:, hit], t[hit])
        return out

    def _haze(self, light, d, t):
        if not self.place.air:
            return light
        level = np.stack([d[0], d[1], np.full_like(d[2], 0.03)])
        left = np.exp(-self.place.air * t)
        return light * left + self.place.sky.rgb(unit(level)) * 0.92 * (1 - left)


def render(place: Place, width: int = 1600, height: int = 1200, rays: int = 3, directions: int = 64) -> np.ndarray:
    """The picture (height, width, 3), float32, linear sRGB in cd/m2. rays: squared, the rays a pixel."""
    return Painter(place, width, height, rays, directions).picture()
