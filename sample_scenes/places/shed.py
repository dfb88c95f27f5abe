"""The boat shed: a boat on its cradle, one window on the harbour, the rest lit by what the walls give back."""

import numpy as np

from sample_scenes import materials as m
from sample_scenes import parts
from sample_scenes.board import board, card_spot
from sample_scenes.daylight import direction, sky_horizontal_lux, sun_colour, sun_normal_lux
from sample_scenes.scene import Camera, Opening, Place, Spot, Sun
from sample_scenes.shapes import Ball, Post, Quad, beam, box, vector
from sample_scenes.sky import Sky

ALTITUDE, AZIMUTH = 31, -38
WIDE, DEEP, EAVES, RIDGE = 3.4, 9.0, 2.7, 4.6  # half width, depth, heights [m]
SILL, LINTEL, WEST, EAST = 1.0, 2.3, -2.3, -0.5  # the window in the far wall
CAMERA = Camera((0.9, 0.0, 1.55), (-0.2, 8.0, 1.45))
BOARD = ((1.05, 3.9, 0), 172, 8.0, 1.0, 0.45)


def build() -> Place:
    """The place, ready to render."""
    sun = direction(ALTITUDE, AZIMUTH)
    return Place(
        name="shed",
        title="The boat shed with one window",
        light="Daylight through one window: sun 31 degrees high ahead on the left, clear sky (CIE type 12), no lamps.",
        shapes=walls() + frame() + work() + outside() + board(*BOARD),
        camera=CAMERA,
        sky=Sky(12, sun, sky_horizontal_lux(ALTITUDE), 16000, 7000, 5800),
        sun=Sun(sun, sun_colour(ALTITUDE) * np.float32(sun_normal_lux(ALTITUDE))),
        openings=[
            Opening(np.array([EAST, DEEP, SILL]), np.array([WEST - EAST, 0, 0]), np.array([0, 0, LINTEL - SILL]))
        ],
        floor=np.array([0.14, 0.14, 0.13], np.float32),
        volume=((-WIDE + 0.15, -1.8, 0.15), (WIDE - 0.15, DEEP - 0.2, 4.0), (7, 10, 5)),
        spots=SPOTS,
    )


def walls() -> list:
    """Floor, plank walls, roof; the far wall is built around its window."""
    timber, stone = m.planks().coloured(94, 86, 76), m.cobbles().coloured(96, 92, 86)
    shapes = [box((-5, -3, -0.3), (5, DEEP + 0.2, 0), stone)]
    shapes += [
        box(
            (side * WIDE - 0.2 * (side < 0), -3, -0.2),
            (side * WIDE + 0.2 * (side > 0), DEEP + 0.1, EAVES + 0.1),
            timber,
        )
        for side in (-1, 1)
    ]
    shapes.append(box((-WIDE - 0.2, -2.2, -0.2), (WIDE + 0.2, -2.0, RIDGE + 0.2), timber))
    outer = WIDE + 0.1
    beside = (SILL - 0.1, LINTEL + 0.1)
    across = ((-outer, outer, -0.2, SILL), (-outer, outer, LINTEL, RIDGE + 0.2))
    for x0, x1, z0, z1 in (*across, (-outer, WEST, *beside), (EAST, outer, *beside)):
        shapes.append(box((x0, DEEP, z0), (x1, DEEP + 0.16, z1), timber))
    for side in (-1, 1):
        shapes.append(
            beam((side * (WIDE + 0.1), -2.5, EAVES), (side * (WIDE + 0.1), DEEP + 0.2, EAVES), 0.22, 0.4, m.wood())
        )
        a, b = np.array([side * (WIDE + 0.3), 0, EAVES - 0.1]), np.array([0, 0, RIDGE])
        slope = (b - a) / np.linalg.norm(b - a)
        middle = (a + b) / 2
        normal = np.array([side * abs(slope[2]), 0, abs(slope[0])])
        lath = middle + normal * 0.08
        wide = np.linalg.norm(b - a) + 0.2
        shapes.append(beam(lath - vector(0, 2.6, 0), lath + vector(0, DEEP + 0.3, 0), wide, 0.1, timber, up=normal))
    return shapes


def frame() -> list:
    """Trusses, window bars and sill."""
    shapes, timber = [], m.wood().coloured(86, 74, 60)
    for y in (1.2, 3.8, 6.4):
        shapes.append(beam((-WIDE, y, EAVES), (WIDE, y, EAVES), 0.14, 0.2, timber))
        shapes.append(beam((0, y, EAVES), (0, y, RIDGE - 0.1), 0.12, 0.12, timber, up=(0, 1, 0)))
        for side in (-1, 1):
            shapes.append(beam((side * WIDE, y, EAVES + 0.05), (0, y, RIDGE - 0.15), 0.12, 0.16, timber))
            shapes.append(
                box((side * (WIDE - 0.06) - 0.07, y - 0.07, 0), (side * (WIDE - 0.06) + 0.07, y + 0.07, EAVES), timber)
            )
    wide, high = EAST - WEST, LINTEL - SILL
    shapes.append(
        Quad(
            (WEST, DEEP + 0.05, SILL),
            (wide, 0, 0),
            (0, 0, high),
            m.paint(200, 198, 188),
            cut=parts.frame_cut(wide, high, (4, 3), 0.06, 0.035),
        )
    )
    shapes.append(box((WEST - 0.1, DEEP - 0.16, SILL - 0.05), (EAST + 0.1, DEEP + 0.05, SILL), timber))
    return shapes


def work() -> list:
    """The boat on its cradle, bench, tools, coils, oars."""
    shapes = parts.boat((-1.0, 5.0, 0.55), 12, 0, 4.2, 1.6, 0.75, m.paint(196, 204, 200))
    for y in (3.9, 6.1):
        shapes.append(beam((-1.9, y, 0.42), (-0.1, y, 0.42), 0.14, 0.24, m.wood()))
        for x in (-1.7, -0.3):
            shapes.append(box((x - 0.07, y - 0.07, 0), (x + 0.07, y + 0.07, 0.5), m.wood()))
    shapes.append(box((2.5, 2.8, 0.82), (3.35, 7.8, 0.9), m.planks()))
    for y in (3.0, 5.3, 7.6):
        shapes.append(box((2.55, y, 0), (2.65, y + 0.1, 0.82), m.wood()))
    shapes += parts.barrel((2.0, 8.2, 0)) + parts.barrel((1.3, 8.45, 0), 0.75, 0.26)
    shapes += parts.crate((2.9, 4.1, 0.9), (0.5, 0.4, 0.3)) + parts.crate((-2.7, 2.9, 0), (0.7, 0.5, 0.45), 12)
    for k in range(3):
        shapes.append(Post((-3.2 + k * 0.14, 6.9, 0), (-3.3 + k * 0.05, 7.3, 2.5), 0.022, 0.022, m.wood()))
    for k, (x, y, z) in enumerate(((0.9, 8.85, 2.0), (1.25, 8.85, 1.85), (1.55, 8.8, 2.1))):
        shapes.append(Ball((x, y, z), 0.17, m.paint(*((206, 104, 44), (214, 206, 190), (172, 60, 48))[k])))
        shapes += parts.sag((x, y, z + 0.15), (x, 8.95, 2.7), 0.0, 0.01, parts=2)
    shapes.append(box((3.15, 3.2, 1.55), (3.4, 7.2, 1.59), m.planks()))
    rng = np.random.default_rng(71)
    for y in np.arange(3.4, 7.1, 0.3):
        colour = ((150, 150, 140), (168, 70, 52), (70, 104, 126), (200, 180, 120))[rng.integers(4)]
        shapes.append(Post((3.28, y, 1.59), (3.28, y, 1.59 + rng.uniform(0.1, 0.24)), 0.06, 0.06, m.paint(*colour)))
    for k in range(3):
        shapes += parts.coil((-2.75, 3.9, 0.03 + 0.05 * k), 0.3 - 0.02 * k)
    return shapes


def outside() -> list:
    """What the window shows: water, the mole and a hill."""
    return [
        Quad((-400, 14, -1.2), (800, 0, 0), (0, 900, 0), m.water()),
        box((-60, 60, -2), (20, 64, 0.7), m.ashlar()),
        box((-6, DEEP + 0.2, -2), (6, 14, -0.2), m.ashlar()),
        *parts.boat((-5.5, 24, -1.5), 70, 0, 4.6, 1.7, 0.8, m.paint(150, 50, 44)),
    ]


SPOTS = (
    card_spot(CAMERA, *BOARD),
    Spot("shadow", 0.83, 0.78, 1.2),
    Spot("middle", 0.17, 0.94, 1.5),
    Spot("highlight", 0.505, 0.73, 0.9),
)
