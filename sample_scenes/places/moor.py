"""The moor above the town under a heavy overcast: heather, a track, a drystone wall, sheep."""

from itertools import pairwise

import numpy as np

from sample_scenes import clouds, parts
from sample_scenes import materials as m
from sample_scenes.board import board, card_spot
from sample_scenes.daylight import direction, sky_horizontal_lux
from sample_scenes.scene import Camera, Place, Spot
from sample_scenes.shapes import Ball, Carved, Post, Quad, beam, vector
from sample_scenes.sky import Sky
from sample_scenes.terrain import Ground, Relief
from sample_scenes.textures import noise, smooth

ALTITUDE = 33
FACING = 178
TARN = -7.2  # height of its water [m]


def build() -> Place:
    """The place, ready to render."""
    land = ground()
    z = float(land.height(0, 0)[0])
    camera = Camera((0, 0, z + 1.85), (0.2, 10, z + 1.3))
    where = stand(land)
    return Place(
        name="moor",
        title="The moor above the town, heavy overcast",
        light="Sun 33 degrees high behind a closed cloud cover, overcast sky (CIE type 1), no shadows, no lamps.",
        shapes=[land, *tarn(), *wall(land), *stones(land), *sheep(land), *board(*where)],
        camera=camera,
        sky=Sky(
            1, direction(ALTITUDE, 140), sky_horizontal_lux(ALTITUDE, "overcast"), 7000, 6600, clouds=clouds.cover(5)
        ),
        air=1 / 2200,
        floor=np.array([0.09, 0.09, 0.06], np.float32),
        volume=((-25, -10, 0.5), (25, 70, 12), (7, 10, 4)),
        spots=(card_spot(camera, *where), *SPOTS),
        rays=2,
    )


def track_middle(y):
    """Where the track runs: x of its middle at y. [m]"""
    return -0.5 + 2.6 * np.sin(y / 15) + 0.05 * y


def ground() -> Ground:
    """Rolling land that rises to hills, tufts of heather, and the track worn into it."""
    n, cell = 1024, 4.0
    x = (np.arange(n) - n / 2) * cell
    y = np.arange(n) * cell - 200
    far = np.hypot(x[None, :], y[:, None])
    rise = smooth(120, 1500, far)
    land = noise(n, 201, 2.3, 3, 120) * 70 * rise + noise(n, 202, 1.9, 12) * 5 * rise
    land += 150 * smooth(500, 2600, y)[:, None] * rise - 4.5 * smooth(4, 60, y)[:, None]
    land -= 4.0 * np.exp(-(((x[None, :] + 26) / 24) ** 2) - ((y[:, None] - 64) / 26) ** 2)
    rolling = Relief(noise(512, 203, 2.0, 2, 40) * 0.16, cell=0.16, repeats=True)
    tufts = m.tuft_heights(22, 0.26)
    rough = Relief(tufts, cell=6.0 / tufts.shape[0], repeats=True, reach=80, where=off_track())
    cover = m.cover(m.heather(), track_share, m.gravel())
    return Ground(
        [Relief(land, (x[0], y[0]), cell), rolling, rough, track_relief()], (-1900, -150), (1900, 3600), cover, 200
    )


def track_share(p):
    """How much of the ground is track."""
    ragged = 0.12 * np.sin(p[1] * 2.1) + 0.08 * np.sin(p[1] * 5.3 + 1) + 0.06 * np.sin(p[0] * 9 + p[1] * 13)
    return 1 - smooth(0.70, 1.05, np.abs(p[0] - track_middle(p[1])) + ragged)


def off_track():
    """A function (x, y) -> how much of the ground is not track, from a grid that is quick to look up."""
    cell = 0.08
    x, y = np.arange(-10, 14, cell), np.arange(-4, 70, cell)
    share = track_share(np.stack(np.meshgrid(x, y)).reshape(2, -1)).reshape(y.size, x.size)
    return Relief(1 - share, (x[0], y[0]), cell).at


def track_relief() -> Relief:
    """The track's hollow, with two ruts."""
    cell = 0.1
    x, y = np.arange(-20, 20, cell), np.arange(-8, 92, cell)
    off = np.abs(x[None, :] - track_middle(y)[:, None])
    z = -0.10 * (1 - smooth(0.5, 1.3, off)) - 0.05 * np.exp(-(((off - 0.5) / 0.16) ** 2))
    return Relief(z, (x[0], y[0]), cell)


def tarn() -> list:
    """A small lake in the hollow on the left."""
    return [Quad((-52, 40, TARN), (50, 0, 0), (0, 52, 0), m.water())]


def wall(land) -> list:
    """A drystone wall that follows the ground away to the right."""
    shapes = []
    points = [(3.4 + 0.21 * y + 1.2 * np.sin(y / 12), y) for y in np.arange(3.0, 110, 2.6)]
    for (x0, y0), (x1, y1) in pairwise(points):
        z0, z1 = float(land.height(x0, y0)[0]), float(land.height(x1, y1)[0])
        shapes.append(beam((x0, y0, z0 + 0.35), (x1, y1, z1 + 0.35), 0.55, 1.2, m.rubble()))
        shapes.append(beam((x0, y0, z0 + 1.0), (x1, y1, z1 + 1.0), 0.42, 0.18, m.rubble()))
    return shapes


def stone_form(p):
    """A leaning standing stone, 2.3 m."""
    w = 0.42 - 0.07 * p[2] + 0.05 * np.sin(p[2] * 3.1 + p[0] * 2)
    q0, q1 = np.abs(p[0] - 0.12 * p[2]) - w, np.abs(p[1]) - w * 0.55
    top = p[2] - 2.2 + 0.35 * p[0]
    edge = np.maximum(np.maximum(q0, q1), top)
    return edge * 0.8 + 0.02 * np.sin(p[0] * 9 + p[2] * 5) * np.sin(p[1] * 11 + p[2] * 7)


def stones(land) -> list:
    """A standing stone by the track and boulders in the heather."""
    at = np.array([-3.6, 11.5, float(land.height(-3.6, 11.5)[0]) - 0.2])
    shapes = [
        Carved(
            at - vector(1.2, 1, 0.2), at + vector(1.2, 1, 2.8), parts.placed(stone_form, at, 25), m.boulder(), care=0.7
        )
    ]
    rng = np.random.default_rng(8)
    for _ in range(22):
        y = rng.uniform(6, 60)
        x = track_middle(y) + rng.choice([-1, 1]) * rng.uniform(1.6, 9)
        r = rng.uniform(0.14, 0.5)
        z = float(land.height(x, y)[0])
        shapes.append(Ball((x, y, z + r * 0.1), (r, r * rng.uniform(0.7, 1.2), r * 0.65), m.boulder()))
    return shapes


def sheep(land) -> list:
    """Five sheep that look the other way."""
    shapes, wool, dark = [], m.cloth(206, 200, 182), m.paint(52, 48, 44, f0=0)
    for x, y, turn in ((-5.2, 15, 30), (-7.4, 17.5, 200), (-4.0, 21, 80), (-11, 26, 140), (3.4, 17, 10), (-7, 33, 60)):
        z = float(land.height(x, y)[0]) + 0.1
        a = np.radians(turn)
        ahead = np.array([np.cos(a), np.sin(a), 0])
        radii = (0.36 + 0.2 * abs(ahead[0]), 0.36 + 0.2 * abs(ahead[1]), 0.36)
        shapes.append(Ball((x, y, z + 0.62), radii, wool))
        shapes.append(Ball(np.array([x, y, z + 0.7]) + ahead * 0.66, 0.14, dark))
        for side in (-0.16, 0.16):
            for end in (-0.3, 0.3):
                leg = np.array([x, y, z]) + ahead * end + np.array([-ahead[1], ahead[0], 0]) * side
                shapes.append(Post(leg - vector(0, 0, 0.1), leg + vector(0, 0, 0.45), 0.035, 0.045, dark))
    return shapes


def stand(land) -> tuple:
    """Where the board stands: beside the track, leaning well back towards the sky."""
    x, y = 1.45, 4.6
    return (x, y, float(land.height(x, y)[0]) - 0.05), FACING + 8, 25.0, 1.0, 0.45


SPOTS = (
    Spot("shadow", 0.77, 0.64, 1.2),
    Spot("middle", 0.9, 0.535, 1.2),
    Spot("highlight", 0.35, 0.14, 1.5),
)
