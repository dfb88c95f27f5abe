"""Solids that a ray can hit. Rays are origins and directions (3, N) float32, lengths in metres, z up.

Every shape has `low` and `high` (3,), the corners of its bounding box, `material`, and two methods:
`hit(o, d)` -> distance (N,) along the ray, infinite where it misses, and
`surface(p, d)` -> outward normals (3, N) and texture coordinates u, v (N,) in metres at points p on the surface.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

NEAR = 1e-3  # no hit nearer than this: a ray must leave the surface it starts from [m]
NEVER = np.float32(np.inf)


def dot(a, b) -> np.ndarray:
    """Scalar product of vectors (3, ...) or triples."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def vector(x: float, y: float, z: float) -> np.ndarray:
    """A point or a way (3,). [m]"""
    return np.array([x, y, z], float)


def unit(v: np.ndarray) -> np.ndarray:
    """Vectors (3, ...) scaled to length 1."""
    return v / np.sqrt(np.maximum(dot(v, v), 1e-20))


def lay_texture(p: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Texture coordinates on any flat face: u level along it, v up its slope; on the level, x and y."""
    flat = np.hypot(n[0], n[1])
    level = flat < 0.25
    tx, ty = np.where(level, 1, -n[1] / np.maximum(flat, 1e-6)), np.where(level, 0, n[0] / np.maximum(flat, 1e-6))
    bx, by, bz = -n[2] * ty, n[2] * tx, n[0] * ty - n[1] * tx
    return p[0] * tx + p[1] * ty, p[0] * bx + p[1] * by + p[2] * bz


class Convex:
    """What lies behind all of some planes: boxes, roofs, wedges. normals (K, 3), offsets (K,): n.p <= offset inside."""

    def __init__(self, normals, offsets, material):
        self.normals = np.asarray(normals, np.float64)
        lengths = np.linalg.norm(self.normals, axis=1)
        self.normals, self.offsets = self.normals / lengths[:, None], np.asarray(offsets, np.float64) / lengths
        self.material = material
        corners = []
        for triple in combinations(range(len(lengths)), 3):
            faces = self.normals[list(triple)]
            if abs(np.linalg.det(faces)) > 1e-6:
                corner = np.linalg.solve(faces, self.offsets[list(triple)])
                if np.all(self.normals @ corner <= self.offsets + 1e-6):
                    corners.append(corner)
        self.low, self.high = np.min(corners, axis=0), np.max(corners, axis=0)
        self.aligned = len(lengths) == 6 and bool(np.all(np.abs(self.normals).max(axis=1) > 1 - 1e-9))
        self._planes = [(*map(float, n), float(k)) for n, k in zip(self.normals, self.offsets, strict=True)]

    def hit(self, o, d):
        if self.aligned:
            return self._met(*enter_box(self.low, self.high, o, d))
        near, far = np.float32(-1e30), np.float32(1e30)
        for a, b, c, k in self._planes:
            slope = np.float32(1e-12)
            start = np.float32(k)
            for weight, oo, dd in zip((a, b, c), o, d, strict=True):
                if weight:
                    w = np.float32(weight)
                    slope, start = slope + w * dd, start - w * oo
            t = start / slope
            entering = slope < 0
            near = np.maximum(near, np.where(entering, t, np.float32(-1e30)))
            far = np.minimum(far, np.where(entering, np.float32(1e30), t))
        return self._met(near, far)

    @staticmethod
    def _met(near, far):
        """Where a ray enters; one that starts well inside ends where it leaves, so that no seam lets light through."""
        return np.where(near > far, NEVER, np.where(near > NEAR, near, np.where(far > 0.01, far, NEVER)))

    def surface(self, p, d):
        depth = self.normals.astype(np.float32) @ p - self.offsets.astype(np.float32)[:, None]
        facing = self.normals.astype(np.float32) @ d < 0
        n = self.normals.astype(np.float32)[np.argmax(np.where(facing, depth, -9.0), axis=0)].T
        return n, *lay_texture(p, n)


def box(low, high, material, yaw: float = 0.0, pivot=None) -> Convex:
    """A box from corner to corner, turned by yaw degrees about the vertical through pivot (its middle)."""
    low, high = np.asarray(low, float), np.asarray(high, float)
    middle = (low + high) / 2 if pivot is None else np.asarray(pivot, float)
    a = np.radians(yaw)
    axes = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
    base = axes @ middle
    return Convex(np.vstack([axes, -axes]), np.concatenate([base + high - middle, -(base + low - middle)]), material)


def beam(start, end, width: float, height: float, material, up=(0.0, 0.0, 1.0)) -> Convex:
    """A straight timber between two points; height is measured towards `up`."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    along = (end - start) / np.linalg.norm(end - start)
    side = np.cross(along, up)
    side /= np.linalg.norm(side)
    top = np.cross(side, along)
    normals = [along, -along, side, -side, top, -top]
    offsets = [along @ end, -along @ start, side @ start + width / 2, -side @ start + width / 2]
    offsets += [top @ start + height / 2, -top @ start + height / 2]
    return Convex(normals, offsets, material)


def roof(low, high, rise: float, material, ridge: str = "x") -> Convex:
    """A gable roof over a rectangle: low, high are (x, y) corners and the eaves' height z; ridge along x or y."""
    (x0, y0), (x1, y1), z = low[:2], high[:2], low[2]
    if ridge == "x":
        half, middle = (y1 - y0) / 2, (y0 + y1) / 2
        sides = [
            (0, rise, half, rise * middle + half * (z + rise)),
            (0, -rise, half, -rise * middle + half * (z + rise)),
        ]
        ends = [(1, 0, 0, x1), (-1, 0, 0, -x0)]
    else:
        half, middle = (x1 - x0) / 2, (x0 + x1) / 2
        sides = [
            (rise, 0, half, rise * middle + half * (z + rise)),
            (-rise, 0, half, -rise * middle + half * (z + rise)),
        ]
        ends = [(0, 1, 0, y1), (0, -1, 0, -y0)]
    planes = np.array([*sides, *ends, (0, 0, -1, -z)], float)
    return Convex(planes[:, :3], planes[:, 3], material)


class Quad:
    """A flat rectangle of no thickness, seen from both sides: corner, edges u and v (3,), at right angles.

    cut: function of (u, v) in metres from the corner -> True where there is something; the rest is air.
    own_texture: texture coordinates start at the corner instead of in the world.
    """

    def __init__(self, corner, u, v, material, cut: Callable | None = None, own_texture: bool = False):
        self.corner, u, v = (np.asarray(w, float) for w in (corner, u, v))
        self.width, self.height = float(np.linalg.norm(u)), float(np.linalg.norm(v))
        self.u, self.v = u / self.width, v / self.height
        self.normal = np.cross(self.u, self.v)
        self.material, self.cut, self.own_texture = material, cut, own_texture
        corners = np.array([self.corner + a * u + b * v for a in (0, 1) for b in (0, 1)])
        self.low, self.high = corners.min(axis=0) - 1e-4, corners.max(axis=0) + 1e-4

    def _place(self, o, d, t):
        start = [np.float32(c) for c in self.corner]
        rel = [oo + t * dd - c for oo, dd, c in zip(o, d, start, strict=True)]
        return dot(self.u.astype(np.float32), rel), dot(self.v.astype(np.float32), rel)

    def hit(self, o, d):
        n = self.normal.astype(np.float32)
        t = (np.float32(self.normal @ self.corner) - dot(n, o)) / (dot(n, d) + np.float32(1e-12))
        a, b = self._place(o, d, t)
        good = (t > NEAR) & (a >= 0) & (a <= self.width) & (b >= 0) & (b <= self.height)
        if self.cut is not None:
            some = np.flatnonzero(good)
            good[some] = self.cut(a[some], b[some])
        return np.where(good, t, NEVER)

    def surface(self, p, d):
        n = self.normal.astype(np.float32)[:, None]
        n = np.where(dot(n, d) > 0, -n, n)
        if self.own_texture:
            return n, *self._place(p, p * 0, np.float32(0))
        return n, *lay_texture(p, n)


class Post:
    """A round post or cone frustum with closed ends, from point a to point b, radii ra and rb."""

    def __init__(self, a, b, ra: float, rb: float, material):
        self.a, b = np.asarray(a, float), np.asarray(b, float)
        self.length = float(np.linalg.norm(b - self.a))
        self.axis = (b - self.a) / self.length
        self.ra, self.taper = ra, (rb - ra) / self.length
        self.material = material
        reach = np.sqrt(np.maximum(1 - self.axis**2, 0))
        ends = np.array([self.a - ra * reach, self.a + ra * reach, b - rb * reach, b + rb * reach])
        self.low, self.high = ends.min(axis=0) - 1e-4, ends.max(axis=0) + 1e-4

    def hit(self, o, d):
        w = self.axis.astype(np.float32)
        rel = [oo - np.float32(c) for oo, c in zip(o, self.a, strict=True)]
        oz, dz = dot(w, rel), dot(w, d)
        k, length = np.float32(self.taper), np.float32(self.length)
        start = np.float32(self.ra) + k * oz
        a = 1 - (1 + k * k) * dz * dz + np.float32(1e-9)
        b = dot(rel, d) - oz * dz - k * dz * start
        c = dot(rel, rel) - oz * oz - start * start
        inside = b * b - a * c
        root = np.sqrt(np.maximum(inside, 0))
        t = (-b - root) / a
        z = oz + t * dz
        best = np.where((inside > 0) & (t > NEAR) & (z >= 0) & (z <= length), t, NEVER)
        for height in (np.float32(0), length):
            t = (height - oz) / (dz + np.float32(1e-12))
            across = [r + t * dd - height * ww for r, dd, ww in zip(rel, d, w, strict=True)]
            radius = np.float32(self.ra) + k * height
            best = np.where((t > NEAR) & (t < best) & (dot(across, across) <= radius * radius), t, best)
        return best

    def surface(self, p, d):
        w = self.axis.astype(np.float32)
        rel = p - self.a.astype(np.float32)[:, None]
        z = dot(w, rel)
        across = unit(rel - w[:, None] * z)
        n = unit(across - w[:, None] * np.float32(self.taper))
        slack = np.minimum(0.01 * self.length, 2e-3)
        n = np.where(z > self.length - slack * 0.1, w[:, None], np.where(z < slack * 0.1, -w[:, None], n))
        side = unit(np.cross(w, (0.3, 0.9, 0.2) if abs(w[2]) > 0.9 else (0, 0, 1.0)).astype(np.float32))
        angle = np.arctan2(dot(np.cross(w, side).astype(np.float32), across), dot(side, across))
        return n, angle * max(self.ra, 0.02), z


class Ball:
    """An ellipsoid: centre and half axes along x, y, z."""

    def __init__(self, centre, radii, material):
        self.centre, self.radii = np.asarray(centre, float), np.broadcast_to(np.asarray(radii, float), 3)
        self.low, self.high, self.material = self.centre - self.radii, self.centre + self.radii, material

    def hit(self, o, d):
        os = [(oo - np.float32(c)) / np.float32(r) for oo, c, r in zip(o, self.centre, self.radii, strict=True)]
        ds = [dd / np.float32(r) for dd, r in zip(d, self.radii, strict=True)]
        a, b, c = dot(ds, ds), dot(os, ds), dot(os, os) - 1
        inside = b * b - a * c
        t = (-b - np.sqrt(np.maximum(inside, 0))) / a
        return np.where((inside > 0) & (t > NEAR), t, NEVER)

    def surface(self, p, d):
        rel = p - self.centre.astype(np.float32)[:, None]
        n = unit(rel / (self.radii**2).astype(np.float32)[:, None])
        return n, np.arctan2(rel[1], rel[0]) * np.float32(self.radii[0]), rel[2]


def enter_box(low, high, o, d):
    """Distances (N,) at which rays enter and leave a box; they miss where leaving comes first."""
    near, far = np.float32(0), NEVER
    for axis in range(3):
        slope = np.where(np.abs(d[axis]) < 1e-9, np.float32(1e-9), d[axis])
        t0 = (np.float32(low[axis]) - o[axis]) / slope
        t1 = (np.float32(high[axis]) - o[axis]) / slope
        near, far = np.maximum(near, np.minimum(t0, t1)), np.minimum(far, np.maximum(t0, t1))
    return near, far


@dataclass
class Carved:
    """Any form given by a signed distance (or a bound of it) inside a box: hulls, arches, ropes, birds.

    form: function of points (3, N) in metres -> distance (N,), below 0 inside.
    """

    low: np.ndarray
    high: np.ndarray
    form: Callable
    material: object
    steps: int = 48
    care: float = 0.9  # share of the distance taken at each step; less where the form is only a bound
    rough: object = None  # a simpler shape that stands in for it where light is gathered

    def __post_init__(self):
        self.low, self.high = np.asarray(self.low, float), np.asarray(self.high, float)

    def hit(self, o, d):
        out = np.full(o[0].shape, NEVER, np.float32)
        near, far = enter_box(self.low, self.high, o, d)
        live = np.flatnonzero((near < far) & (far > NEAR))
        if not live.size:
            return out
        t, far = np.maximum(near[live], NEAR), far[live]
        oo, dd = np.asarray(o)[:, live], np.asarray(d)[:, live]
        for _ in range(self.steps):
            gap = self.form(oo + t * dd)
            close = gap < 8e-4 + 3e-4 * t
            out[live[close]] = t[close]
            t = t + np.maximum(gap * self.care, 1e-3)
            on = ~close & (t < far)
            if not on.any():
                break
            live, t, far, oo, dd = live[on], t[on], far[on], oo[:, on], dd[:, on]
        return out

    def surface(self, p, d):
        n, h = np.zeros_like(p), np.float32(4e-3)
        for k in ((1, -1, -1), (-1, -1, 1), (-1, 1, -1), (1, 1, 1)):
            k = np.array(k, np.float32)[:, None]
            n += k * self.form(p + k * h)
        n = unit(n)
        return n, *lay_texture(p, n)
