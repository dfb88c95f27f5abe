"""What an engraved depth-of-field scale says about its maker's circle of confusion, and what a stricter one leaves."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from meter.camera import ScaleFact
from meter.distance import parse_distance, parse_span, span_text
from meter.errors import BadInput
from meter.focus import Depth, blur_mm, depth_for, even_focus_m
from meter.stops import aperture_stops, exact_f_number, f_number_at, mark_text, parse_f_number

READING = 0.05  # a distance read between engraved marks is good to 5 %; our own choice, an option changes it
SURE_TO = 1e-6  # two intervals that touch to within this part agree
_FACT = re.compile(r"\s*(f?/?\s*[\d.]+(?:\s*\+\s*[\d./]+)?)\s+(?:(\S+)\s+)?(\S+\s*\.\.\s*\S+)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class FactCircle:
    """The circle of confusion that one engraved fact implies: best value and the interval its reading allows. [mm]

    agrees: whether its own near and far limit fit one c; the interval spans both where they do not.
    """

    fact: ScaleFact
    coc_mm: float
    low_mm: float
    high_mm: float
    agrees: bool


@dataclass(frozen=True)
class Inference:
    """The c behind a scale. consistent: one c lies in every interval; then coc_mm is the middle of what they share."""

    coc_mm: float
    low_mm: float
    high_mm: float
    consistent: bool
    facts: tuple[FactCircle, ...]


@dataclass(frozen=True)
class Stricter:
    """What an engraved bracket really keeps at another c: engraved and kept depth, and how to read the scale.

    read_at: set the fact's aperture and read the scale at this f-number instead.
    """

    fact: ScaleFact
    kept: Depth
    read_at: float


def parse_fact(text: str) -> ScaleFact:
    """Read "f/11 5m 3.6m..8.5m", or without the focus ("f/22 0.9m..inf") the one that serves both ends alike.

    Raises BadInput. f_number is the engraved one. [m]

    >>> parse_fact("f/11 5m 3.6m..8.5m")
    ScaleFact(f_number=11.0, focus_m=5.0, near_m=3.6, far_m=8.5)
    """
    found = _FACT.fullmatch(text)
    if not found:
        raise BadInput(f"'{text}' is not an engraved fact: write aperture, focus, near..far: f/11 5m 3.6m..8.5m")
    parse_f_number(found.group(1))  # refuses what no lens has
    near_m, far_m = parse_span(found.group(3))
    focus_m = parse_distance(found.group(2)) if found.group(2) else even_focus_m(near_m, far_m)
    engraved = found.group(1).lower().lstrip("f/ ")
    f_number = parse_f_number(engraved) if "+" in engraved else float(engraved)
    return check_fact(ScaleFact(f_number, focus_m, near_m, far_m))


def check_fact(fact: ScaleFact) -> ScaleFact:
    """Return a fact that can be true. Raises BadInput unless near < focus < far."""
    if not 0 < fact.near_m < fact.focus_m < fact.far_m:
        raise BadInput(f"{fact_text(fact)}: the focus must lie between near and far")
    return fact


def fact_text(fact: ScaleFact) -> str:
    """A fact as one reads it off the lens: f/11 at 5.0 m: 3.6 to 8.5 m."""
    at = "infinity" if fact.focus_m == inf else f"{fact.focus_m:.3g} m"
    return f"f/{mark_text(fact.f_number)} at {at}: {span_text(fact.near_m, fact.far_m)}"


def circle_of_fact(fact: ScaleFact, focal_mm: float, reading: float = READING) -> FactCircle:
    """The c that makes a fact true, c = f²·|d-s|/(N·d·(s-f)), from its near and its far end.

    reading: part by which a distance read off the scale may be off. A far end at infinity gives a lower bound only:
    the scale's tick may stand beyond the infinity mark. Raises BadInput.
    """
    check_fact(fact)
    if not 0 <= reading < 0.5:
        raise BadInput(f"the reading of a scale must be good to 0-50 %; got {reading * 100:g} %")
    n, s = exact_f_number(fact.f_number), fact.focus_m

    def implied(distance_m: float) -> float:
        return blur_mm(distance_m, n, s, focal_mm)

    near = (implied(min(fact.near_m * (1 + reading), s)), implied(fact.near_m * (1 - reading)))
    if fact.far_m == inf:
        slack = 1 - reading  # the infinity mark is read as well as the rest of the scale
        far, best = (implied(inf) * slack, inf), implied(fact.near_m)
    else:
        far = (implied(max(fact.far_m * (1 - reading), s)), implied(fact.far_m * (1 + reading)))
        best = sqrt(implied(fact.near_m) * implied(fact.far_m))
    low, high = max(near[0], far[0]), min(near[1], far[1])
    if low <= high * (1 + SURE_TO):
        high = max(low, high)
        return FactCircle(fact, min(max(best, low), high), low, high, True)
    return FactCircle(fact, best, min(near[0], far[0]), near[1] if far[1] == inf else max(near[1], far[1]), False)


def infer_circle(facts: Sequence[ScaleFact], focal_mm: float, reading: float = READING) -> Inference:
    """The circle of confusion behind engraved facts, and whether one explains them all.

    Where they do not overlap, coc_mm is the middle one of the facts' own values. Raises BadInput without facts.
    """
    if not facts:
        raise BadInput("no engraved fact to infer a circle of confusion from: give one, as in f/11 5m 3.6m..8.5m")
    circles = tuple(circle_of_fact(fact, focal_mm, reading) for fact in facts)
    low, high = max(c.low_mm for c in circles), min(c.high_mm for c in circles)
    consistent = low <= high * (1 + SURE_TO) and all(c.agrees for c in circles)
    best = sqrt(low * high) if consistent else _middle([c.coc_mm for c in circles])
    return Inference(best, min(low, high), max(low, high), consistent, circles)


def _middle(values: list[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else sqrt(ordered[half - 1] * ordered[half])


def stricter(facts: Sequence[ScaleFact], focal_mm: float, maker_mm: float, wanted_mm: float) -> tuple[Stricter, ...]:
    """What each engraved bracket keeps sharp by another circle of confusion, wanted_mm, in place of maker_mm."""
    return tuple(
        Stricter(
            fact,
            depth_for(exact_f_number(fact.f_number), fact.focus_m, focal_mm, wanted_mm),
            f_number_at(aperture_stops(exact_f_number(fact.f_number)) - circle_stops(maker_mm, wanted_mm)),
        )
        for fact in facts
    )


def circle_stops(maker_mm: float, wanted_mm: float) -> float:
    """How many stops to close beyond the engraved aperture for the same bracket at wanted_mm, 2·log2(c/c'). [stops]

    >>> circle_stops(0.08, 0.04)
    2.0
    """
    return aperture_stops(maker_mm / wanted_mm)
