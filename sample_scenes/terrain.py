"""Ground with hills and hollows: a height for each (x, y), as grids that repeat or end."""

import numpy as np

from sample_scenes.shapes import NEAR, NEVER, enter_box, unit
from sample_scenes.textures import lookup


class Relief:
    """A height map: heights (rows along y, columns along x) [m], its first corner and the size of a cell [m].

    repeats: the map is a tile; reach: distance from the origin over which it fades [m]; where: share at (x, y).
    """

    def __init__(
        self, heights: np.ndarray, corner=(0.0, 0.0), cell: float = 1.0, repeats: bool = False, reach=1e9, where=None
    ):
        self.heights = np.ascontiguousarray(heights, np.float32)
        self.corner, self.cell, self.repeats, self.reach, self.where = corner, cell, repeats, reach, where

    def at(self, x, y):
        """Heights (N,) at x, y. [m]"""
        rows, columns = self.heights.shape
        col, row = (x - self.corner[0]) / self.cell, (y - self.corner[1]) / self.cell
        if self.repeats:
            col, row = col % columns, row % rows
        z = lookup(self.heights, col, row, wrap=self.repeats)[:, 0]
        if self.reach < 1e8:
            z = z * np.exp(-((x * x + y * y) / np.float32(self.reach**2)))
        return z if self.where is None else z * self.where(x, y)


class Ground:
    """The sum of some reliefs as a surface to hit, over a rectangle of the plane."""

    def __init__(self, reliefs: list[Relief], low, high, material, steps: int = 110, finest: float = 0.02):
        self.reliefs, self.material, self.steps, self.finest = reliefs, material, steps, finest
        bottom = sum(float(r.heights.min()) for r in reliefs)
        top = sum(float(r.heights.max()) for r in reliefs)
        self.low, self.high = np.array([*low, bottom - 0.01], float), np.array([*high, top + 0.01], float)

    @property
    def rough(self) -> "Ground":
        """The same ground, walked over in fewer and longer steps."""
        return Ground(self.reliefs, self.low[:2], self.high[:2], self.material, 44, 0.07)

    def height(self, x, y) -> np.ndarray:
        """Heights (N,) of the ground. [m]"""
        x, y = np.atleast_1d(np.asarray(x, np.float32)), np.atleast_1d(np.asarray(y, np.float32))
        return sum(r.at(x, y) for r in self.reliefs)

    def hit(self, o, d):
        out = np.full(o[0].shape, NEVER, np.float32)
        near, far = enter_box(self.low, self.high, o, d)
        live = np.flatnonzero((near < far) & (far > NEAR))
        if not live.size:
            return out
        t, far = np.maximum(near[live], NEAR), np.minimum(far[live], 4000)
        oo, dd = np.asarray(o)[:, live], np.asarray(d)[:, live]
        step, was = np.zeros_like(t), np.ones_like(t)
        for _ in range(self.steps):
            p = oo + t * dd
            above = p[2] - self.height(p[0], p[1])
            under = above < 0
            if under.any():
                out[live[under]] = (t - step * (-above) / (was - above + 1e-6))[under]
            step = np.maximum(above * 0.55, np.maximum(self.finest, np.maximum(0.006 * t, 0.014 * (t - 25))))
            was = above
            t = t + step
            on = ~under & (t < far)
            if not on.any():
                break
            live, t, far, step, was, oo, dd = live[on], t[on], far[on], step[on], was[on], oo[:, on], dd[:, on]
        return out

    def surface(self, p, d):
        distance = 0.02 + 0.002 * np.abs(p[1])
        slope_x = (self.height(p[0] + distance, p[1]) - self.height(p[0] - distance, p[1])) / (2 * distance)
        slope_y = (self.height(p[0], p[1] + distance) - self.height(p[0], p[1] - distance)) / (2 * distance)
        return unit(np.stack([-slope_x, -slope_y, np.ones_like(slope_x)])).astype(np.float32), p[0], p[1]
