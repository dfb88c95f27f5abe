"""Holding B: how long for this film, what stopping early or late does, a card to carry, and a countdown's phases.

Reciprocity comes last, after filters and close-ups. The film sees inverse(held), so a late close costs less than the
clock says. Times in seconds; stops are a difference, plus means more exposure.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, inf, log2

from meter.errors import BadInput
from meter.ladder import exposure_ev
from meter.reciprocity import Curve

CARD_TIMES_S = (1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 900.0, 1800.0, 3600.0)  # metered, 1 s-1 h
MISSES = (0.5, 0.75, 0.9, 1.1, 1.25, 1.5, 2.0)  # held / planned, early to late
TOLERANCE_STOPS = 1 / 3  # how far an exposure may be off without regret on most films; common practice (memory)
BY_HAND_S = 1.0  # shorter than this nobody times B by hand; common practice (memory) [s]
HAIR_S = 1e-6  # a microsecond of float noise opens and closes no shutter [s]
CONTRAST_STOPS = 0.5  # correction from which the growth of contrast is worth a word; our own choice
CONTRAST_NOTE = (
    "Long exposures raise contrast: shadows lose more than highlights. Give less development, or accept it "
    "(Barnbaum 1994, p. 77; secondary)."
)
NO_FIGURES = "No reciprocity figure is known for this film: the time is as metered; test before you rely on it."


@dataclass(frozen=True)
class Missed:
    """What the film gets when the shutter closes at held_s: stops more (+) or less (-) than planned."""

    held_s: float
    stops: float


@dataclass(frozen=True)
class Hold:
    """How long to hold B.

    extra_stops: how much longer than metered. safe_s: held times within a third of a stop of the right exposure.
    extrapolated: whether the source of the curve says nothing about so long a time. missed: early to late.
    """

    metered_s: float
    hold_s: float
    extra_stops: float
    extrapolated: bool
    safe_s: tuple[float, float]
    missed: tuple[Missed, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class CardRow:
    """One line of a film's card: metered and held time, the difference in stops, whether it is a continuation."""

    metered_s: float
    hold_s: float
    stops: float
    extrapolated: bool
    note: str = ""


def metered_time(ev100: float, f_number: float, ei: float, stops: float = 0.0) -> float:
    """The time a meter asks for: N²/2^EV at this exposure index, 2^stops times longer. Raises BadInput. [s]

    stops: what filters and close focus cost together. [stops]

    >>> metered_time(0.0, 8.0, 400)
    16.0
    """
    if not (0 < f_number < inf and 0 < ei < inf and -30 <= ev100 <= 30 and 0 <= stops <= 40):
        raise BadInput(
            f"a bulb time needs an EV from -30 to 30, an f-number and exposure index above 0 and stops of 0 to 40; "
            f"got EV {ev100}, f/{f_number}, EI {ei}, {stops} stops"
        )
    return f_number**2 / 2.0 ** exposure_ev(ev100, ei, stops)


def plan_hold(metered_s: float, curve: Curve | None) -> Hold:
    """How long to hold B for a metered time; without a curve, as metered. Raises BadInput for an impossible time."""
    hold_s = corrected(metered_s, curve)
    safe = (corrected(metered_s * 2**-TOLERANCE_STOPS, curve), corrected(metered_s * 2**TOLERANCE_STOPS, curve))
    missed = tuple(Missed(hold_s * part, stops_if_held(hold_s * part, metered_s, curve)) for part in MISSES)
    extrapolated = curve is not None and curve.extrapolated(metered_s)
    return Hold(metered_s, hold_s, log2(hold_s / metered_s), extrapolated, safe, missed, _notes(metered_s, curve))


def corrected(metered_s: float, curve: Curve | None) -> float:
    """The time to hold; without a curve, as metered. Raises BadInput unless above 0 and finite. [s]"""
    if curve is not None:
        return curve.corrected_s(metered_s)
    if not 0 < metered_s < inf:
        raise BadInput(f"a metered time must be above 0 and finite; got {metered_s}")
    return metered_s


def stops_if_held(held_s: float, metered_s: float, curve: Curve | None) -> float:
    """What the film gets beyond the metered exposure when held this long, log2(inverse(held)/metered). [stops]

    Holding 0 s gives the film nothing and raises BadInput.

    >>> stops_if_held(100.0, 10.0, Curve("sheet", "power", "", "", exponent=2.0)), stops_if_held(5.0, 10.0, None)
    (0.0, -1.0)
    """
    if not 0 < held_s < inf:
        raise BadInput(f"a held time must be above 0 and finite; got {held_s}")
    return log2((held_s if curve is None else curve.metered_s(held_s)) / metered_s)


def card(curve: Curve | None, times_s: Iterable[float] = CARD_TIMES_S) -> tuple[CardRow, ...]:
    """A film's card: what to hold for each metered time."""
    rows = []
    for metered_s in times_s:
        hold_s = corrected(metered_s, curve)
        beyond = curve is not None and curve.extrapolated(metered_s)
        rows.append(CardRow(metered_s, hold_s, log2(hold_s / metered_s), beyond, _row_note(metered_s, curve)))
    return tuple(rows)


def _row_note(metered_s: float, curve: Curve | None) -> str:
    """What the source asks for beside the time, where it gives a row for exactly this metered time."""
    rows = () if curve is None else curve.rows
    return next((row.note for row in rows if abs(row.metered_s / metered_s - 1) < 1e-6), "")


def _notes(metered_s: float, curve: Curve | None) -> tuple[str, ...]:
    notes = []
    if metered_s < BY_HAND_S:
        notes.append(f"{metered_s:.2g} s is too short to hold by hand: use a marked speed or a smaller aperture.")
    if curve is None:
        notes.append(NO_FIGURES)
        return tuple(notes)
    if caution := curve.caution(metered_s):
        notes.append(f"{caution[0].upper()}{caution[1:]}.")
    if row := max(
        (r for r in curve.rows if r.metered_s <= metered_s and r.note), key=lambda r: r.metered_s, default=None
    ):
        notes.append(f"The source, from {row.metered_s:g} s metered: {row.note}")
    if curve.note:
        notes.append(curve.note)
    if curve.stops(metered_s) >= CONTRAST_STOPS:
        notes.append(CONTRAST_NOTE)
    return tuple(notes)


@dataclass(frozen=True)
class Moment:
    """Where a countdown stands. phase: "lead_in", "open" or "over".

    remaining_s: until the shutter opens, then until it closes; past the end, how long it has been over. [s]
    open_s: how long the shutter has been open. part: 0 to 1, how much of the phase has passed.
    """

    phase: str
    remaining_s: float
    open_s: float
    part: float

    @property
    def shown_s(self) -> int:
        """The whole seconds to show: rounded up while counting down, down past the end."""
        return int(self.remaining_s + HAIR_S) if self.phase == "over" else ceil(self.remaining_s - HAIR_S)


@dataclass(frozen=True)
class Countdown:
    """Lead-in, then the hold. [s] Raises BadInput unless the hold is above 0 and the lead-in 0 to 60 s."""

    hold_s: float
    lead_in_s: float = 5.0

    def __post_init__(self):
        if not (0 < self.hold_s < inf and 0 <= self.lead_in_s <= 60):
            raise BadInput(f"a countdown needs a hold above 0 s and a lead-in of 0 to 60 s; got {self}")

    def at(self, passed_s: float) -> Moment:
        """Where the countdown stands this long after it was started."""
        open_s = passed_s - self.lead_in_s
        if open_s < -HAIR_S:
            return Moment("lead_in", -open_s, 0.0, max(passed_s, 0.0) / self.lead_in_s)
        open_s = max(open_s, 0.0)
        if open_s < self.hold_s - HAIR_S:
            return Moment("open", self.hold_s - open_s, open_s, open_s / self.hold_s)
        return Moment("over", max(open_s - self.hold_s, 0.0), open_s, 1.0)


def is_called(shown_s: int) -> bool:
    """Whether a helper calling out the time would call this second: each of the last ten, tens, then minutes."""
    return shown_s <= 10 or (shown_s <= 60 and shown_s % 10 == 0) or shown_s % 60 == 0


def clocks_disagree(steady_s: float, wall_s: float) -> bool:
    """Whether two clocks differ by more than a second and half a percent: asleep meanwhile, or a clock was set."""
    return abs(wall_s - steady_s) > max(1.0, 0.005 * steady_s)
