"""The snowfield behind the town: a bright noon in late winter, tracks, a fence, a hut, dark firs."""

from itertools import pairwise

import numpy as np

from sample_scenes import clouds, parts
from sample_scenes import materials as m
from sample_scenes.board import board, card_spot
from sample_scenes.daylight import direction, sky_horizontal_lux, sun_colour, sun_normal_lux
from sample_scenes.scene import Camera, Place, Spot, Sun
from sample_scenes.shapes import Carved, Post, Quad, beam, box, vector
from sample_scenes.sky import Sky
from sample_scenes.terrain import Ground, Relief
from sample_scenes.textures import noise, smooth

ALTITUDE, AZIMUTH = 36, 112


def build() -> Place:
    """The place, ready to render."""
    land = ground()
    sun = direction(ALTITUDE, AZIMUTH)
    lux = sun_colour(ALTITUDE) * np.float32(sun_normal_lux(ALTITUDE))
    z = float(land.height(0, 0)[0])
    camera = Camera((0, 0, z + 1.6), (-0.3, 10, z + 1.75))
    where = stand(land)
    return Place(
        name="snowfield",
        title="Snow in the sun above the bay",
        light="Sun 36 degrees high to the right and a little behind, clear sky (CIE type 12), fresh snow, no lamps.",
        shapes=[land, *bay(), *hut(land), *fence(land), *firs(land), *board(*where)],
        camera=camera,
        sky=Sky(
            12, sun, sky_horizontal_lux(ALTITUDE), 25000, 9000, 5800, clouds=clouds.fair(61, lux * 0.6 / np.pi, 0.15)
        ),
        sun=Sun(sun, lux),
        air=1 / 7000,
        floor=np.array([0.5, 0.52, 0.54], np.float32),
        volume=((-25, -8, 0.3), (25, 70, 14), (8, 11, 5)),
        spots=(card_spot(camera, *where), *SPOTS),
    )


def track_middle(y):
    """Where the sledge went: x at y. [m]"""
    return 0.4 + 2.4 * np.sin(y / 13 + 0.3) - 0.02 * y


def ground() -> Ground:
    """Drifts near, hills far, two grooves of a sledge and the steps of who pulled it."""
    n, cell = 1024, 3.0
    x, y = (np.arange(n) - n / 2) * cell, np.arange(n) * cell - 150
    far = np.hypot(x[None, :], y[:, None])
    land = (
        noise(n, 301, 2.2, 2, 150) * 30 * smooth(120, 1200, far)
        + 60 * smooth(300, 1500, np.abs(x))[None, :] * smooth(100, 900, y)[:, None]
    )
    land -= 26 * smooth(70, 260, y)[:, None] * (1 - smooth(500, 1400, np.abs(x + 100)))[None, :]
    drifts = Relief(noise(512, 302, 2.0, 2, 60, stretch=(1.4, 0.8)) * 0.22, cell=0.07, repeats=True)
    return Ground(
        [Relief(land, (x[0], y[0]), cell), drifts, tracks()], (-1500, -140), (1500, 2900), m.snow(), steps=150
    )


def tracks() -> Relief:
    """Grooves and footprints pressed into the snow."""
    cell = 0.025
    x, y = np.arange(-9, 9, cell), np.arange(-2, 40, cell)
    off = x[None, :] - track_middle(y)[:, None]
    z = np.zeros(off.shape)
    for side in (-0.32, 0.32):
        d = np.abs(off - side)
        z += -0.085 * (1 - smooth(0.03, 0.08, d)) + 0.025 * np.exp(-(((d - 0.11) / 0.04) ** 2))
    for k, at in enumerate(np.arange(-1.6, 39, 0.36)):
        side = 0.10 if k % 2 else -0.10
        ex = (off - side) / 0.07
        ey = (y[:, None] - at) / 0.15
        r = np.sqrt(ex**2 + ey**2)
        z += -0.11 * (1 - smooth(0.75, 1.15, r)) + 0.018 * np.exp(-(((r - 1.35) / 0.25) ** 2))
    return Relief(z, (x[0], y[0]), cell)


def bay() -> list:
    """The water of the bay far below, and the far shore comes from the hills."""
    return [Quad((-900, 150, -21), (1800, 0, 0), (0, 1600, 0), m.water())]


def hut(land) -> list:
    """A tarred hut with snow on its roof."""
    x, y = -9.5, 19.0
    z = float(land.height(x, y)[0]) - 0.3
    tarred = m.planks().coloured(96, 60, 46)
    shapes = [box((x, y, z), (x + 4.6, y + 4, z + 2.7), tarred)]
    shapes.append(parts.roof((x, y, z + 2.7), (x + 4.6, y + 4), 1.5, tarred, "x"))
    shapes.append(parts.roof((x - 0.35, y - 0.4, z + 2.52), (x + 4.95, y + 4.4), 1.85, m.snow(), "x"))
    shapes += parts.window((x + 3.3, y, z + 1.6), "-y", 0.8, 0.8, (2, 2))
    shapes += parts.door((x + 1.3, y, z + 0.3), "-y", 0.85, 1.9, m.planks().coloured(70, 92, 84))
    shapes.append(box((x + 3.7, y + 1.6, z + 3.6), (x + 4.2, y + 2.1, z + 5.0), m.rubble()))
    return shapes


def fence(land) -> list:
    """A post-and-rail fence that half drowns in the drifts."""
    shapes, grey = [], m.planks()
    points = [(5.4 - 0.10 * k + 0.9 * np.sin(k * 0.5), 5.5 + 2.2 * k) for k in range(16)]
    ends = []
    for k, (x, y) in enumerate(points):
        z = float(land.height(x, y)[0])
        top = np.array([x + 0.04 * np.sin(k * 2.1), y, z + 1.05 + 0.08 * np.sin(k * 1.7)])
        shapes.append(Post((x, y, z - 0.3), top, 0.075, 0.065, m.wood()))
        shapes.append(Post(top, top + vector(0, 0, 0.07), 0.08, 0.03, m.snow()))
        ends.append(top)
    for a, b in pairwise(ends):
        for drop in (0.18, 0.6):
            shapes.append(beam(a - vector(0, 0, drop), b - vector(0, 0, drop), 0.035, 0.12, grey))
    return shapes


def fir_form(height: float, layers: int = 7):
    """A fir whose boughs hang in tiers."""

    def form(p):
        s = np.clip(p[2] / height, 0.0, 1)
        r = np.hypot(p[0], p[1])
        tier = (s * layers) % 1
        angle = np.arctan2(p[1], p[0])
        reach = (
            height
            * 0.23
            * (1 - s) ** 0.9
            * (1.12 - 0.45 * tier)
            * (1 + 0.13 * np.sin(angle * 7 + 9 * np.floor(s * layers)))
        )
        return np.maximum(np.maximum(r - reach, p[2] - height), 0.25 - p[2]) * 0.55

    return form


def firs(land) -> list:
    """Firs in two groups, and some far ones."""
    shapes = []
    rng = np.random.default_rng(12)
    spots = [
        (-14.5, 26),
        (-17, 22),
        (-12.6, 30),
        (-3.4, 33),
        (11, 30),
        (14, 26),
        (16.5, 34),
        (12.5, 40),
        (-22, 33),
        (20, 44),
        (8.5, -0.6),
        (11.5, 3.2),
    ]
    spots += [(rng.uniform(-60, 60), rng.uniform(52, 90)) for _ in range(16)]
    for x, y in spots:
        h = rng.uniform(4.5, 8.5)
        z = float(land.height(x, y)[0]) - 0.2
        at = np.array([x, y, z])
        w = h * 0.32
        top = m.bark()
        shapes.append(
            Carved(
                at - vector(w, w, 0),
                at + vector(w, w, h + 0.1),
                parts.placed(fir_form(h), at, rng.uniform(0, 360)),
                m.snowed(top),
                steps=44,
                rough=Post(at + vector(0, 0, 0.25), at + vector(0, 0, h), h * 0.2, 0.05, m.bark()),
            )
        )
        shapes.append(Post(at, at + vector(0, 0, 0.7), 0.14, 0.12, m.wood()))
    return shapes


def stand(land) -> tuple:
    """Where the board stands, turned to the camera and the sun."""
    x, y = 1.3, 4.6
    return (x, y, float(land.height(x, y)[0]) - 0.05), 163


SPOTS = (
    Spot("shadow", 0.165, 0.545, 0.8),
    Spot("middle", 0.893, 0.78, 0.8),
    Spot("highlight", 0.35, 0.78, 1.5),
)
