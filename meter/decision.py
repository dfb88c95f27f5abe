"""What decides the exposure, and what development the range asks for."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from meter.film import Film
from meter.light import Reading
from meter.patch import Spot
from meter.zones import (
    MIDDLE,
    REVERSAL_HIGHLIGHT,
    TEXTURED_HIGHLIGHT,
    TEXTURED_SHADOW,
    Placement,
    development_for,
    development_text,
    range_left_over,
    zone_text,
)

NORMAL_RANGE = TEXTURED_HIGHLIGHT - TEXTURED_SHADOW  # what N holds between texture and texture [stops]
COLOUR_REVERSAL_HOLDS, COLOUR_NEGATIVE_HOLDS = 5.0, 7.0  # textured range; common practice (memory) [stops]
SAME_ZONE = 0.05  # zones nearer than this are the same
_BOUND_SIGN = {"exact": "", "at_least": "≥ ", "at_most": "≤ "}
_SPOILED = {"at_least": ("blown", "higher"), "at_most": ("black", "lower")}

Read = Sequence[tuple[Spot, Reading]]


@dataclass(frozen=True)
class Decision:
    """Which reading decides the exposure, why, by which spots, and what to be careful about."""

    placement: Placement
    why: str
    by: tuple[Spot, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Range:
    """A range that development has to fit between III and VIII. bound: "at_least" where an end is one.

    of: between what. [stops]
    """

    stops: float
    sigma: float
    bound: str
    of: str


def decide(film: Film, average: Reading, read: Read, ends: Read) -> Decision:
    """The user's placed spots first, then the film kind's own habit, then the average on V.

    ends: the textured shadow and highlight, or nothing.
    """
    wanted = [(spot, reading) for spot, reading in read if spot.wanted_zone is not None]
    if wanted:
        return _by_spots(film, wanted)
    on_middle = Placement(average.ev100, MIDDLE)
    if not ends:
        return Decision(on_middle, f"no textured shadow or highlight stands out: average ({_ev(average)}) on V")
    (dark_spot, dark), (light_spot, light) = ends
    if film.kind == "negative":
        why = f"darkest textured area ({_ev(dark)}) placed on {zone_text(TEXTURED_SHADOW)}, for negative film"
        return Decision(Placement(dark.ev100, TEXTURED_SHADOW), why, (dark_spot,))
    if on_middle.zone_of(light.ev100) > REVERSAL_HIGHLIGHT:
        why = f"lightest textured area ({_ev(light)}) kept at VII½, for reversal film"
        return Decision(Placement(light.ev100, REVERSAL_HIGHLIGHT), why, (light_spot,))
    return Decision(on_middle, f"average ({_ev(average)}) on V; the lightest textured area stays below VII½")


def _by_spots(film: Film, wanted: Read) -> Decision:
    """Negative film by the spot placed lowest, reversal film by the highest; several on that zone by their mean."""
    pick = max if film.kind == "reversal" else min
    zone = pick(spot.wanted_zone for spot, _ in wanted)
    deciding = [(spot, reading) for spot, reading in wanted if abs(spot.wanted_zone - zone) < SAME_ZONE]
    ev100 = sum(reading.ev100 for _, reading in deciding) / len(deciding)
    cautions = []
    for spot, reading in deciding:
        if reading.bound != "exact":
            state, direction = _SPOILED[reading.bound]
            cautions.append(f"{_name(spot)} is {state}: it falls on {zone_text(zone)} or {direction}")
    names = " and ".join(f"{_name(spot)} ({_ev(reading)})" for spot, reading in deciding)
    why = f"{names} placed on {zone_text(zone)}"
    return Decision(Placement(ev100, zone), why, tuple(spot for spot, _ in deciding), tuple(cautions))


def _name(spot: Spot) -> str:
    return spot.label or f"the spot at {spot.x:g},{spot.y:g}"


def _ev(reading: Reading) -> str:
    return f"EV {_BOUND_SIGN[reading.bound]}{reading.ev100:.1f}"


def range_between(low: Reading, high: Reading, of: str = "the textured extremes") -> Range:
    """From one reading to another; their sigmas in quadrature, though what they share would cancel."""
    open_ended = high.bound == "at_least" or low.bound == "at_most"
    return Range(high.ev100 - low.ev100, hypot(low.sigma, high.sigma), "at_least" if open_ended else "exact", of)


def range_of_placed(read: Read) -> Range | None:
    """What the outermost of two or more placed spots ask for, as the range that N would stretch from III to VIII."""
    wanted = sorted((pair for pair in read if pair[0].wanted_zone is not None), key=lambda pair: pair[0].wanted_zone)
    if len(wanted) < 2 or wanted[-1][0].wanted_zone - wanted[0][0].wanted_zone < SAME_ZONE:
        return None
    (low_spot, low), (high_spot, high) = wanted[0], wanted[-1]
    seen = range_between(low, high, "your placed spots")
    asked = high_spot.wanted_zone - low_spot.wanted_zone
    return Range(seen.stops - asked + NORMAL_RANGE, seen.sigma, seen.bound, seen.of)


def develop(film: Film, found: Range | None) -> tuple[str | None, str, list[str]]:
    """N for a range, what it rests on, and what to be careful about; None where there is no range."""
    if found is None:
        return None, "", []
    if film.process != "bw":
        held = COLOUR_REVERSAL_HOLDS if film.kind == "reversal" else COLOUR_NEGATIVE_HOLDS
        caution = (
            f"the range of {found.stops:.1f} stops is more than this film holds (about {held:.0f}, common practice)"
        )
        return "N", "colour film keeps its own process", [caution] if found.stops > held else []
    n, cautions = development_for(found.stops), []
    low, high = (development_for(found.stops + side * found.sigma) for side in (1, -1))
    if found.bound == "at_least":
        n, high = min(n, 0), min(high, 0)
        cautions.append("parts of the scene lie outside the range that could be read: it may ask for less development")
    why = f"by {found.of}"
    if low != high:
        why += f"; {development_text(low)} to {development_text(high)} within the uncertainty"
    if (left := range_left_over(found.stops)) > 0:
        cautions.append(f"{left:.1f} stops of the range are more than N-2 holds: give up one end, or soften the light")
    return development_text(n), why, cautions
