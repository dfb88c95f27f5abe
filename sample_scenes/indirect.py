"""Light that comes from the sky and from other surfaces, with more than one bounce.

A coarse grid of probes holds the light that passes through the air; each pass over it adds a bounce.
The picture itself is lit by a finer gathering at every fifth pixel that looks up the probes where its rays end.
"""

from dataclasses import dataclass

import numpy as np

from sample_scenes.daylight import SUN_RADIUS
from sample_scenes.scene import Place, face
from sample_scenes.shapes import dot, unit

BUNDLE = 16384  # rays that are followed together


def sphere(count: int) -> np.ndarray:
    """Directions (3, count) spread evenly over the sphere (golden spiral)."""
    k = np.arange(count) + 0.5
    z, turn = 1 - 2 * k / count, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - z * z)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), z]).astype(np.float32)


@dataclass
class Field:
    """Light around points: total (N, 3) and first moment (N, 3 axes, 3 colours) of radiance over the sphere."""

    total: np.ndarray
    moment: np.ndarray

    @classmethod
    def dark(cls, count: int) -> "Field":
        return cls(np.zeros((count, 3), np.float32), np.zeros((count, 3, 3), np.float32))

    def add(self, where, d, light, weight):
        """Add light (3, M) from directions d (3, M) of solid angle weight (M,) or a number [sr] at points `where`."""
        part = (light * weight).T
        moment = (d.T[:, :, None] * part[:, None, :]).reshape(-1, 9)
        for column in range(3):
            self.total[:, column] += np.bincount(where, part[:, column], len(self.total))
        for column in range(9):
            self.moment.reshape(-1, 9)[:, column] += np.bincount(where, moment[:, column], len(self.total))

    def irradiance(self, n: np.ndarray) -> np.ndarray:
        """Illuminance (N, 3) on surfaces with normals n (3, N), to the first order of spherical harmonics."""
        return np.maximum(self.total / 4 + np.einsum("an,nac->nc", n, self.moment) / 2, self.total * 0.02)


class Probes:
    """The light in the air of a place on a regular grid."""

    def __init__(self, place: Place, bounces: int = 3, directions: int = 144):
        low, high, self.counts = place.volume
        self.low = np.asarray(low, np.float32)
        self.step = ((np.asarray(high) - self.low) / (np.asarray(self.counts) - 1)).astype(np.float32)
        axes = [lo + np.arange(n) * s for lo, n, s in zip(self.low, self.counts, self.step, strict=True)]
        points = np.stack([m.ravel() for m in np.meshgrid(*axes, indexing="ij")]).astype(np.float32)
        self.field = Field.dark(points.shape[1])
        for bounce in range(bounces):
            self.field = gather(place, points, None, self, directions, np.random.default_rng(bounce))

    def irradiance(self, p: np.ndarray, n: np.ndarray) -> np.ndarray:
        """Illuminance (3, N) at points p on surfaces with normals n, from all but sun and lamps."""
        nx, ny, nz = self.counts
        place = np.clip(
            (p - self.low[:, None]) / self.step[:, None], 0, np.array([[nx - 1], [ny - 1], [nz - 1]]) - 1e-3
        )
        cell = place.astype(np.int32)
        part = (place - cell).astype(np.float32)
        packed = np.concatenate([self.field.total[:, None, :], self.field.moment], axis=1).reshape(-1, 12)
        out = np.zeros((p.shape[1], 12), np.float32)
        for dx in (0, 1):
            for dy in (0, 1):
                for dz in (0, 1):
                    weight = np.ones(p.shape[1], np.float32)
                    for axis, corner in enumerate((dx, dy, dz)):
                        weight = weight * (part[axis] if corner else 1 - part[axis])
                    index = ((cell[0] + dx) * ny + cell[1] + dy) * nz + cell[2] + dz
                    out += packed[index] * weight[:, None]
        out = out.reshape(-1, 4, 3)
        return Field(out[:, 0], out[:, 1:]).irradiance(n).T


def toward_disc(axis: np.ndarray, radius: float, count: int, rng) -> np.ndarray:
    """Unit directions (3, count) spread over a disc of so many radians around an axis (3,)."""
    side = unit(np.cross(axis, (0.31, 0.72, 0.4) if abs(axis[2]) > 0.9 else (0, 0, 1.0)))
    up = np.cross(axis, side)
    r, turn = radius * np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    d = axis[:, None] + side[:, None] * (r * np.cos(turn)) + up[:, None] * (r * np.sin(turn))
    return unit(d).astype(np.float32)


def sun_on(place: Place, p, n, rng, tree=None) -> np.ndarray:
    """Illuminance (3, N) by the sun on points p with normals n; its disc gives the half-shadow its width.

    tree: what may stand between; the rough shapes unless said.
    """
    out = np.zeros_like(p)
    if place.sun is None:
        return out
    slant = np.tensordot(place.sun.direction, n, axes=1)
    lit = np.flatnonzero(slant > 0)
    if lit.size:
        d = toward_disc(place.sun.direction, SUN_RADIUS, lit.size, rng)
        free = ~(tree or place.rough).blocked(p[:, lit], d, 1e9)
        out[:, lit] = place.sun.lux[:, None] * (slant[lit] * free)
    return out


def lamp_reach(lamp, p, n, rng):
    """A point on the lamp for each p: direction (3, N), distance (N,), illuminance (3, N) if nothing is between."""
    spread = unit(rng.standard_normal(p.shape)).astype(np.float32) * np.float32(lamp.radius)
    way = np.asarray(lamp.position, np.float32)[:, None] + spread - p
    distance = np.sqrt(dot(way, way))
    d = way / distance
    shade = np.clip((d[2] + 0.55) / 0.1, 0, 1)  # the cap: nothing steeper upwards than 30 degrees
    lux = lamp.candela[:, None] * (np.maximum(dot(d, n), 0) * shade / (distance * distance))
    return d, distance, lux


def one_lamp_on(place: Place, p, n, rng) -> np.ndarray:
    """Illuminance (3, N) by the lamps, from one of them picked by its share."""
    out = np.zeros_like(p)
    if not place.lamps:
        return out
    reached = [lamp_reach(lamp, p, n, rng) for lamp in place.lamps]
    share = np.cumsum([lux[1] for _, _, lux in reached], axis=0)
    pick = (rng.random(p.shape[1]) * share[-1] > share).sum(axis=0)
    for k, (d, distance, lux) in enumerate(reached):
        mine = np.flatnonzero((pick == k) & (lux[1] > 0))
        if mine.size:
            free = ~place.rough.blocked(p[:, mine], d[:, mine], distance[mine] - place.lamps[k].radius - 0.12)
            out[:, mine] = lux[:, mine] * (free * share[-1][mine] / lux[1][mine])
    return out


def through_opening(place: Place, opening, p, rng, cell=(0, 1, 0, 1)):
    """Light (3, N) and its direction and solid angle, through a random point of an opening (or of a part of it)."""
    a = cell[0] + (cell[1] - cell[0]) * rng.random(p.shape[1], np.float32)
    b = cell[2] + (cell[3] - cell[2]) * rng.random(p.shape[1], np.float32)
    corner, u, v = (np.asarray(w, np.float32)[:, None] for w in (opening.corner, opening.u, opening.v))
    way = corner + u * a + v * b - p
    square = np.maximum(dot(way, way), 1e-4)
    d = way / np.sqrt(square)
    facing = np.cross(opening.u, opening.v)
    area = np.linalg.norm(facing)
    slant = -np.tensordot((facing / area).astype(np.float32), d, axes=1)
    angle = np.maximum(slant, 0) * np.float32(area * (cell[1] - cell[0]) * (cell[3] - cell[2])) / square
    return d, np.sqrt(square), np.minimum(angle, 2 * np.pi)


def openings_on(place: Place, p, n, rng) -> np.ndarray:
    """Illuminance (3, N) of daylight through the openings, one ray each."""
    out = np.zeros_like(p)
    for opening in place.openings:
        d, distance, angle = through_opening(place, opening, p, rng)
        weight = angle * np.maximum(dot(d, n), 0)
        some = np.flatnonzero(weight > 1e-7)
        if some.size:
            free = ~place.rough.blocked(p[:, some], d[:, some], distance[some] - 0.02)
            out[:, some] += place.open_light(d[:, some]) * (weight[some] * free)
    return out


def light_back(place: Place, o, d, probes: Probes, rng) -> np.ndarray:
    """Light (3, N) that comes back along rays: what their ends give off, lit by sun, lamps and the probes."""
    t, which = place.rough.first(o, d)
    out = np.zeros_like(o)
    missed = np.flatnonzero(which < 0)
    if missed.size:
        out[:, missed] = place.open_light(d[:, missed])
    if place.openings:  # daylight that comes in is counted at the opening, not where the ray ends
        end = o + np.minimum(t, 1e4) * d
        out[:, place.indoors(o) & ~place.indoors(end)] = 0
    hit = np.flatnonzero(which >= 0)
    if not hit.size:
        return out
    p, d = o[:, hit] + t[hit] * d[:, hit], d[:, hit]
    n, reflectance = np.zeros_like(p), np.zeros_like(p)
    glow, mirror = np.zeros_like(p), np.zeros(hit.size, np.float32)
    for shape, mine, normals, _, _ in place.surfaces(place.rough, which[hit], p, d):
        n[:, mine] = face(normals, d[:, mine])
        material = shape.material
        reflectance[:, mine] = material.reflectance[:, None]
        if material.emits is not None and not material.lamp:  # lamps are counted by their lumens
            glow[:, mine] = np.asarray(material.emits, np.float32)[:, None]
        if material.mirror:
            mirror[mine] = material.f0 + (1 - material.f0) * (1 - np.clip(-dot(d[:, mine], n[:, mine]), 0, 1)) ** 5
    start = p + n * np.float32(2e-3)
    lux = sun_on(place, start, n, rng) + one_lamp_on(place, start, n, rng) + openings_on(place, start, n, rng)
    lux += probes.irradiance(p, n)
    light = glow + reflectance / np.pi * lux * (1 - mirror)
    shiny = np.flatnonzero(mirror > 0)
    if shiny.size and not place.openings:
        bounced = d[:, shiny] - 2 * dot(d[:, shiny], n[:, shiny]) * n[:, shiny]
        light[:, shiny] += place.open_light(bounced) * mirror[shiny]
    if place.openings:
        light *= ~place.indoors(o[:, hit]) | place.indoors(p)
    out[:, hit] = light
    return out


def gather(place: Place, points, normals, probes: Probes, directions: int, rng) -> Field:
    """Light around points (3, N) from the sky and from surfaces, without sun and lamps themselves.

    normals: (3, N) leaves out what lies below the surface; None is for points in the air.
    """
    count = points.shape[1]
    found = Field.dark(count)
    radius, solid = np.sqrt(4 / directions), 4 * np.pi / directions
    at_once = max(1, BUNDLE // count)
    axes = sphere(directions)
    for first in range(0, directions, at_once):
        block = axes[:, first : first + at_once]
        d = np.concatenate([toward_disc(axis, radius, count, rng) for axis in block.T], axis=1)
        whose = np.tile(np.arange(count), block.shape[1])
        if normals is not None:
            up = dot(d, normals[:, whose]) > 0
            d, whose = d[:, up], whose[up]
        if whose.size:
            light = light_back(place, points[:, whose], d, probes, rng)
            found.add(whose, d, light, solid)
    for opening in place.openings:
        grid = 5 if normals is not None else 4
        for i in range(grid):
            for j in range(grid):
                cell = (i / grid, (i + 1) / grid, j / grid, (j + 1) / grid)
                d, distance, angle = through_opening(place, opening, points, rng, cell)
                some = np.flatnonzero(angle > 1e-7)
                if normals is not None:
                    some = some[dot(d[:, some], normals[:, some]) > 0]
                free = (
                    some[~place.rough.blocked(points[:, some], d[:, some], distance[some] - 0.02)]
                    if some.size
                    else some
                )
                if free.size:
                    found.add(free, d[:, free], place.open_light(d[:, free]), angle[free])
    return found
