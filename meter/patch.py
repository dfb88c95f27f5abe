"""A part of a light map as plain numbers, and the reading that it makes."""

from dataclasses import dataclass
from math import hypot, log2

from meter.light import K, Reading, ev100_from_luminance

BLOWN_SHARE = 0.05  # of a patch's light: from here on its luminance is "at least" (twice that light adds 0.07 stop)
BLACK_SHARE = 0.5  # of a patch: from here on its luminance is "at most"
GLARE_SHARE = 0.02  # veiling glare as a share of the frame's mean luminance: 2-5 % recalled of phones (memory)
OVER_CLIP = 16.0  # what is blown counts this many times its clipping level in that mean (tuned on simulated cameras)
LEAST_LUMINANCE = 1e-6  # darker than any night; keeps log2 finite [cd/m²]


@dataclass(frozen=True)
class Patch:
    """A part of a light map as numbers.

    luminance: mean. [cd/m²] sigma: of the response there, sampling noise apart. noise: of the mean itself. [stops]
    blown: share of its light that comes from blown pixels. black: share of its pixels that are black. [0-1]
    """

    luminance: float
    sigma: float
    noise: float = 0.0
    blown: float = 0.0
    black: float = 0.0


@dataclass(frozen=True)
class Spot:
    """A patch with a place. x, y: fractions of the upright picture. degrees: angular diameter.

    wanted_zone: where it is placed by the user, None for one that falls where it falls. label: what it is, or "".
    """

    x: float
    y: float
    degrees: float
    patch: Patch
    wanted_zone: float | None = None
    label: str = ""


@dataclass(frozen=True)
class SpotReading:
    """A spot as metered: where it is, how bright, on which zone; placed where the exposure was set by it."""

    x: float
    y: float
    degrees: float
    reading: Reading
    zone: float
    placed: bool
    label: str = ""


def glare_stops(patch: Patch, frame: Patch) -> float:
    """How much too bright a patch may read for the light that the rest of the frame scatters over it. [stops]"""
    veil = GLARE_SHARE * frame.luminance * (1 + (OVER_CLIP - 1) * frame.blown)
    return log2(1 + veil / max(patch.luminance, LEAST_LUMINANCE))


def reading_of(patch: Patch, frame: Patch, k: float = K) -> Reading:
    """EV of a patch, with its sigma made whole: response, sampling noise, and glare from the rest of the frame."""
    luminance = max(patch.luminance, LEAST_LUMINANCE)
    bound = "at_least" if patch.blown >= BLOWN_SHARE else "at_most" if patch.black >= BLACK_SHARE else "exact"
    glare = 0.0 if bound == "at_most" else glare_stops(patch, frame)  # a veil only puts the truth further below
    sigma = hypot(patch.sigma, patch.noise, glare)
    return Reading(ev100_from_luminance(luminance, k), sigma, bound)
