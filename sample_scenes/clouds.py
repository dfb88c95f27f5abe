"""Clouds as the eye sees them, laid over the smooth sky of the model. Each is a function (directions, light) -> light.

They change what is seen, not what lights the ground: their share of it is small or averages out.
"""

import numpy as np

from sample_scenes.textures import lookup, noise, smooth


def on_ceiling(d, stretch=(1.0, 1.0)):
    """Places (x, y) at which directions (3, N) meet a flat cloud ceiling, in units of its height."""
    up = np.maximum(d[2], 0.0) + 0.07
    return d[0] / up * stretch[0], d[1] / up * stretch[1]


def cover(seed: int, strength: float = 0.15):
    """Light and dark in a closed cover; 1 on average, calmer towards the horizon."""
    veil = np.ascontiguousarray(1 + strength * noise(1024, seed, 1.75, 2, 220), np.float32)

    def seen(d, light):
        x, y = on_ceiling(d, (0.09, 0.15))
        value = lookup(veil, (x % 1) * 1024, (y % 1) * 1024)[:, 0]
        near = np.clip((d[2] - 0.005) * 9, 0, 1)
        return light * np.maximum(1 + (value - 1) * near, 0.25)

    return seen


def fair(seed: int, bright, amount: float = 0.5, size: float = 0.10):
    """Fair-weather clouds in rows, as bright as `bright` (3,) [cd/m2]; amount: 0 none, 1 many."""
    billow = noise(1024, seed, 1.6, 3, 300)
    fibre = noise(1024, seed + 1, 1.5, 2, 200, stretch=(0.5, 2.5))
    picture = np.ascontiguousarray(np.dstack([billow, fibre]), np.float32)
    bright = np.asarray(bright, np.float32)[:, None]

    def seen(d, light):
        x, y = on_ceiling(d, (size, size * 1.3))
        found = lookup(picture, (x % 1) * 1024, (y % 1) * 1024)
        heap = smooth(1.5 - amount, 2.3 - amount, found[:, 0])
        veil = 0.30 * smooth(-0.2, 2.2, found[:, 1])
        share = (1 - (1 - heap) * (1 - veil)) * np.clip(d[2] * 14 - 0.15, 0, 1)
        shaded = 0.62 + 0.38 * np.exp(-1.1 * np.maximum(found[:, 0] - 1.7 + amount, 0))
        return light * (1 - share) + np.maximum(bright * shaded, light) * share

    return seen


def sunset(seed: int, sun, glow):
    """Bands of thin cloud that catch the light near a low sun; glow (3,) [cd/m2]."""
    fibre = np.ascontiguousarray(noise(1024, seed, 1.6, 2, 200, stretch=(0.7, 2.2)), np.float32)
    glow = np.asarray(glow, np.float32)[:, None]

    def seen(d, light):
        x, y = on_ceiling(d, (0.12, 0.2))
        share = 0.6 * smooth(-0.1, 1.6, lookup(fibre, (x % 1) * 1024, (y % 1) * 1024)[:, 0]) * np.clip(d[2] * 10, 0, 1)
        near = np.exp((np.tensordot(sun, d, axes=1) - 1) * 7)
        return light * (1 - share) + (light * 0.55 + glow * near) * share

    return seen
