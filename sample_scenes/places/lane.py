"""The lane at low sun: cobbles that shine, walls against the light, washing on a line."""

import numpy as np

from sample_scenes import clouds, parts
from sample_scenes import materials as m
from sample_scenes.board import board, card_spot
from sample_scenes.daylight import direction, sky_horizontal_lux, sun_colour, sun_normal_lux
from sample_scenes.scene import Camera, Place, Spot, Sun
from sample_scenes.shapes import Ball, Post, Quad, box
from sample_scenes.sky import Sky

ALTITUDE, AZIMUTH = 11.0, 2.0
CAMERA = Camera((0.25, 0.0, 1.6), (0.0, 10.0, 1.95))
BOARD = ((0.75, 4.4, 0), 176)


def build() -> Place:
    """The place, ready to render."""
    sun = direction(ALTITUDE, AZIMUTH)
    return Place(
        name="lane",
        title="The lane to the harbour at low sun",
        light="Sun 11 degrees high straight ahead, behind a sheet on the line; clear hazy sky (CIE type 13), no lamps.",
        shapes=ground() + left() + right() + end() + life() + board(*BOARD),
        camera=CAMERA,
        sky=Sky(
            13,
            sun,
            sky_horizontal_lux(ALTITUDE),
            18000,
            6500,
            3800,
            clouds=clouds.sunset(41, sun, sun_colour(4) * 9000),
        ),
        sun=Sun(sun, sun_colour(ALTITUDE) * np.float32(sun_normal_lux(ALTITUDE))),
        air=1 / 5000,
        floor=np.array([0.06, 0.07, 0.07], np.float32),
        volume=((-2.0, -3, 0.3), (2.2, 34, 8), (5, 14, 5)),
        spots=SPOTS,
    )


def ground() -> list:
    """Cobbles with a gutter, and the harbour beyond."""
    return [
        box((-40, -20, -2), (40, 36, 0), m.cobbles()),
        box((-0.18, -20, -0.1), (0.14, 36, 0.012), m.ashlar()),
        Quad((-500, 36, -1.6), (1000, 0, 0), (0, 1500, 0), m.water()),
    ]


def left() -> list:
    """Houses on the left; their fronts face +x."""
    cream, brick = m.plaster().coloured(222, 208, 176), m.plaster().coloured(188, 140, 116)
    shapes = parts.house((-9, -8), (-2.3, 6.5), 5.6, 2.4, cream, m.tiles(), "y", m.ashlar())
    shapes += parts.house((-9, 6.8), (-2.0, 14.2), 4.9, 2.4, m.rubble(), m.slates(), "x", None)
    shapes += parts.house((-9, 14.4), (-2.45, 23), 6.4, 2.4, brick, m.tiles(), "y", m.ashlar())
    green = m.paint(70, 100, 84)
    for y in (3.4, 5.4):
        shapes += parts.window((-2.3, y, 1.75), "+x", 0.8, 1.2, shutters=green)
        shapes += parts.window((-2.3, y, 4.3), "+x", 0.8, 1.1)
    shapes += parts.door((-2.0, 8.6, 0), "+x", material=m.paint(132, 60, 48))
    for y in (10.8, 12.8):
        shapes += parts.window((-2.0, y, 1.7), "+x", 0.75, 1.0)
        shapes += parts.window((-2.0, y, 3.9), "+x", 0.75, 0.9)
    for y in (16, 19, 21.6):
        for z in (1.8, 4.8):
            shapes += parts.window((-2.45, y, z), "+x", 0.85, 1.2)
    return shapes


def right() -> list:
    """Houses on the right; their fronts face -x."""
    white, blue = m.plaster().coloured(230, 226, 214), m.plaster().coloured(164, 184, 190)
    shapes = parts.house((2.3, -8), (9, 9.5), 5.2, 2.6, white, m.slates(), "y", m.ashlar())
    shapes += parts.house((2.6, 9.8), (9, 18.0), 6.0, 2.4, blue, m.tiles(), "x", m.ashlar())
    shapes += parts.house((2.2, 18.2), (9, 26.0), 4.6, 2.6, m.rubble(), m.tiles(), "y", None)
    red = m.paint(150, 62, 50)
    for y in (3.0, 5.2, 7.6):
        shapes += parts.window((2.3, y, 3.9), "-x", 0.8, 1.1, shutters=red)
    shapes += parts.window((2.3, 7.6, 1.6), "-x", 0.85, 1.2, shutters=red) + parts.door((2.3, 5.3, 0), "-x")
    for y in (11.5, 14, 16.4):
        for z in (1.8, 4.5):
            shapes += parts.window((2.6, y, z), "-x", 0.8, 1.2)
    return shapes


def end() -> list:
    """The house at the end of the lane, masts beyond."""
    shapes = parts.house(
        (-8, 28.5), (-1.2, 35), 4.4, 3.2, m.plaster().coloured(214, 190, 150), m.tiles(), "x", m.ashlar()
    )
    for x, y, h in ((0.6, 44, 8.5), (1.9, 52, 9.5), (3.4, 60, 9)):
        shapes += parts.mast((x, y, -1.2), h, 0.09, boom=2.4, yaw=70)
        shapes += parts.boat((x, y, -1.75), 70, 0, 6, 2.1, 1.0)
    return shapes


def life() -> list:
    """Washing on lines across the lane, pots by the doors, a cat on a step."""
    shapes = parts.sag((-2.3, 9.5, 4.1), (2.3, 9.0, 4.0), 0.18, 0.008)
    shapes += parts.sag((-2.0, 13.5, 4.6), (2.6, 13.2, 4.5), 0.2, 0.008)
    cloths = (
        (-1.5, 9.42, 3.02, 0.75, 0.95, (226, 222, 214)),
        (-0.6, 9.34, 3.15, 0.5, 0.78, (170, 70, 62)),
        (0.1, 9.26, 2.95, 0.9, 0.98, (216, 214, 220)),
        (1.2, 9.12, 3.2, 0.45, 0.72, (74, 106, 140)),
        (-1.2, 13.4, 3.5, 0.9, 0.95, (222, 206, 160)),
        (0.4, 13.35, 3.45, 1.1, 0.98, (228, 226, 220)),
    )
    for x, y, z, wide, high, colour in cloths:
        shapes.append(Quad((x, y, z), (wide, -0.04, 0), (0, 0, high), m.cloth(*colour)))
    for x, y in ((-1.75, 7.6), (-1.7, 9.6), (1.95, 4.3), (1.95, 6.4), (2.3, 11)):
        shapes.append(Post((x, y, 0), (x, y, 0.34), 0.13, 0.19, m.tiles()))
        shapes.append(Ball((x, y, 0.5), (0.26, 0.26, 0.24), m.grass().coloured(70, 96, 54, metres=1.0)))
    return shapes


SPOTS = (
    card_spot(CAMERA, *BOARD),
    Spot("shadow", 0.29, 0.7, 1.2),
    Spot("middle", 0.41, 0.7, 1.2),
    Spot("highlight", 0.53, 0.78, 1.2),
)
