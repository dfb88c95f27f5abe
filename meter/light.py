"""Light as numbers: luminance, illuminance, exposure value, APEX; and a reading that says how far to trust it.

EV is a level at ISO 100 unless a name says otherwise; stops are a difference; plus means more light.
"""

from dataclasses import dataclass
from math import inf, isfinite, log2

from meter.errors import BadInput

K = 12.5  # reflected-light meter constant [cd·s/m²]; ISO 2720:1974 recommends 10.6 to 13.4 (secondary)
K_RANGE = (10.6, 14.0)  # 14 lies outside the recommendation and is in common use (secondary)
C = 250.0  # incident-light constant, flat receptor [lx·s]; ISO 2720:1974 permits 240 to 400 (secondary)
Q = 0.65  # image-plane exposure H = q·L·t/N² [unitless]; ISO 12232, by way of colour-hdri's dsc.py
SOS_EXPOSURE = 10.0  # H·S of the mid-tone in standard output sensitivity [lx·s]; ISO 12232 (memory)
MID_GREY = 0.18  # linear value of the mid-tone; 8-bit sRGB 118
EXIF_SENSITIVITY = 3.125  # APEX: Sv = log2(S/3.125), so that ISO 100 is Sv 5; Exif's N (secondary)

BOUNDS = ("exact", "at_least", "at_most")


@dataclass(frozen=True)
class Reading:
    """How bright a part of the scene is.

    ev100: exposure value at ISO 100 that places this part on Zone V. [EV]
    sigma: standard uncertainty. [stops]
    bound: "exact"; "at_least" where pixels were blown (the luminance is this or more); "at_most" where they were black.
    """

    ev100: float
    sigma: float
    bound: str = "exact"

    def __post_init__(self):
        if not (isfinite(self.ev100) and 0 <= self.sigma < inf and self.bound in BOUNDS):
            raise BadInput(f"a reading needs a finite EV, a sigma of 0 or more and a bound of {BOUNDS}; got {self}")

    def luminance(self, k: float = K) -> float:
        """The luminance that a meter of constant k reads as this EV. [cd/m²]"""
        return luminance_from_ev100(self.ev100, k)


def _positive(name: str, value: float) -> float:
    if not 0 < value < inf:
        raise BadInput(f"{name} must be above 0 and finite; got {value}")
    return value


def check_k(k: float) -> float:
    """Return k if it is a meter constant someone uses. Raises BadInput outside K_RANGE. [cd·s/m²]"""
    if not K_RANGE[0] <= k <= K_RANGE[1]:
        raise BadInput(f"the meter constant K must lie from {K_RANGE[0]} to {K_RANGE[1]} cd·s/m²; got {k}")
    return k


def exposure_value(f_number: float, time_s: float) -> float:
    """EV of a pair of settings, log2(N²/t). Raises BadInput unless both are above 0. [EV]

    >>> exposure_value(1.0, 1.0)
    0.0
    """
    return log2(_positive("the f-number", f_number) ** 2 / _positive("the exposure time", time_s))


def ev100_from_settings(f_number: float, time_s: float, iso: float) -> float:
    """The EV at ISO 100 for which these settings are the right ones, log2(N²/t · 100/S). [EV]

    >>> ev100_from_settings(16.0, 1 / 128, 100)
    15.0
    """
    return exposure_value(f_number, time_s) - log2(_positive("the ISO speed", iso) / 100)


def ev100_from_luminance(luminance: float, k: float = K) -> float:
    """The EV at ISO 100 that places a surface of this luminance on Zone V, log2(L·100/K).

    luminance: above 0 and finite. [cd/m²]
    k: meter constant; 14 gives 0.16 EV less. [cd·s/m²]
    Raises BadInput otherwise. Source: ISO 2720:1974 by way of secondary texts.

    >>> ev100_from_luminance(4096.0)
    15.0
    """
    return log2(_positive("the luminance", luminance) * 100 / _positive("the meter constant K", k))


def luminance_from_ev100(ev100: float, k: float = K) -> float:
    """Luminance of a surface metered at this EV, K·2^EV/100. Inverse of ev100_from_luminance. [cd/m²]

    >>> luminance_from_ev100(15.0)
    4096.0
    """
    return k * 2.0**ev100 / 100


def ev100_from_illuminance(illuminance: float, c: float = C) -> float:
    """The EV at ISO 100 of an incident reading, log2(E·100/C), flat receptor. [illuminance: lx]

    >>> ev100_from_illuminance(81920.0)
    15.0
    """
    return log2(_positive("the illuminance", illuminance) * 100 / _positive("the constant C", c))


def illuminance_from_ev100(ev100: float, c: float = C) -> float:
    """Illuminance of an incident reading at this EV, C·2^EV/100. [lx]"""
    return c * 2.0**ev100 / 100


def luminance_at_mid_grey(f_number: float, time_s: float, iso: float) -> float:
    """Luminance that a camera rated by standard output sensitivity renders as sRGB 118, (10/q)·N²/(t·S). [cd/m²]

    Against K = 12.5 this mid-tone is +0.30 EV: log2((10/0.65)/12.5).
    Source: ISO 12232 by way of colour-hdri's dsc.py (q) and memory (10/S).
    """
    return SOS_EXPOSURE / Q * 2.0 ** ev100_from_settings(f_number, time_s, iso) / 100


def f_number_from_apex(aperture_value: float) -> float:
    """N = 2^(Av/2). Source: Exif 2.3 annex C (secondary)."""
    return 2.0 ** (aperture_value / 2)


def time_from_apex(shutter_value: float) -> float:
    """t = 2^-Tv. Source: Exif 2.3 annex C (secondary). [s]"""
    return 2.0**-shutter_value


def brightness_value(f_number: float, time_s: float, iso: float) -> float:
    """APEX Bv that these settings imply, Av + Tv - Sv with Sv = log2(S/3.125). Source: Exif annex C (secondary).

    >>> brightness_value(1.0, 1.0, 100)
    -5.0
    """
    return exposure_value(f_number, time_s) - log2(_positive("the ISO speed", iso) / EXIF_SENSITIVITY)
