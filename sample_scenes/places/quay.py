"""The sunlit quay: a morning in early summer, houses above the harbour wall, deep shade under the arcade."""

import numpy as np

from sample_scenes import clouds, parts
from sample_scenes import materials as m
from sample_scenes.board import board, card_spot
from sample_scenes.daylight import direction, sky_horizontal_lux, sun_colour, sun_normal_lux
from sample_scenes.scene import Camera, Place, Spot, Sun
from sample_scenes.shapes import Ball, Post, Quad, beam, box
from sample_scenes.sky import Sky
from sample_scenes.terrain import Ground, Relief
from sample_scenes.textures import noise, smooth

ALTITUDE, AZIMUTH = 42, 128  # behind the camera's right shoulder; +y is ahead, +x is the water
BOARD = ((0.75, 4.9, 0.0), 168)
WATER = -1.4
CAMERA = Camera((0.5, 0.0, 1.66), (0.62, 10.0, 2.0))


def build() -> Place:
    """The place, ready to render."""
    sun = direction(ALTITUDE, AZIMUTH)
    lux = sun_colour(ALTITUDE) * np.float32(sun_normal_lux(ALTITUDE))
    cover = clouds.fair(21, lux * 0.62 / np.pi, 0.42)
    return Place(
        name="quay",
        title="The quay on a clear morning",
        light="Sun 42 degrees high behind the camera's right shoulder, clear sky (CIE type 12), no lamps.",
        shapes=[*ground(), *arcade(), *houses(), *harbour(), *fleet(), *clutter(), *gulls(), *board(*BOARD)],
        camera=CAMERA,
        sky=Sky(12, sun, sky_horizontal_lux(ALTITUDE), 25000, 8500, 5800, clouds=cover),
        sun=Sun(sun, lux),
        air=1 / 9000,
        floor=np.array([0.05, 0.07, 0.06], np.float32),
        volume=((-8, -4, 0.2), (14, 60, 12), (9, 16, 5)),
        spots=SPOTS,
    )


def ground() -> list:
    """The quay's paving, its edge of long stones, the wall down to the water, and the water."""
    return [
        box((-30, -30, -3), (2.6, 40, 0), m.cobbles()),
        box((2.6, -30, -3), (3.3, 40, 0.06), m.ashlar()),
        Quad((-900, -60, WATER), (1800, 0, 0), (0, 1500, 0), m.water()),
    ]


def arcade() -> list:
    """The near house: piers and beams of stone, a back wall in deep shade, casks and nets inside."""
    wall = m.plaster().coloured(226, 206, 158)
    shapes = [
        box((-9, 4.4, 3.0), (-3.4, 14, 6.6), wall),
        box((-9, 4.4, 0), (-8, 14, 3.0), m.plaster().coloured(190, 176, 150)),
    ]
    shapes.append(box((-9, 13.8, 0), (-3.4, 14, 3.0), wall))
    for y in (4.4, 7.4, 10.4, 13.4):
        shapes.append(box((-4.0, y, 0), (-3.4, y + 0.6, 3.0), m.ashlar()))
        shapes.append(box((-4.06, y - 0.06, 2.35), (-3.34, y + 0.66, 2.6), m.ashlar()))
        shapes.append(box((-4.05, y - 0.05, 0), (-3.35, y + 0.65, 0.35), m.ashlar()))
        shapes.append(beam((-8.2, y + 0.3, 2.85), (-3.9, y + 0.3, 2.85), 0.22, 0.28, m.wood()))
    shapes.append(box((-4.06, 4.35, 2.7), (-3.34, 14.05, 3.05), m.ashlar()))
    shapes.append(parts.roof((-9.3, 4.2, 6.45), (-3.0, 14.2), 2.4, m.tiles(), "y"))
    for y in (6.2, 9.2, 12.2):
        shapes += parts.window((-3.4, y, 4.8), "+x", shutters=m.paint(70, 104, 126))
        shapes += flower_box((-3.4, y, 4.02))
    shapes += parts.door((-8.0, 9.2, 0), "+x", material=m.paint(92, 56, 44))
    shapes += parts.barrel((-6.9, 6.4, 0)) + parts.barrel((-6.4, 7.0, 0), 0.8, 0.28)
    shapes += parts.crate((-7.0, 11.8, 0), (0.8, 0.6, 0.5)) + parts.crate((-6.9, 11.8, 0.5), (0.8, 0.6, 0.5), 9)
    return shapes


def flower_box(at) -> list:
    """A box of red and white flowers under a window."""
    x, y, z = at
    shapes = [box((x, y - 0.45, z - 0.1), (x + 0.22, y + 0.45, z + 0.08), m.wood())]
    rng = np.random.default_rng(int(y * 10))
    for k in range(6):
        colour = (186, 52, 58) if rng.random() < 0.6 else (84, 116, 64)
        c = (x + 0.13, y - 0.38 + 0.15 * k, z + 0.15)
        shapes.append(Ball(c, rng.uniform(0.09, 0.14), m.grass().coloured(*colour, metres=0.8)))
    return shapes


def houses() -> list:
    """Three more houses in a row, the second with an awning."""
    ochre, rose, white = (m.plaster().coloured(*c) for c in ((216, 184, 122), (206, 150, 126), (228, 224, 214)))
    shapes = parts.house((-12, 14.2), (-4.2, 21), 6.4, 2.6, rose, m.tiles(), "y", m.ashlar())
    shapes += parts.house((-12, 21.2), (-4.6, 28), 5.2, 3.0, white, m.slates(), "x", m.ashlar())
    shapes += parts.house((-12, 28.4), (-3.8, 36), 7.2, 2.6, ochre, m.tiles(), "y", m.ashlar())
    blue, green = m.paint(70, 104, 126), m.paint(72, 104, 80)
    for y in (15.8, 19.2):
        shapes += parts.window((-4.2, y, 4.9), "+x", shutters=green)
    shapes += parts.window((-4.2, 16.2, 1.7), "+x", 1.6, 1.5, (4, 3)) + parts.door((-4.2, 19.2, 0), "+x")
    shapes.append(Quad((-4.2, 14.8, 3.1), (0, 3.0, 0), (1.5, 0, -0.75), m.striped()))
    for y in (23, 26):
        shapes += parts.window((-4.6, y, 3.9), "+x", 0.8, 1.1, shutters=blue)
    shapes += parts.door((-4.6, 24.5, 0), "+x", material=m.paint(70, 104, 126))
    for y in (30, 32.4, 34.6):
        for z in (2.0, 5.2):
            shapes += parts.window((-3.8, y, z), "+x", 0.85, 1.25)
    return shapes


def harbour() -> list:
    """The mole with its light, the far shore with its houses, hills."""
    n, cell = 512, 6.0
    x, y = (np.arange(n) - 200) * cell, np.arange(n) * cell + 40
    off = np.abs(x[None, :] - 240) / 700
    rise = smooth(230, 1000, y)[:, None] * (0.45 + smooth(0.05, 1.0, off))
    hills = -6 + (noise(n, 401, 2.3, 2, 80) * 60 + 150) * rise + noise(n, 402, 1.6, 16) * 5 * rise
    shore = Ground([Relief(hills, (x[0], y[0]), cell)], (x[0], 150), (x[-1], y[-1]), m.hillside(), steps=70, finest=0.5)
    shapes = [shore, box((16, 66, -3), (150, 70, 0.8), m.ashlar()), box((16, 69, 0.8), (150, 70, 1.7), m.ashlar())]
    white = m.paint(232, 230, 222)
    shapes += [
        Post((19, 68, 0.8), (19, 68, 8.2), 1.15, 0.8, white),
        Post((19, 68, 4.2), (19, 68, 6.0), 0.99, 0.91, m.paint(168, 52, 44)),
    ]
    shapes += [
        Post((19, 68, 8.2), (19, 68, 8.45), 1.1, 1.1, m.iron()),
        Post((19, 68, 8.45), (19, 68, 9.7), 0.5, 0.5, m.glass()),
    ]
    shapes.append(Post((19, 68, 9.7), (19, 68, 10.6), 0.72, 0.05, m.paint(168, 52, 44)))
    rng = np.random.default_rng(31)
    walls = [m.plaster().coloured(*c) for c in ((222, 212, 190), (214, 190, 150), (198, 160, 140), (230, 228, 220))]
    for k in range(26):
        hx, hy = rng.uniform(-30, 130), rng.uniform(252, 330)
        z = max(float(shore.height(hx, hy)[0]), 0.2) - 1
        wide, tall = rng.uniform(7, 12), z + rng.uniform(5, 8)
        shapes += parts.house(
            (hx, hy, z - 3),
            (hx + wide, hy + 8),
            tall,
            3,
            walls[k % 4],
            m.tiles() if k % 3 else m.slates(),
            "x",
            chimney=False,
        )
    return shapes


def fleet() -> list:
    """Boats at their moorings."""
    shapes = parts.boat((5.4, 9.6, -1.54), 8, 3, 5.0, 1.9, 0.9, m.paint(210, 212, 206))
    shapes += parts.mast((5.4, 10.2, -1.2), 6.2, boom=2.2, yaw=8)
    shapes += parts.sag((4.9, 7.4, -0.8), (2.2, 7.5, 0.4), 0.35, 0.018)
    shapes += parts.boat((4.9, 16.2, -1.52), -6, -2, 4.4, 1.7, 0.8, m.paint(48, 96, 126))
    shapes += parts.boat((8.6, 18.5, -1.52), 20, 0, 4.2, 1.6, 0.8, m.paint(176, 62, 50))
    for x, y, h, colour in (
        (11, 27, 8.4, (226, 226, 220)),
        (7.2, 34, 9.0, (60, 110, 96)),
        (15, 40, 8.0, (214, 168, 74)),
    ):
        shapes += parts.boat((x, y, -1.62), 15, 0, 7.5, 2.5, 1.25, m.paint(*colour))
        shapes += parts.mast((x, y + 0.8, -1.2), h, 0.09, boom=3.0, yaw=15, furled=m.cloth(176, 92, 62))
        shapes.append(box((x - 0.7, y - 2.6, -0.9), (x + 0.7, y - 1.0, 0.75), m.paint(236, 234, 226), 15))
    return shapes


def clutter() -> list:
    """What lies about on a quay."""
    shapes = []
    for y in (7.5, 15.0, 23.0, 31.0):
        shapes += parts.bollard((2.2, y, 0))
    shapes += (
        parts.crate((-2.3, 9.0, 0), yaw=8)
        + parts.crate((-2.25, 9.0, 0.46), yaw=24)
        + parts.crate((-2.2, 9.9, 0), yaw=-6)
    )
    shapes += parts.barrel((-2.9, 12.2, 0)) + parts.barrel((-2.3, 12.7, 0), 0.8, 0.27)
    shapes += [
        Ball((-1.5, 7.1, 0.0), (0.75, 0.5, 0.34), m.netting()),
        Ball((-0.9, 7.4, 0.0), (0.45, 0.4, 0.22), m.netting()),
    ]
    for k in range(4):
        shapes += parts.coil((1.55, 6.6, 0.03 + 0.05 * k), 0.34 - 0.015 * k)
    for k, (x, y) in enumerate(((-1.25, 6.85), (-0.75, 7.2), (-1.7, 6.6))):
        shapes.append(Ball((x, y, 0.3 - 0.05 * k), 0.11, m.paint(214, 110, 48)))
    return shapes


def gulls() -> list:
    """Gulls over the water and one on a bollard."""
    at = (
        ((4.5, 14, 4.6), 50, 20),
        ((7.5, 20, 7.2), 80, -15),
        ((2.6, 24, 8.0), 200, 10),
        ((9.8, 17, 4.4), 20, 25),
        ((6, 30, 6), 120, 5),
    )
    return [shape for where, yaw, roll in at for shape in parts.gull(where, yaw, roll)]


SPOTS = (
    card_spot(CAMERA, *BOARD),
    Spot("shadow", 0.17, 0.46, 1.2),
    Spot("middle", 0.3, 0.7, 1.5),
    Spot("highlight", 0.11, 0.3, 1.2),
)
