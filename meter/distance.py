"""Distances as people write them and as a focus scale shows them: metres or feet, infinity, and between two marks."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite

from meter.camera import Lens
from meter.errors import BadInput

FOOT_M = 0.3048  # exact, international foot of 1959 [m]
_UNITS_M = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "'": FOOT_M, "feet": FOOT_M, "in": FOOT_M / 12}
_INFINITE = {"inf", "infinity", "∞"}
_WRITTEN = re.compile(r"(\d+(?:[.,]\d+)?|\.\d+)\s*([a-z']*)")
_FAR_ENOUGH_M = 1e6  # anything beyond is a slip of the finger, not a subject [m]

_PARTS = (  # how far along, and how to say it; thirds and quarters come before fifths and tenths on purpose
    (0.0, ""), (0.1, "a tenth"), (0.2, "a fifth"), (0.25, "a quarter"), (1 / 3, "a third"), (0.4, "two fifths"),
    (0.5, "half"), (0.6, "three fifths"), (2 / 3, "two thirds"), (0.75, "three quarters"), (0.8, "four fifths"),
    (0.9, "nine tenths"), (1.0, ""),
)  # fmt: skip


@dataclass(frozen=True)
class ScalePlace:
    """Where the focus stands between two engraved distances, both in `unit` ("m" or "ft"); above may be inf.

    fraction: 0 at below to 1 at above, along the scale as it turns, which is reciprocal in the distance.
    """

    below: float
    above: float
    fraction: float
    unit: str

    def __str__(self) -> str:
        value, words = min(_PARTS, key=lambda part: abs(part[0] - self.fraction))
        if not words:
            return f"on {scale_mark_text(self.below if value == 0 else self.above)}{self._unit(value == 1)}"
        way = "half way" if words == "half" else f"{words} of the way"
        return f"{way} from {scale_mark_text(self.below)} to {scale_mark_text(self.above)}{self._unit(True)}"

    def _unit(self, ends_above: bool) -> str:
        return "" if ends_above and self.above == inf else f" {self.unit}"


def scale_mark_text(mark: float) -> str:
    """An engraved distance: 1.2, 10, infinity."""
    return "infinity" if mark == inf else f"{mark:g}"


def parse_distance(text: str) -> float:
    """Read "3", "3m", "80 cm", "10ft", "10'" or "inf" in metres; a bare number is in metres. Raises BadInput. [m]

    >>> parse_distance("3m"), parse_distance("80 cm"), round(parse_distance("10ft"), 3), parse_distance("inf")
    (3.0, 0.8, 3.048, inf)
    """
    return _with_unit(text, "m")


def parse_span(text: str) -> tuple[float, float]:
    """Read "1.5m..inf", "1.5..inf" or "5..20ft" as (near, far); a bare end takes the other's unit. Raises BadInput. [m]

    >>> parse_span("1.5m..inf"), parse_span("2..4")
    ((1.5, inf), (2.0, 4.0))
    """
    near_text, dots, far_text = text.partition("..")
    if not dots or not near_text.strip() or not far_text.strip(" ."):
        raise BadInput(f"'{text}' is not a range of distances: write 1.5m..inf or 5ft..20ft")
    far_text = far_text.lstrip(".")
    unit = _unit_of(near_text) or _unit_of(far_text) or "m"
    near_m, far_m = _with_unit(near_text, unit), _with_unit(far_text, _unit_of(far_text) or unit)
    if not near_m < far_m:
        raise BadInput(f"'{text}': the near end must be nearer than the far end")
    return near_m, far_m


def _unit_of(text: str) -> str:
    found = _WRITTEN.fullmatch(text.strip().lower())
    return found.group(2) if found else ""


def _with_unit(text: str, unit: str) -> float:
    written = text.strip().lower()
    if written in _INFINITE:
        return inf
    found = _WRITTEN.fullmatch(written)
    factor = _UNITS_M.get(found.group(2) or unit) if found else None
    value_m = float(found.group(1).replace(",", ".")) * factor if factor else 0.0
    if not 0 < value_m <= _FAR_ENOUGH_M:
        raise BadInput(f"distance '{text.strip()}' is not readable: write 3m, 80cm, 10ft or inf")
    return value_m


def metres_text(distance_m: float) -> str:
    """A distance in metres: 0.93 m, 3.0 m, 12 m, infinity.

    >>> metres_text(0.931), metres_text(12.04), metres_text(inf)
    ('0.93 m', '12 m', 'infinity')
    """
    return "infinity" if distance_m == inf else f"{short_text(distance_m)} m"


def short_text(distance_m: float) -> str:
    """A distance in metres for a narrow column: 0.93, 3.0, 12, inf."""
    if distance_m == inf:
        return "inf"
    return f"{distance_m:.2f}" if distance_m < 3 else f"{distance_m:.1f}" if distance_m < 10 else f"{distance_m:.0f}"


def feet_text(distance_m: float) -> str:
    """A distance in feet: 3.1 ft, 40 ft, infinity."""
    feet = distance_m / FOOT_M
    return "infinity" if distance_m == inf else f"{feet:.1f} ft" if feet < 20 else f"{feet:.0f} ft"


def span_text(near_m: float, far_m: float) -> str:
    """From near to far: 1.5 m to infinity, 2.1 to 4.4 m."""
    if far_m == inf:
        return f"{metres_text(near_m)} to infinity"
    return f"{short_text(near_m)} to {metres_text(far_m)}"


def place_on_scale(distance_m: float, marks: Sequence[float], unit: str = "m") -> ScalePlace | None:
    """Where a distance stands on a scale of these marks (in unit, nearest first; infinity always ends it).

    None where the scale has no marks or begins farther away. Raises BadInput unless the distance is above 0.

    >>> str(place_on_scale(3.46, (1, 1.5, 3, 5, 10))), str(place_on_scale(25, (5, 10)))
    ('a third of the way from 3 to 5 m', 'three fifths of the way from 10 to infinity')
    """
    if not distance_m > 0:
        raise BadInput(f"a focus distance must be above 0; got {distance_m} m")
    value = distance_m / _UNITS_M[unit]
    scale = [*sorted(mark for mark in marks if isfinite(mark)), inf]
    if len(scale) == 1 or value < scale[0] * (1 - 1e-9):
        return None
    for below, above in pairwise(scale):
        if value <= above:
            fraction = (1 / below - 1 / value) / (1 / below - 1 / above)
            return ScalePlace(below, above, min(max(fraction, 0.0), 1.0), unit)
    return None


def check_focus(lens: Lens, focus_m: float) -> None:
    """Raise BadInput for a focus nearer than the lens can be set to."""
    if focus_m < lens.nearest_focus_m * (1 - 1e-9):
        raise BadInput(f"this lens focuses from {metres_text(lens.nearest_focus_m)} on; got {metres_text(focus_m)}")


def lens_place(lens: Lens, focus_m: float, *, both: bool = True) -> str:
    """A focus distance as this lens shows it: by its engraved marks, in metres, feet or both; else in plain lengths."""
    by_metres = place_on_scale(focus_m, lens.distance_marks_m, "m")
    by_feet = place_on_scale(focus_m, lens.distance_marks_ft, "ft")
    said = [str(place) for place in (by_metres, by_feet) if place]
    if said:
        return "; ".join(said if both else said[:1])
    return "infinity" if focus_m == inf else f"{metres_text(focus_m)} ({feet_text(focus_m)})"
