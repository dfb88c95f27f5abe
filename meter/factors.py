"""What stands in the light's way, in stops: filters by factor or density, close-ups by magnification.

Plus means more exposure needed. Stacked filters multiply their factors, so their stops add.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite, log2, log10

from meter.errors import BadInput
from meter.plain import plain_number

LIGHTS = ("daylight", "tungsten")


@dataclass(frozen=True)
class Filter:
    """One filter and what it costs. daylight_stops, tungsten_stops: more exposure needed; None where not known.

    For a film that has figures of its own those replace the general ones; factors depend on the film's sensitivity.
    """

    slug: str
    name: str
    daylight_stops: float | None
    tungsten_stops: float | None
    source: str
    evidence: str
    note: str = ""
    also: tuple[str, ...] = ()

    def stops(self, light: str = "daylight") -> float:
        """What the filter costs in this light. Raises BadInput for an unknown light or a missing figure. [stops]"""
        if light not in LIGHTS:
            raise BadInput(f"light '{light}' is not known; it is {' or '.join(LIGHTS)}")
        cost = self.daylight_stops if light == "daylight" else self.tungsten_stops
        if cost is None:
            raise BadInput(f"filter {self.slug} has no figure for {light}: measure it, or give the other light")
        return cost


def _in_range(name: str, value: float, low: float, high: float) -> float:
    if not low <= value < high:
        raise BadInput(f"{name} must be {low:g} or more{'' if high == inf else f' and below {high:g}'}; got {value}")
    return value


def read_stops(written: float | str) -> float:
    """Stops as data files and people write them: 0.5, "1/3", "1 2/3". Raises BadInput. [stops]

    >>> round(read_stops("1 2/3"), 3), read_stops(2)
    (1.667, 2.0)
    """
    try:
        stops = sum(plain_number(part) for part in written.split()) if isinstance(written, str) else float(written)
    except (ValueError, TypeError, ArithmeticError):
        stops = inf
    if not isfinite(stops) or written == "" or isinstance(written, bool):
        raise BadInput(f"'{written}' is not a number of stops: write 0.5, 1/3 or 1 2/3")
    return stops


def stops_from_factor(factor: float) -> float:
    """log2 of a filter or bellows factor. Raises BadInput below 1. [stops]

    >>> stops_from_factor(8)
    3.0
    """
    return log2(_in_range("a factor", factor, 1, inf))


def factor_from_stops(stops: float) -> float:
    """2^stops, how many times the exposure. Raises BadInput below 0.

    >>> factor_from_stops(2)
    4.0
    """
    return 2.0 ** _in_range("stops of a factor", stops, 0, 100)


def neutral_density_stops(density: float) -> float:
    """Stops of a neutral density, D / log10(2): transmission is 10^-D. Raises BadInput below 0. [stops]

    >>> round(neutral_density_stops(0.3), 3), round(neutral_density_stops(3.0), 2)
    (0.997, 9.97)
    """
    return _in_range("a density", density, 0, 20) / log10(2)


def close_up_stops(magnification: float, pupil_ratio: float = 1.0) -> float:
    """What focusing close costs, 2·log2(1 + m/P). Raises BadInput for m below 0 or P not above 0. [stops]

    magnification: size on film / size of the subject; under 0.05 it is below 0.14 stop.
    pupil_ratio: exit pupil / entrance pupil, 1 for a symmetrical lens. [unitless]
    Source: factor (1+m)² a dealer's page of questions (secondary); the pupil ratio from memory.

    >>> close_up_stops(1.0)
    2.0
    """
    if not 0.05 <= pupil_ratio <= 20:
        raise BadInput(f"a pupil ratio must lie from 0.05 to 20; got {pupil_ratio}")
    return 2 * log2(1 + _in_range("a magnification", magnification, 0, 1000) / pupil_ratio)


def magnification_from_extension(extension_mm: float, focal_mm: float) -> float:
    """Magnification of a lens moved this far out from its infinity focus, extension/f. Raises BadInput. [unitless]

    Thin lens: image distance v = f·(1+m).

    >>> magnification_from_extension(45, 90)
    0.5
    """
    if not 0 < focal_mm < inf:
        raise BadInput(f"a focal length must be above 0 mm and finite; got {focal_mm}")
    return _in_range("an extension in mm", extension_mm, 0, inf) / focal_mm


def stacked_stops(filters: Iterable[Filter], light: str = "daylight") -> float:
    """What filters cost together, the sum of their stops. Raises BadInput where one has no figure. [stops]"""
    return sum((one.stops(light) for one in filters), 0.0)
