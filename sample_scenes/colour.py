"""Colour of a light from its colour temperature, as linear sRGB with a luminance of 1."""

import numpy as np

LUMINANCE = np.array([0.2126, 0.7152, 0.0722], np.float32)  # sRGB/Rec.709 primaries, IEC 61966-2-1

_RGB_FROM_XYZ = np.array(  # IEC 61966-2-1
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)


def daylight_xy(kelvin: float) -> tuple[float, float]:
    """Chromaticity on the daylight locus, 4000 to 25000 K. Source: CIE 15 (coefficients from memory, tests compare)."""
    t = kelvin
    if t <= 7000:
        x = -4.6070e9 / t**3 + 2.9678e6 / t**2 + 0.09911e3 / t + 0.244063
    else:
        x = -2.0064e9 / t**3 + 1.9018e6 / t**2 + 0.24748e3 / t + 0.237040
    return x, -3.000 * x * x + 2.870 * x - 0.275


def lamp_xy(kelvin: float) -> tuple[float, float]:
    """Chromaticity of a black body, 1667 to 4000 K. Source: Kang et al. 2002, cubic fit (memory, tests compare)."""
    t = kelvin
    x = -0.2661239e9 / t**3 - 0.2343589e6 / t**2 + 0.8776956e3 / t + 0.179910
    if t <= 2222:
        return x, -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683
    return x, -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867


def light_colour(kelvin: float) -> np.ndarray:
    """Linear sRGB (3,) of a light of this temperature, scaled to luminance 1.

    From 4000 to 25000 K daylight, below that (down to 1667 K) a black body.
    A red lamp leaves the triangle of sRGB; what falls below 0 is cut to 0 before scaling.
    """
    x, y = daylight_xy(kelvin) if kelvin >= 4000 else lamp_xy(kelvin)
    rgb = np.maximum(_RGB_FROM_XYZ @ np.array([x / y, 1.0, (1 - x - y) / y]), 0)
    return (rgb / (rgb @ LUMINANCE)).astype(np.float32)


def luminance(rgb: np.ndarray) -> np.ndarray:
    """Luminance of (..., 3) linear sRGB; the last axis goes away."""
    return rgb @ LUMINANCE


def linear(*code: float) -> np.ndarray:
    """Linear sRGB (3,) of a reflectance written as three sRGB numbers from 0 to 255."""
    v = np.array(code, np.float64) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
