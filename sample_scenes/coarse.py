"""Sky and bounced light on what the camera sees, gathered at some points and looked up between them."""

import numpy as np

from sample_scenes.indirect import Field, Probes, gather
from sample_scenes.scene import Place, face
from sample_scenes.shapes import NEVER
from sample_scenes.skin import Skin

TILE = 64  # points along the side of what is gathered together
STEP = 5  # pixels between points


def bent_share(around: Field, flat, n):
    """How much more (or less) light the bent normal n gets than the flat one, from the moment of the light."""
    total = around.total[:, 1] / 4
    moment = around.moment[:, :, 1] / 2
    before = np.maximum(total + (moment * flat.T).sum(axis=1), 1e-9)
    after = np.maximum(total + (moment * n.T).sum(axis=1), 0.15 * before)
    return np.minimum(after / before, 2.5)


class Coarse:
    """Sky and bounced light at every fifth pixel, smoothed along surfaces and looked up between."""

    def __init__(self, place: Place, width: int, height: int, probes: Probes, directions: int):
        self.place, self.probes, self.directions = place, probes, directions
        self.origin = np.asarray(place.camera.position, np.float32)
        self.width, self.height = width, height
        self.wide, self.high = -(-width // STEP), -(-height // STEP)
        shape = (self.high, self.wide)
        self.p, self.n = np.zeros((*shape, 3), np.float32), np.zeros((*shape, 3), np.float32)
        self.depth = np.full(shape, NEVER, np.float32)
        light = np.zeros((*shape, 12), np.float32)
        for y in range(0, self.high, TILE):
            for x in range(0, self.wide, TILE):
                tile = np.s_[y : min(y + TILE, self.high), x : min(x + TILE, self.wide)]
                light[tile] = self._gather(tile)
        self.packed = self._smooth(light).reshape(-1, 12)

    def _gather(self, tile) -> np.ndarray:
        """Light around the points of a tile (rows, columns, 12); keeps where they lie."""
        rng = np.random.default_rng((tile[1].start, tile[0].start, 3))
        y, x = (m.ravel().astype(np.float32) + 0.5 for m in np.mgrid[tile])
        d = self.place.camera.rays(x * STEP / self.width, y * STEP / self.height)
        o = np.repeat(self.origin[:, None], x.size, axis=1)
        t, which = self.place.tree.first(o, d)
        hit = np.flatnonzero(which >= 0)
        p, n, light = np.zeros_like(o), np.zeros_like(o), np.zeros((x.size, 12), np.float32)
        p[:, hit] = o[:, hit] + t[hit] * d[:, hit]
        for _, mine, flat, _, _ in self.place.surfaces(self.place.tree, which, p, d):
            n[:, mine] = face(flat, d[:, mine])
        if hit.size:
            start = p[:, hit] + n[:, hit] * np.float32(3e-3)
            around = gather(self.place, start, n[:, hit], self.probes, self.directions, rng)
            light[hit] = np.hstack([around.total, around.moment.reshape(-1, 9)])
        size = (tile[0].stop - tile[0].start, tile[1].stop - tile[1].start)
        self.p[tile], self.n[tile], self.depth[tile] = p.T.reshape(*size, 3), n.T.reshape(*size, 3), t.reshape(size)
        return light.reshape(*size, 12)

    def _smooth(self, packed, reach: int = 2) -> np.ndarray:
        """The mean over neighbours that lie in the same plane and face the same way."""
        out, weights = np.zeros_like(packed), np.zeros(self.depth.shape, np.float32)
        near = np.where(np.isfinite(self.depth), self.depth, 1e9)
        for dy in range(-reach, reach + 1):
            for dx in range(-reach, reach + 1):
                p, n, depth, other = (self._shift(w, dy, dx) for w in (self.p, self.n, near, packed))
                off = np.abs(((p - self.p) * self.n).sum(axis=2)) / (0.003 * near)
                weight = np.exp(-off) * np.clip((n * self.n).sum(axis=2), 0, 1) ** 8 * (depth < 1e8)
                out += other * weight[..., None]
                weights += weight
        return out / np.maximum(weights, 1e-6)[..., None]

    @staticmethod
    def _shift(w, dy, dx):
        h, k = w.shape[:2]
        return w[np.clip(np.arange(h) + dy, 0, h - 1)][:, np.clip(np.arange(k) + dx, 0, k - 1)]

    def near(self, x, y, s: Skin):
        """Illuminance (3, N) from all but sun and lamps at picture points x, y; probes help where no neighbour fits."""
        cx, cy = x / STEP - 0.5, y / STEP - 0.5
        ix, iy = np.floor(cx).astype(int), np.floor(cy).astype(int)
        fx, fy = cx - ix, cy - iy
        depth = np.sqrt(((s.p - self.origin[:, None]) ** 2).sum(axis=0))
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
            lux[:, lost] = self.probes.irradiance(s.p[:, lost], s.n[:, lost])
        return lux.astype(np.float32)
