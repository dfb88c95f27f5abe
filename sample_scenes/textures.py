"""Seamless noise and the pictures made of it. Arrays are square, float32, and repeat without a seam."""

import cv2
import numpy as np


def noise(size: int, seed: int, slope: float = 1.5, low: float = 1.0, high: float = 1e9, stretch=(1.0, 1.0)):
    """Gaussian noise (size, size), mean 0, deviation 1, whose amplitude falls with frequency ** -slope.

    low, high: lowest and highest frequency [cycles a tile]; stretch: (along rows, along columns) makes grain.
    """
    rng = np.random.default_rng(seed)
    fy = np.fft.fftfreq(size, 1 / size)[:, None] * stretch[0]
    fx = np.fft.rfftfreq(size, 1 / size)[None, :] * stretch[1]
    f = np.hypot(fx, fy)
    amplitude = np.where((f >= low) & (f <= high), np.maximum(f, 1e-3) ** -slope, 0)
    spectrum = np.fft.rfft2(rng.standard_normal((size, size))) * amplitude
    field = np.fft.irfft2(spectrum, (size, size))
    return (field / field.std()).astype(np.float32)


def cells(size: int, across: int, down: int, seed: int, jitter: float = 0.8):
    """Distances to the nearest and second nearest seed [cells], and a random number from 0 to 1 for each cell."""
    rng = np.random.default_rng(seed)
    px = (np.arange(across) + 0.5)[None, :] + (rng.random((down, across)) - 0.5) * jitter
    py = (np.arange(down) + 0.5)[:, None] + (rng.random((down, across)) - 0.5) * jitter
    tint = rng.random((down, across)).astype(np.float32)
    x, y = np.meshgrid((np.arange(size) + 0.5) / size * across, (np.arange(size) + 0.5) / size * down)
    first, second, which = np.full(x.shape, 9.0), np.full(x.shape, 9.0), np.zeros(x.shape, np.float32)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            i, j = np.floor(y).astype(int) + dy, np.floor(x).astype(int) + dx
            wy, wx = i % down, j % across
            distance = np.hypot(px[wy, wx] + (j - wx) - x, py[wy, wx] + (i - wy) - y)
            closer = distance < first
            second = np.where(closer, first, np.minimum(second, distance))
            which = np.where(closer, tint[wy, wx], which)
            first = np.minimum(first, distance)
    return first.astype(np.float32), second.astype(np.float32), which


def courses(size: int, rows: int, widths: tuple[int, int], seed: int):
    """A wall of blocks: distance to the nearest block edge [tiles], a random number a block, position in the block.

    rows: courses in a tile; widths: least and most blocks in a course. Position is (across, up), each 0 to 1.
    """
    rng = np.random.default_rng(seed)
    x = (np.arange(size) + 0.5) / size
    row_of = np.minimum((x * rows).astype(int), rows - 1)
    edge, tint = np.empty((size, size), np.float32), np.empty((size, size), np.float32)
    across = np.empty((size, size), np.float32)
    for row in range(rows):
        count = rng.integers(widths[0], widths[1] + 1)
        cuts = (np.arange(count) + rng.uniform(-0.22, 0.22, count) + rng.random()) / count
        cuts = np.sort(cuts % 1)
        k = np.searchsorted(cuts, x) % count
        right, left = cuts[k], cuts[k - 1]
        width = (right - left) % 1
        part = ((x - left) % 1) / width
        lines = np.flatnonzero(row_of == row)
        edge[lines] = np.minimum(part, 1 - part) * width
        tint[lines] = rng.random(count)[k]
        across[lines] = part
    up = np.broadcast_to(((x * rows) % 1)[:, None], edge.shape).astype(np.float32)
    edge = np.minimum(edge, np.minimum(up, 1 - up) / rows)
    return edge, tint, (across, up)


def smooth(low: float, high: float, x):
    """0 below low, 1 above high, a smooth step between."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


class Pyramid:
    """A seamless picture (size, size, channels) that can be sampled at any sharpness."""

    def __init__(self, picture: np.ndarray):
        self.levels = [np.ascontiguousarray(picture, np.float32)]
        while self.levels[-1].shape[0] > 4:
            half = self.levels[-1].shape[0] // 2
            self.levels.append(cv2.resize(self.levels[-1], (half, half), interpolation=cv2.INTER_AREA))
        self.size = picture.shape[0]

    def sample(self, u: np.ndarray, v: np.ndarray, footprint: np.ndarray, dither: np.ndarray) -> np.ndarray:
        """Values (N, channels) at u, v [tiles]; footprint: width of what one ray sees [tiles]; dither: 0 to 1."""
        level = np.log2(np.maximum(footprint * self.size, 1)) - 0.5 + dither
        level = np.clip(level, 0, len(self.levels) - 1).astype(np.int8)
        channels = self.levels[0].shape[2]
        out = np.empty((u.size, channels), np.float32)
        for k in np.unique(level):
            picture, mine = self.levels[k], np.flatnonzero(level == k)
            x, y = ((w[mine] % 1) * picture.shape[0] - 0.5 for w in (u, v))
            out[mine] = lookup(picture, x, y)
        return out


def lookup(picture: np.ndarray, x: np.ndarray, y: np.ndarray, wrap: bool = True) -> np.ndarray:
    """Bilinear values (N, channels) of a picture at columns x and rows y (pixel centres are whole numbers)."""
    border = cv2.BORDER_WRAP if wrap else cv2.BORDER_REPLICATE
    n = x.size
    wide = 4096
    rows = -(-n // wide)
    if rows > 1:  # OpenCV refuses pictures wider than 32767: fold the list
        x, y = (np.resize(w, rows * wide).reshape(rows, wide) for w in (x, y))
    else:
        x, y = x[None], y[None]
    found = cv2.remap(picture, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=border)
    return found.reshape(-1, *found.shape[2:])[:n].reshape(n, -1)
