"""From a place to a picture: linear sRGB in cd/m2, tile by tile, some rays a pixel."""

from dataclasses import dataclass, fields

import cv2
import numpy as np

from sample_scenes.indirect import Field, Probes, gather, lamp_reach, sun_on
from sample_scenes.scene import Place, face
from sample_scenes.shapes import NEVER, dot, unit

TILE = 128  # pixels along the side of what is rendered together
COARSE_TILE = 64
COARSE = 5  # pixels between the points where sky and bounced light are gathered


@dataclass
class Skin:
    """Everything about the points of a bundle that shading needs; vectors are (3, N), numbers (N,)."""

    p: np.ndarray
    flat: np.ndarray  # normal of the shape
    n: np.ndarray  # normal with the relief of the material
    reflectance: np.ndarray
    glow: np.ndarray
    f0: np.ndarray
    shine: np.ndarray
    mirror: np.ndarray
    thin: np.ndarray

    def part(self, some) -> "Skin":
        """The same for some of the points."""
        return Skin(*(getattr(self, f.name)[..., some] for f in fields(self)))


def skin(place: Place, o, d, t, which, footprint, rng) -> Skin:
    """Surfaces where rays end (all of them hit something); footprint: width of a ray there [m]."""
    count = t.size
    p = o + t * d
    out = Skin(p, *(np.zeros_like(p) for _ in range(4)), *(np.zeros(count, np.float32) for _ in range(4)))
    for shape, mine, flat, u, v in place.surfaces(place.tree, which, p, d):
        dm = d[:, mine]
        flat = face(flat, dm).astype(np.float32)
        reflectance, slopes = paint(shape.material, p[:, mine], u, v, footprint[mine], flat, dm, rng)
        material = shape.material
        out.flat[:, mine] = flat
        out.n[:, mine] = tilt(flat, slopes, material.turn) if slopes is not None else flat
        out.reflectance[:, mine] = reflectance
        if material.emits is not None:
            out.glow[:, mine] = np.asarray(material.emits, np.float32)[:, None] * (
                reflectance / np.maximum(material.reflectance[:, None], 1e-6)
            )
        out.f0[mine], out.shine[mine] = material.f0, material.shine
        out.mirror[mine], out.thin[mine] = material.mirror, material.thin
    return out


def paint(material, p, u, v, footprint, n, d, rng):
    """Reflectance (3, N) and slopes (N, 2) or None of a material at texture coordinates in metres."""
    count = u.size
    if material.picture is not None:
        high, wide = material.picture.shape[:2]
        x = np.clip((u / material.metres * wide).astype(int), 0, wide - 1)
        y = np.clip(((1 - v / (material.metres * high / wide)) * high).astype(int), 0, high - 1)
        return material.picture[y, x].T, None
    base = np.repeat(material.reflectance.astype(np.float32)[:, None], count, axis=1)
    slopes = None
    if material.pattern is not None:
        a = np.radians(material.turn)
        u, v = (u * np.cos(a) + v * np.sin(a)).astype(np.float32), (v * np.cos(a) - u * np.sin(a)).astype(np.float32)
        grazing = footprint / np.sqrt(np.maximum(-dot(d, n), 0.02))
        tile = np.float32(material.metres)
        found = material.pattern.sample(u / tile, v / tile, grazing / tile, rng.random(count, np.float32))
        slopes = found[:, 3:] * np.float32(material.bump)
        base = base * found[:, :3].T
        if material.water:
            more = material.pattern.sample(
                v / tile * 0.31, u / tile * 0.37, grazing / tile * 0.37, rng.random(count, np.float32)
            )
            slopes = slopes * 0.6 + more[:, 3:] * 0.8
    for layer in material.over:
        share = layer.share(p)
        some = np.flatnonzero(share > 0.02)
        if some.size:
            top, more = paint(
                layer.material, p[:, some], u[some], v[some], footprint[some], n[:, some], d[:, some], rng
            )
            base[:, some] += (top - base[:, some]) * share[some]
            if slopes is not None and more is not None:
                slopes[some] += (more - slopes[some]) * share[some][:, None]
    return base, slopes


def tilt(n, slopes, turn: float = 0.0):
    """Normals bent by the slopes of a relief along u and v."""
    level = np.abs(n[2]) > 0.968
    flat = np.maximum(np.hypot(n[0], n[1]), 1e-6)
    tx, ty = np.where(level, 1, -n[1] / flat), np.where(level, 0, n[0] / flat)
    bx, by, bz = -n[2] * ty, n[2] * tx, n[0] * ty - n[1] * tx
    a = np.radians(turn)
    su = slopes[:, 0] * np.cos(a) - slopes[:, 1] * np.sin(a)
    sv = slopes[:, 0] * np.sin(a) + slopes[:, 1] * np.cos(a)
    return unit(np.stack([n[0] - su * tx - sv * bx, n[1] - su * ty - sv * by, n[2] - sv * bz])).astype(np.float32)


def shine(skin: Skin, d, to_light, slant, lux):
    """Light (3, N) of the highlight: normalised Blinn-Phong with Schlick's Fresnel term."""
    half = unit(to_light - d)
    toward = np.maximum(dot(half, skin.n), 0)
    fresnel = skin.f0 + (1 - skin.f0) * (1 - np.clip(dot(half, to_light), 0, 1)) ** 5
    lobe = (skin.shine + 8) / (8 * np.pi) * toward**skin.shine * fresnel
    return lux * np.where(skin.f0 > 0, lobe * (slant > 0), 0)


def bent_share(around: Field, flat, n):
    """How much more (or less) light the bent normal n gets than the flat one, from the moment of the light."""
    total = around.total[:, 1] / 4
    moment = around.moment[:, :, 1] / 2
    before = np.maximum(total + (moment * flat.T).sum(axis=1), 1e-9)
    after = np.maximum(total + (moment * n.T).sum(axis=1), 0.15 * before)
    return np.minimum(after / before, 2.5)


class Painter:
    """Renders one place at one size."""

    def __init__(self, place: Place, width: int, height: int, rays: int = 3, directions: int = 64):
        self.place, self.width, self.height, self.rays = place, width, height, rays
        self.origin = np.asarray(place.camera.position, np.float32)
        self.pixel = np.float32(2 * place.camera.half_width() / width)
        self.probes = Probes(place)
        self.coarse = Coarse(self, directions)

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

    def _shade(self, s: Skin, d, around, rng):
        place = self.place
        lux, light = around * 1, s.glow.copy()
        start = s.p + s.flat * np.float32(2e-3)
        if place.sun is not None:
            lux_sun = self._sun(s, start, rng)
            lux += lux_sun
            to = np.repeat(place.sun.direction[:, None], s.f0.size, axis=1)
            light += shine(s, d, to, dot(to, s.n), lux_sun)
            light += self._glowing_cloth(s, rng)
        if place.lamps:
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
            out[:, hit] = self._haze(self._shade(found, r[:, hit], around, rng), r[:, hit], t[hit])
        return out

    def _haze(self, light, d, t):
        if not self.place.air:
            return light
        level = np.stack([d[0], d[1], np.full_like(d[2], 0.03)])
        left = np.exp(-self.place.air * t)
        return light * left + self.place.sky.rgb(unit(level)) * 0.92 * (1 - left)


class Coarse:
    """Sky and bounced light at every fifth pixel, smoothed along surfaces and looked up between."""

    def __init__(self, painter: Painter, directions: int):
        self.painter = painter
        place = painter.place
        self.wide, self.high = -(-painter.width // COARSE), -(-painter.height // COARSE)
        shape = (self.high, self.wide)
        self.p, self.n = np.zeros((*shape, 3), np.float32), np.zeros((*shape, 3), np.float32)
        self.depth = np.full(shape, NEVER, np.float32)
        total, moment = np.zeros((*shape, 3), np.float32), np.zeros((*shape, 9), np.float32)
        for y0 in range(0, self.high, COARSE_TILE):
            for x0 in range(0, self.wide, COARSE_TILE):
                box = np.s_[y0 : min(y0 + COARSE_TILE, self.high), x0 : min(x0 + COARSE_TILE, self.wide)]
                rng = np.random.default_rng((x0, y0, 3))
                y, x = (m.ravel().astype(np.float32) + 0.5 for m in np.mgrid[box])
                d = place.camera.rays(x * COARSE / painter.width, y * COARSE / painter.height)
                o = np.repeat(painter.origin[:, None], x.size, axis=1)
                t, which = place.tree.first(o, d)
                hit = np.flatnonzero(which >= 0)
                p, n = np.zeros_like(o), np.zeros_like(o)
                p[:, hit] = o[:, hit] + t[hit] * d[:, hit]
                for _, mine, flat, _, _ in place.surfaces(place.tree, which, p, d):
                    n[:, mine] = face(flat, d[:, mine])
                field = Field.dark(x.size)
                if hit.size:
                    start = p[:, hit] + n[:, hit] * np.float32(3e-3)
                    some = gather(place, start, n[:, hit], painter.probes, directions, rng)
                    field.total[hit], field.moment[hit] = some.total, some.moment
                size = (box[0].stop - y0, box[1].stop - x0)
                self.p[box], self.n[box] = p.T.reshape(*size, 3), n.T.reshape(*size, 3)
                self.depth[box] = t.reshape(size)
                total[box], moment[box] = field.total.reshape(*size, 3), field.moment.reshape(*size, 9)
        self._smooth(total, moment)

    def _smooth(self, total, moment, reach: int = 2):
        packed = np.dstack([total, moment])
        out, weights = np.zeros_like(packed), np.zeros(self.depth.shape, np.float32)
        near = np.where(np.isfinite(self.depth), self.depth, 1e9)
        for dy in range(-reach, reach + 1):
            for dx in range(-reach, reach + 1):
                p, n, depth, other = (self._shift(w, dy, dx) for w in (self.p, self.n, near, packed))
                off = np.abs(((p - self.p) * self.n).sum(axis=2)) / (0.003 * near)
                weight = np.exp(-off) * np.clip((n * self.n).sum(axis=2), 0, 1) ** 8 * (depth < 1e8)
                out += other * weight[..., None]
                weights += weight
        self.packed = (out / np.maximum(weights, 1e-6)[..., None]).reshape(-1, 12)

    @staticmethod
    def _shift(w, dy, dx):
        h, k = w.shape[:2]
        return w[np.clip(np.arange(h) + dy, 0, h - 1)][:, np.clip(np.arange(k) + dx, 0, k - 1)]

    def near(self, x, y, s: Skin):
        """Illuminance (3, N) from all but sun and lamps at picture points x, y; probes help where no neighbour fits."""
        cx, cy = x / COARSE - 0.5, y / COARSE - 0.5
        ix, iy = np.floor(cx).astype(int), np.floor(cy).astype(int)
        fx, fy = cx - ix, cy - iy
        depth = np.sqrt(((s.p - self.painter.origin[:, None]) ** 2).sum(axis=0))
        packed, weights = np.zeros((x.size, 12), np.float32), np.zeros(x.size, np.float32)
        p, n = self.p.reshape(-1, 3), self.n.reshape(-1, 3)
        for dy in (0, 1):
            for dx in (0, 1):
                index = np.clip(iy + dy, 0, self.high - 1) * self.wide + np.clip(ix + dx, 0, self.wide - 1)
                off = np.abs(((p[index].T - s.p) * s.flat).sum(axis=0)) / (0.003 * depth)
                weight = np.exp(-off) * np.clip((n[index].T * s.flat).sum(axis=0), 0, 1) ** 8
                weight = weight * ((fx if dx else 1 - fx) + 0.02) * ((fy if dy else 1 - fy) + 0.02)
                packed += self.packed[index] * weight[:, None]
                weights += weight
        packed /= np.maximum(weights, 1e-9)[:, None]
        field = Field(packed[:, :3], packed[:, 3:].reshape(-1, 3, 3))
        lux = field.irradiance(s.flat).T * bent_share(field, s.flat, s.n)
        lost = np.flatnonzero(weights < 0.02)
        if lost.size:
            lux[:, lost] = self.painter.probes.irradiance(s.p[:, lost], s.n[:, lost])
        return lux.astype(np.float32)


def render(place: Place, width: int = 1600, height: int = 1200, rays: int = 3, directions: int = 64) -> np.ndarray:
    """The picture (height, width, 3), float32, linear sRGB in cd/m2. rays: squared, the rays a pixel."""
    return Painter(place, width, height, rays, directions).picture()


def area_mean(picture: np.ndarray, width: int, height: int) -> np.ndarray:
    """A picture made smaller by averaging light."""
    return cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA)
