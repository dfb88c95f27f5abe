"""The bridge at night: lamps on an old stone bridge, an inn's bright windows, everything twice in the river."""

import numpy as np

from sample_scenes import materials as m
from sample_scenes import parts
from sample_scenes.board import board, card_spot
from sample_scenes.colour import light_colour
from sample_scenes.daylight import direction, twilight_lux
from sample_scenes.scene import Camera, Lamp, Place, Spot
from sample_scenes.shapes import Carved, Quad, box
from sample_scenes.sky import Sky

SUN = -8.2  # altitude of the sun below the horizon, the last of the dusk [degrees]
NEAR, FAR = 22.0, 25.6  # the two faces of the bridge, y [m]
MIDDLE = 4.0  # x of its crown [m]
WATER = -1.3
ARCHES = ((0.0, 3.7), (-9.0, 2.9), (9.0, 2.9))  # x from the crown, radius [m]
CAMERA = Camera((0.5, 2.2, 2.35), (-0.75, 10.0, 2.35))
BOARD = ((1.75, 6.5, 0), 170)


def build() -> Place:
    """The place, ready to render."""
    posts, lamps = street_lamps()
    boats = parts.boat((-4.6, 12.5, -1.42), 12, 0, 4.6, 1.7, 0.8, m.paint(190, 196, 190))
    boats += parts.boat((-6.2, 17.2, -1.42), 4, 0, 4.4, 1.7, 0.8, m.paint(60, 100, 120))
    return Place(
        name="bridge",
        title="The lamp-lit bridge at night",
        light="Street lamps of 1200 to 4000 lumens at 2400 to 2700 K, lit windows, dusk with the sun 8 degrees down.",
        shapes=[*banks(), *bridge(), *town(), *inn(), *posts, *boats, *board(*BOARD), *quay_things()],
        camera=CAMERA,
        sky=Sky(12, direction(2, 24), max(twilight_lux(SUN), 0.25), 25000, 9000, 4300),
        lamps=lamps,
        floor=np.array([0.04, 0.05, 0.05], np.float32),
        volume=((-16, -1, 0.2), (20, 48, 10), (9, 11, 4)),
        spots=SPOTS,
        rays=2,
    )


def banks() -> list:
    """The near quay with its arm on the left, the river, the far quay."""
    return [
        box((-60, -20, -4), (60, 7.2, 0), m.cobbles()),
        box((-60, 7.2, -4), (-8.6, 60, 0), m.cobbles()),
        box((-8.0, 7.2, -4), (60, 7.8, 0.08), m.ashlar()),
        box((-8.6, 7.2, -4), (-8.0, 60, 0.08), m.ashlar()),
        Quad((-300, 7.8, WATER), (600, 0, 0), (0, 60, 0), m.water()),
        box((-300, 46, -4), (300, 90, 0.4), m.ashlar()),
    ]


def crown_at(x):
    """Height of the bridge's deck at x. [m]"""
    return 2.3 - ((x - MIDDLE) / 17.0) ** 2 * 2.2


def bridge_form(p):
    """A hump-backed bridge along x with three arches and a parapet; a bound of the distance."""
    over = p[2] - crown_at(p[0])
    side = np.abs(p[1] - (NEAR + FAR) / 2) - (FAR - NEAR) / 2
    deck = np.maximum(over, side)
    parapet = np.maximum(np.maximum(over - 0.85, side), -side - 0.35)
    course = np.maximum(np.abs(over + 0.05) - 0.09, side - 0.10)
    solid = np.minimum(np.minimum(deck, parapet), course)
    for away, radius in ARCHES:
        r = np.hypot(p[0] - MIDDLE - away, p[2] + 2.0)
        ring = np.maximum(np.abs(r - radius - 0.2) - 0.2, side - 0.06)
        solid = np.minimum(np.maximum(solid, radius - r), ring)
    return solid * 0.9


def bridge() -> list:
    """The bridge and its cutwaters."""
    low, high = (MIDDLE - 17, NEAR - 0.2, -3), (MIDDLE + 17, FAR + 0.2, 3.4)
    shapes = [Carved(low, high, bridge_form, m.ashlar(), steps=90)]
    for x in (-4.9, 4.9):
        shapes.append(box((MIDDLE + x - 0.6, NEAR - 0.6, -3), (MIDDLE + x + 0.6, NEAR + 0.6, -0.2), m.ashlar(), 45))
    return shapes


def town() -> list:
    """Houses on the far quay and up the slope behind it, some windows lit."""
    shapes = []
    rng = np.random.default_rng(4)
    walls = [m.plaster().coloured(*c) for c in ((200, 176, 132), (206, 200, 186), (176, 132, 112), (160, 168, 166))]
    for row, (front, foot, start) in enumerate(((51, 0.4, -34.0), (64, 5.0, -37.5), (78, 10.0, -33.0))):
        x, k = start, row
        while x < 44:
            wide, eaves = rng.uniform(6, 9), foot + rng.uniform(5, 7)
            cover, ridge = m.tiles() if k % 2 else m.slates(), "x" if k % 3 else "y"
            low, high = (x, front, foot - 6), (x + wide - 0.3, front + 8)
            shapes += parts.house(low, high, eaves, rng.uniform(2, 3), walls[k % 4], cover, ridge)
            for wx in np.arange(x + 1.3, x + wide - 1, 2.0):
                for z in (foot + 1.8, foot + 4.1):
                    lit = light_colour(rng.uniform(2200, 3000)) * rng.uniform(8, 34) if rng.random() < 0.34 else None
                    if lit is not None or row == 0:
                        shapes += parts.window((wx, front, z), "-y", 0.9, 1.3, lit=lit)[:2]
            x += wide
            k += 1
    return shapes


def inn() -> list:
    """The inn on the left bank, its windows bright, and a neighbour that is asleep."""
    wall = m.plaster().coloured(188, 160, 118)
    shapes = parts.house((-19, 11.0), (-10.6, 18.8), 5.4, 2.8, wall, m.tiles(), "y", m.ashlar())
    shapes += parts.house((-19, 19.0), (-10.9, 27), 4.6, 2.6, m.rubble(), m.slates(), "y")
    warm = light_colour(2500)
    for y, z, wide, light in (
        (12.6, 1.65, 1.3, 60),
        (15.4, 1.65, 1.3, 46),
        (12.6, 4.1, 0.9, 0),
        (15.2, 4.1, 0.9, 16),
        (17.6, 4.1, 0.9, 0),
    ):
        shapes += parts.window((-10.6, y, z), "+x", wide, 1.4, (3, 3), lit=warm * light if light else None)
    for y, z, light in ((21.5, 1.6, 0), (24.5, 1.6, 9)):
        shapes += parts.window((-10.9, y, z), "+x", 0.9, 1.2, lit=warm * light if light else None)
    return shapes + parts.door((-10.6, 17.5, 0), "+x", material=m.paint(110, 48, 40))


def quay_things() -> list:
    """Bollards, a coil and casks on the near quay."""
    shapes = (
        parts.bollard((-2.4, 6.7, 0))
        + parts.bollard((3.9, 6.7, 0))
        + parts.barrel((-4.3, 6.0, 0))
        + parts.barrel((-4.9, 6.5, 0), 0.8, 0.27)
    )
    for k in range(4):
        shapes += parts.coil((-1.6, 6.3, 0.03 + 0.05 * k), 0.32 - 0.015 * k)
    return shapes + parts.sag((-2.4, 6.7, 0.4), (-3.9, 10.8, -0.8), 0.5, 0.018)


def street_lamps() -> tuple[list, list[Lamp]]:
    """Lamps: one by the board, one on the left bank, four on the bridge, three on the far quay."""
    feet = [((4.3, 4.4, 0.0), 3.6, 4000, 2700), ((-8.9, 10.2, 0.0), 3.4, 1800, 2600)]
    for away in (-11.5, -4.7, 4.7, 11.5):
        x = MIDDLE + away
        feet.append(((x, NEAR + 0.18, float(crown_at(x)) + 0.83), 1.9, 1200, 2400))
    feet += [((x, 46.8, 0.4), 3.6, 1200, 2500) for x in (-18, 0, 20)]
    shapes, lamps = [], []
    for foot, height, lumens, kelvin in feet:
        more, lamp = parts.lantern(foot, height, lumens, kelvin)
        shapes += more
        lamps.append(lamp)
    return shapes, lamps


SPOTS = (
    card_spot(CAMERA, *BOARD),
    Spot("shadow", 0.29, 0.385, 0.8),
    Spot("middle", 0.35, 0.54, 1.2),
    Spot("highlight", 0.05, 0.545, 1.2),
)
