"""Code value -> luminance: a response as tables of 256 numbers, and a phone's profile as a type.

A pixel becomes light by looking up three numbers and adding them, L = R[r] + G[g] + B[b]; calibration only changes the
tables. How sure that is stands in a fourth table, looked up by the encoded luma (54 r + 183 g + 19 b) / 256.
"""

from dataclasses import dataclass
from math import hypot

from meter.falloff import Falloff
from meter.light import MID_GREY

CODES = 256
RATING_SIGMA = 0.25  # a phone's ISO is its maker's own choice (REI), ISO 12232; ±0.4 among the simulated ones [stops]
MID_CODE = 118  # the 8-bit sRGB code of 18 % grey; ISO 12232 standard output sensitivity (memory)
LUMA_256THS = (54, 183, 19)  # encoded luma by which a sigma is looked up: sRGB's weights in 256ths

LUMINANCE_WEIGHTS = {  # luminance of linear R, G, B of 1 [unitless]; colour-science 0.4.7
    "srgb": (0.2126, 0.7152, 0.0722),
    "display-p3": (0.228975, 0.691739, 0.079287),
    "adobe-rgb": (0.29734, 0.62736, 0.07529),
}


def srgb_to_linear(encoded: float) -> float:
    """Decode one sRGB value. Both from 0 to 1. Source: IEC 61966-2-1, as in colour-science 0.4.7.

    >>> round(srgb_to_linear(118 / 255), 5)
    0.18116
    """
    return encoded / 12.92 if encoded <= 0.04045 else ((encoded + 0.055) / 1.055) ** 2.4


@dataclass(frozen=True)
class Response:
    """What the codes of one camera stand for.

    red, green, blue: 256 linear values each, rising; scaled so that a grey of code 118 has what sRGB decoding gives
    (0.181), which stands for the mid-tone. [unitless]
    sigma: 256 standard uncertainties of log2 luminance by encoded luma, of the response alone. [stops]
    """

    red: tuple[float, ...]
    green: tuple[float, ...]
    blue: tuple[float, ...]
    sigma: tuple[float, ...]


@dataclass(frozen=True)
class Profile:
    """What calibration knows of one phone camera.

    make, model: as its EXIF writes them. focal_35mm: which of its lenses, None for any. [mm]
    offset_stops: added to every EV. offset_sigma: how sure that is. [stops]
    falloff: what the corners lose, None where not measured.
    """

    name: str
    make: str
    model: str
    response: Response
    focal_35mm: float | None = None
    offset_stops: float = 0.0
    offset_sigma: float = RATING_SIGMA
    falloff: Falloff | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tables:
    """A response made absolute for one snapshot: luminance by code, and its sigma by encoded luma. [cd/m², stops]"""

    red: tuple[float, ...]
    green: tuple[float, ...]
    blue: tuple[float, ...]
    sigma: tuple[float, ...]


def tables_for(
    response: Response,
    mid_grey_luminance: float,
    weights: tuple[float, float, float],
    offset_stops: float = 0.0,
    common_sigma: float = 0.0,
) -> Tables:
    """The tables of one snapshot.

    mid_grey_luminance: what the snapshot's settings put on linear value 0.18. [cd/m²]
    weights: luminance of linear R, G, B, a value of LUMINANCE_WEIGHTS.
    common_sigma: uncertainty of the scale as a whole (EXIF, ISO rating), added in quadrature to every code. [stops]
    """
    scale = mid_grey_luminance / MID_GREY * 2.0**offset_stops
    red, green, blue = (
        tuple(weight * scale * value for value in channel)
        for weight, channel in zip(weights, (response.red, response.green, response.blue), strict=True)
    )
    return Tables(red, green, blue, tuple(hypot(sigma, common_sigma) for sigma in response.sigma))


def ramp(knots: tuple[tuple[float, float], ...]) -> tuple[float, ...]:
    """256 values by straight lines between (code, value) knots, flat outside them."""
    values = []
    for code in range(CODES):
        below = max((k for k in knots if k[0] <= code), default=knots[0])
        above = min((k for k in knots if k[0] >= code), default=knots[-1])
        span = above[0] - below[0]
        values.append(below[1] if span == 0 else below[1] + (above[1] - below[1]) * (code - below[0]) / span)
    return tuple(values)


_SRGB = tuple(srgb_to_linear(code / 255) for code in range(CODES))
DEFAULT_SIGMA_KNOTS = (  # (code, stops): how far phones stray from sRGB decoding. Tuned by the interval score (Gneiting
    # & Raftery 2007) on the simulated training cameras, whose spread covers what was measured on real phones.
    (0, 0.9), (15, 0.8), (30, 0.66), (60, 0.58), (100, 0.27), (150, 0.25), (190, 0.35), (255, 0.5),
)  # fmt: skip
DEFAULT_RESPONSE = Response(_SRGB, _SRGB, _SRGB, ramp(DEFAULT_SIGMA_KNOTS))
