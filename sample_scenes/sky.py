"""The sky: relative luminance by the CIE general sky, absolute luminance from the illuminance that it must give.

Source of the distribution: CIE S 011 / ISO 15469, table and formula by way of secondary texts.
Directions are arrays (3, ...) of unit vectors, z up.
"""

from dataclasses import dataclass, field

import numpy as np

from sample_scenes.colour import light_colour

TYPES = {  # a, b: gradation from zenith to horizon; c, d, e: scattering around the sun
    1: (4.0, -0.70, 0.0, -1.0, 0.0),
    2: (4.0, -0.70, 2.0, -1.5, 0.15),
    3: (1.1, -0.80, 0.0, -1.0, 0.0),
    4: (1.1, -0.80, 2.0, -1.5, 0.15),
    5: (0.0, -1.0, 0.0, -1.0, 0.0),
    6: (0.0, -1.0, 2.0, -1.5, 0.15),
    7: (0.0, -1.0, 5.0, -2.5, 0.30),
    8: (0.0, -1.0, 10.0, -3.0, 0.45),
    9: (-1.0, -0.55, 2.0, -1.5, 0.15),
    10: (-1.0, -0.55, 5.0, -2.5, 0.30),
    11: (-1.0, -0.55, 10.0, -3.0, 0.45),
    12: (-1.0, -0.32, 10.0, -3.0, 0.45),
    13: (-1.0, -0.32, 16.0, -3.0, 0.30),
    14: (-1.0, -0.15, 16.0, -3.0, 0.30),
    15: (-1.0, -0.15, 24.0, -2.8, 0.15),
}
_LOWEST = 0.01  # sine of the altitude below which the sky is taken as at that altitude: exp(b / sin) ends there


def gradation(kind: int, sine: np.ndarray) -> np.ndarray:
    """phi: luminance by altitude, from the sine of the altitude (0 to 1)."""
    a, b, *_ = TYPES[kind]
    return 1 + a * np.exp(b / np.maximum(sine, _LOWEST))


def indicatrix(kind: int, cosine: np.ndarray) -> np.ndarray:
    """f: luminance by angular distance from the sun, from that angle's cosine."""
    *_, c, d, e = TYPES[kind]
    chi = np.arccos(np.clip(cosine, -1, 1))
    return 1 + c * (np.exp(d * chi) - np.exp(d * np.pi / 2)) + e * cosine * cosine


def relative_luminance(kind: int, directions: np.ndarray, sun: np.ndarray) -> np.ndarray:
    """Luminance in units of the zenith's; directions (3, ...) at or above the horizon, sun (3,)."""
    zenith = gradation(kind, np.float32(1)) * indicatrix(kind, np.float32(sun[2]))
    cosine = np.tensordot(sun, directions, axes=1)
    return gradation(kind, directions[2]) * indicatrix(kind, cosine) / zenith


def upper_half(rings: int = 90) -> tuple[np.ndarray, float]:
    """Directions (3, N) of equal solid angle over the upper half, and that solid angle. [sr]"""
    sine = (np.arange(rings) + 0.5) / rings
    turn = (np.arange(4 * rings) + 0.5) / (4 * rings) * 2 * np.pi
    sine, turn = (m.ravel() for m in np.meshgrid(sine, turn, indexing="ij"))
    flat = np.sqrt(1 - sine * sine)
    return np.stack([flat * np.sin(turn), flat * np.cos(turn), sine]).astype(np.float32), 2 * np.pi / sine.size


@dataclass(frozen=True)
class Sky:
    """A sky that gives level ground `lux` of illuminance, in colours that run from zenith to horizon.

    kind: CIE type 1 to 15; sun: unit vector (3,); lux: by the sky alone; temperatures: colour overhead, at the
    horizon, and near the sun [K]; clouds: an optional function of (directions, light), see clouds.py.
    """

    kind: int
    sun: np.ndarray
    lux: float
    zenith_kelvin: float = 6500
    horizon_kelvin: float = 6500
    solar_kelvin: float | None = None
    clouds: object = None
    zenith_luminance: float = field(init=False)

    def __post_init__(self):
        directions, step = upper_half()
        relative = relative_luminance(self.kind, directions, self.sun)
        object.__setattr__(self, "zenith_luminance", self.lux / float((relative * directions[2]).sum() * step))

    def luminance(self, directions: np.ndarray) -> np.ndarray:
        """Luminance of the smooth model [cd/m2]; below the horizon the horizon's value goes on."""
        up = np.stack([directions[0], directions[1], np.maximum(directions[2], 0)])
        return self.zenith_luminance * relative_luminance(self.kind, up, self.sun)

    def rgb(self, directions: np.ndarray) -> np.ndarray:
        """Light (3, N) of the smooth model, linear sRGB in cd/m2."""
        height = np.clip(directions[2], 0, 1) ** 0.6
        overhead, level = light_colour(self.zenith_kelvin), light_colour(self.horizon_kelvin)
        colour = level[:, None] * (1 - height) + overhead[:, None] * height
        if self.solar_kelvin:
            near = np.exp((np.tensordot(self.sun, directions, axes=1) - 1) * 6)
            colour = colour * (1 - near) + light_colour(self.solar_kelvin)[:, None] * near
        return (colour * self.luminance(directions)).astype(np.float32)

    def seen(self, directions: np.ndarray) -> np.ndarray:
        """As `rgb`, with the clouds: what the eye sees, not what the ground is lit by."""
        light = self.rgb(directions)
        return light if self.clouds is None else self.clouds(directions, light)
