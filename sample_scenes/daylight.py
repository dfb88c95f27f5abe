"""How much light the sun and the sky give, from the sun's altitude alone. Illuminance in lux, altitudes in degrees.

Sun: the IES daylight model (a secondary restatement gave its constants); sky terms of the same model (from memory).
Twilight and the check on both: the polynomial fit of the Explanatory Supplement (recalled, continuous, 3.41 lx at -6).
All are averages over days: a real day may have half or twice as much.
"""

from math import cos, exp, radians, sin

import numpy as np

from sample_scenes.colour import light_colour

EXTRATERRESTRIAL_LUX = 127_500.0  # IES daylight model
EXTINCTION = {"clear": 0.21, "partly": 0.80}  # optical depth of one air mass, IES daylight model
SUN_RADIUS = radians(0.2665)  # half of the sun's mean apparent diameter

_SKY_KLX = {  # a + b * sin(altitude) ** power
    "clear": (0.8, 15.5, 0.5),
    "partly": (0.3, 45.0, 1.0),
    "overcast": (0.3, 21.0, 1.0),
}
_TWILIGHT = (  # lowest altitude of the segment, then the coefficients of log10(lux) in altitude / 90
    (20, (3.74, 3.97, -4.07, 1.47)),
    (5, (3.05, 13.28, -45.98, 64.33)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
    (-5, (2.88, 21.81, -258.11, -858.36)),
    (-12, (2.70, 12.17, -431.69, -1899.83)),
    (-18, (13.84, 262.72, 1447.42, 2797.93)),
)


def sun_normal_lux(altitude: float, sky: str = "clear") -> float:
    """Illuminance by the sun alone on a surface that faces it; 0 under an overcast sky or below the horizon. [lx]

    For the sun's mean distance; over the year it is 3.4 % more or less. The air mass is 1 / sin(altitude), which is
    too large below about 10 degrees, where the earth's curve shows.
    """
    if altitude <= 0 or sky == "overcast":
        return 0.0
    return EXTRATERRESTRIAL_LUX * exp(-EXTINCTION[sky] / sin(radians(altitude)))


def sky_horizontal_lux(altitude: float, sky: str = "clear") -> float:
    """Illuminance by the sky alone on level ground, sun at or above the horizon. [lx]"""
    a, b, power = _SKY_KLX[sky]
    return 1000 * (a + b * sin(radians(max(altitude, 0.0))) ** power)


def horizontal_lux(altitude: float, sky: str = "clear") -> float:
    """Illuminance by sun and sky together on level ground. [lx]

    >>> round(horizontal_lux(40), -3)
    72000.0
    """
    return sun_normal_lux(altitude, sky) * sin(radians(altitude)) + sky_horizontal_lux(altitude, sky)


def twilight_lux(altitude: float) -> float:
    """Illuminance on level ground by the polynomial fit, -18 to 90 degrees; below that the fit ends. [lx]"""
    x = altitude / 90
    for lowest, (c0, c1, c2, c3) in _TWILIGHT:
        if altitude >= lowest:
            return 10 ** (c0 + c1 * x + c2 * x * x + c3 * x**3)
    raise ValueError(f"the twilight fit starts at -18 degrees; got {altitude}")


def sun_colour(altitude: float) -> np.ndarray:
    """Linear sRGB (3,) of sunlight, luminance 1: about 5500 K when high, 2300 K at the horizon (common practice)."""
    return light_colour(2300 + 3250 * (1 - exp(-max(altitude, 0.0) / 14)))


def direction(altitude: float, azimuth: float) -> np.ndarray:
    """Unit vector (3,) towards the sun; azimuth from the +y axis towards +x. [degrees]"""
    h, a = radians(altitude), radians(azimuth)
    return np.array([cos(h) * sin(a), cos(h) * cos(a), sin(h)], np.float32)
