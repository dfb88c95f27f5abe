"""The bridge at night: lamps on an old stone bridge, lit windows, everything twice in the river."""

import numpy as np

from sample_scenes import materials as m
from sample_scenes import parts
from sample_scenes.board import board
from sample_scenes.colour import light_colour
from sample_scenes.daylight import direction, twilight_lux
from sample_scenes.scene import Camera, Lamp, Place, Spot
from sample_scenes.shapes import Carved, Quad, box
from sample_scenes.sky import Sky

SUN = -8.2  # altitude of the sun below the horizon, the last of the dusk [degrees]
FAR, NEAR = 21.0, 17.4  # the two faces of the bridge, y [m]


def build() -> Place:
    """The place, ready to render."""
    posts, lamps = street_lamps()
    return Place(
        name="bridge",
        title="The lamp-lit bridge at night",
        light="Street lamps of 1200 and 2600 lumens at 2400 to 2700 K, lit windows, dusk with the sun 8 degrees down.",
        shapes=[*banks(), *bridge(), *town(), *inn(), *posts, *parts.boat((-4.2, 10.2, -1.62), 78, 0, 4.6), *board((1.75, 1.5, 0), 172)],
        camera=Camera((0.5, -3.4, 1.66), (-0.7, 8.0, 1.95)),
        sky=Sky(5, direction(1, 20), max(twilight_lux(SUN), 0.12), 14000, 9000),
        lamps=lamps,
        floor=np.array([0.04, 0.05, 0.05], np.float32),
        volume=((-16, -3, 0.2), (18, 44, 10), (9, 11, 4)),
        spots=SPOTS,
    )


def banks() -> list:
    """The near quay, the river, the far quay."""
    return [
        box((-60, -20, -4), (60, 7.2, 0), m.cobbles()),
        box((-60, 7.2, -4), (60, 7.8, 0.08), m.ashlar()),
        Quad((-300, 7.8, -1.3), (600, 0, 0), (0, 60, 0), m.water()),
        box((-300, 40, -4), (300, 80, 0.4), m.ashlar()),
    ]


def bridge_form(p):
    """A hump-backed bridge along x with three arches; a bound of the distance."""
    x = p[0]
    crown = 2.3 - (x / 17.0) ** 2 * 2.2
    side = np.abs(p[1] - (NEAR + FAR) / 2) - (FAR - NEAR) / 2
    deck = np.maximum(p[2] - crown, side)
    parapet = np.maximum(np.maximum(p[2] - crown - 0.85, side), -side - 0.35)
    solid = np.minimum(deck, parapet)
    for middle, radius, centre in ((0.0, 3.7, -2.0), (-9.0, 2.9, -2.0), (9.0, 2.9, -2.0)):
        arch = radius - np.hypot(x - middle, p[2] - centre)
        solid = np.maximum(solid, arch)
    return solid * 0.9


def bridge() -> list:
    """The bridge and a string course on its face."""
    return [Carved((-17, NEAR - 0.1, -3), (17, FAR + 0.1, 3.4), bridge_form, m.ashlar(), steps=90, care=0.9)]


def town() -> list:
    """Houses on the far quay, some windows lit."""
    shapes = []
    rng = np.random.default_rng(4)
    x = -34.0
    walls = [m.plaster().coloured(*c) for c in ((200, 176, 132), (206, 200, 186), (176, 132, 112), (160, 168, 166))]
    k = 0
    while x < 34:
        wide, eaves = rng.uniform(6, 9), rng.uniform(5, 7.5)
        shapes += parts.house((x, 45, 0.4), (x + wide - 0.2, 54), eaves, rng.uniform(2, 3), walls[k % 4], m.tiles() if k % 2 else m.slates(),
                              "x" if k % 3 else "y", m.ashlar())  # fmt: skip
        for wx in np.arange(x + 1.3, x + wide - 1, 2.0):
            for z in (2.2, 4.6):
                lit = light_colour(rng.uniform(2200, 3000)) * rng.uniform(8, 34) if rng.random() < 0.38 else None
                shapes += parts.window((wx, 45, z), "-y", 0.9, 1.3, lit=lit)
        x += wide
        k += 1
    return shapes


def inn() -> list:
    """The inn on the near quay, its windows bright."""
    shapes = parts.house((-15, -1.0), (-4.6, 6.2), 5.6, 2.8, m.plaster().coloured(206, 178, 132), m.tiles(), "y", m.ashlar())
    warm = light_colour(2500)
    for y, z, wide, light in ((0.9, 1.65, 1.3, 58), (4.6, 1.65, 1.3, 46), (0.9, 4.3, 0.9, 0), (2.9, 4.3, 0.9, 18), (4.9, 4.3, 0.9, 0)):
        shapes += parts.window((-4.6, y, z), "+x", wide, 1.3, (3, 3), lit=warm * light if light else None)
    return shapes + parts.door((-4.6, 2.8, 0), "+x", material=m.paint(110, 48, 40))


def street_lamps() -> tuple[list, list[Lamp]]:
    """Lamps: two on the near quay, four on the bridge, three on the far quay."""
    shapes, lamps = [], []
    feet = [((4.6, 0.2, 0.0), 3.6, 2600, 2700), ((-2.6, 6.9, 0.0), 3.6, 1600, 2600)]
    for x in (-10.5, -3.6, 3.6, 10.5):
        feet.append(((x, NEAR + 0.18, 2.3 - (x / 17) ** 2 * 2.2 + 0.8), 1.9, 1200, 2400))
    feet += [((x, 41.2, 0.4), 3.6, 1200, 2500) for x in (-18, -3, 14)]
    for foot, height, lumens, kelvin in feet:
        more, lamp = parts.lantern(foot, height, lumens, kelvin)
        shapes += more
        lamps.append(lamp)
    return shapes, lamps


SPOTS = (
    Spot("card", 0.8, 0.67),
    Spot("shadow", 0.4, 0.42),
    Spot("middle", 0.45, 0.78),
    Spot("highlight", 0.56, 0.89),
)
