"""The ladder: every setting of one kit that gives one exposure, and the rung to prefer.

Filters, close-up and exposure index are already in the EV that comes in; reciprocity is applied here, last.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import log2, sqrt

from meter.camera import CLICKS_PER_STOP, Kit, MarkPair, Speed
from meter.errors import BadInput
from meter.reciprocity import Curve
from meter.stops import FULL_STOPS, aperture_stops, aperture_text, exact_f_number, mark_text, time_text

END_TOLERANCE_STOPS = 1 / 6  # an aperture this little beyond the iris's end is set to the end, and the error shown
RECIPROCITY_FROM_S = 1.0  # from here on a film without figures deserves a word (E-31: 1/5 s to 1/1000 s is safe)
FASTER_FILM_STOPS = 4.0  # as much as another film can bring
SHORTEST_HELD_S = 1.0  # B shorter than this cannot be timed by hand (common practice)
STEADY_HELD_S = 2.0  # from here on a hand-timed B is good to a sixth of a stop: ±0.25 s (common practice)
LONGEST_HELD_S = 4 * 3600.0  # longer than a night's patience
CHECKED_S = 3600.0  # no source here tabulates a hold beyond an hour
SHAKY_STOPS = 0.7  # what being within a stop of the hand-held limit counts against an aperture this far off (judgement)
COMFORTABLE_STOPS = (6.0, 8.0)  # f/8 to f/16: sharp, with depth to spare (common practice)


@dataclass(frozen=True)
class Rung:
    """One way to set the camera.

    shutter: as engraved, or "B". time_s: what the film gets. f_number: what the iris is set to (exact).
    aperture: how to say it, "f/11 + 0.4". between: the engraved marks around the pointer, None where out of reach.
    error_stops: exposure given less exposure asked; plus is more light on the film.
    metered_s, hold_s: on B, the time before and after reciprocity correction; on marked times hold_s is None.
    """

    shutter: str
    time_s: float
    f_number: float
    aperture: str
    between: MarkPair | None
    error_stops: float
    bulb: bool
    metered_s: float
    hold_s: float | None
    usable: bool
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Preference:
    """Which rung, by its place in the ladder, and why; index None where none will do."""

    index: int | None
    why: str


def ladder(kit: Kit, ev_film: float, curve: Curve | None) -> tuple[Rung, ...]:
    """Every rung that gives an exposure: marked speeds from the fastest, then B from the widest aperture.

    ev_film: log2(N²/t) that the film needs, with EI, zone, filters and close-up already in it. [EV]
    curve: the film's reciprocity, None where unknown.
    """
    marked = [_marked_rung(kit, speed, ev_film, curve) for speed in kit.shutter.speeds]
    return tuple(marked + (_bulb_rungs(kit, ev_film, curve) if kit.shutter.bulb else []))


def metered_for(held_s: float, curve: Curve | None) -> float:
    """The metered time to which an open shutter of held_s amounts on this film. [s]"""
    return curve.metered_s(held_s) if curve else held_s


def _marked_rung(kit: Kit, speed: Speed, ev_film: float, curve: Curve | None) -> Rung:
    metered_s = metered_for(speed.time_s, curve)
    asked = sqrt(metered_s * 2.0**ev_film)
    set_to = kit.lens.settable(asked)
    error = aperture_stops(asked) - aperture_stops(set_to)
    low, high = kit.lens.stops_range
    beyond = max(low - aperture_stops(asked), aperture_stops(asked) - high, 0.0)
    usable = beyond <= END_TOLERANCE_STOPS
    notes = _usable_notes(kit, speed, error, metered_s, curve) if usable else [_what_would_bring_it_in(kit, asked)]
    chosen = set_to if usable else asked
    return Rung(
        shutter=speed.label,
        time_s=speed.time_s,
        f_number=chosen,
        aperture=aperture_text(chosen, kit.lens.marks) if usable else f"f/{mark_text(chosen)}",
        between=kit.lens.between_marks(chosen) if usable else None,
        error_stops=error if usable else 0.0,
        bulb=False,
        metered_s=metered_s,
        hold_s=None,
        usable=usable,
        notes=tuple(notes),
    )


def _usable_notes(kit: Kit, speed: Speed, error: float, metered_s: float, curve: Curve | None) -> list[str]:
    notes = []
    if abs(error) > 0.05:
        limit = f"{kit.lens.iris}-stop clicks" if CLICKS_PER_STOP[kit.lens.iris] else "end of the iris"
        notes.append(f"{error:+.1f} stop: {limit}")
    if abs(speed.drift_stops) >= 0.1:
        pace = "slow" if speed.drift_stops > 0 else "fast"
        notes.append(f"runs {abs(speed.drift_stops):.1f} {pace}, allowed for")
    return notes + _reciprocity_notes(metered_s, speed.time_s, curve)


def _bulb_rungs(kit: Kit, ev_film: float, curve: Curve | None) -> list[Rung]:
    slowest_s = max((speed.time_s for speed in kit.shutter.speeds), default=0.0)
    rungs = []
    whole = [mark for mark in kit.lens.marks if round(mark, 1) in FULL_STOPS]
    widest = kit.lens.marks[0]  # at night the one that matters, whatever its number
    for mark in dict.fromkeys((widest, *whole)) if len(whole) > 1 else kit.lens.marks:
        f_number = exact_f_number(mark)
        metered_s = f_number**2 / 2.0**ev_film
        if metered_s > LONGEST_HELD_S:  # and the hold is never shorter
            continue
        hold_s = curve.corrected_s(metered_s) if curve else metered_s
        if not max(SHORTEST_HELD_S, 1.2 * slowest_s) <= hold_s <= LONGEST_HELD_S:
            continue
        notes = _reciprocity_notes(metered_s, hold_s, curve)
        if hold_s > CHECKED_S:
            notes.append("longer than any source tabulates: bracket")
        if hold_s < STEADY_HELD_S:
            notes.append(f"by hand ±0.25 s is ±{log2(1 + 0.25 / hold_s):.1f} stop")
        rungs.append(
            Rung("B", hold_s, f_number, f"f/{mark_text(mark)}", kit.lens.between_marks(f_number), 0.0, True,
                 metered_s, hold_s, True, tuple(notes))
        )  # fmt: skip
    return rungs


def _what_would_bring_it_in(kit: Kit, asked: float) -> str:
    """By how many stops the iris falls short, and the cure."""
    low, high = kit.lens.stops_range
    stops = aperture_stops(asked)
    if stops > high:
        return f"{stops - high:.1f} stops too bright: ND or slower film"
    cures = ["faster film"] if low - stops <= FASTER_FILM_STOPS else []
    cures += ["B"] if kit.shutter.bulb else []
    return f"{low - stops:.1f} stops too dark: {' or '.join(cures) or 'more light'}"


def _reciprocity_notes(metered_s: float, open_s: float, curve: Curve | None) -> list[str]:
    if curve is None and open_s < RECIPROCITY_FROM_S:
        return []
    if curve is None:
        return ["no reciprocity figures for this film: bracket towards longer"]
    notes = []
    if open_s / metered_s > 1.01:
        notes.append(f"metered {time_text(metered_s)}, {log2(open_s / metered_s):+.1f}")
    if caution := curve.caution(metered_s):
        notes.append(caution)
    return notes


def prefer(
    kit: Kit, rungs: Sequence[Rung], *, tripod: bool = False, among: Collection[int] | None = None
) -> Preference:
    """The rung to use: one that can be held by hand, else the steadiest; then a middle aperture; then no click error.

    tripod: hand-holding does not matter. The limit is 1/(equivalent focal length), common practice (memory).
    among: the rungs to choose from by their place in the ladder, None for all.
    """
    usable = [i for i, rung in enumerate(rungs) if rung.usable and (among is None or i in among)]
    if not usable:
        return Preference(None, "this kit cannot give the exposure; the list says what would bring a setting in")
    limit_s = kit.handheld_s * 1.02
    steady = [i for i in usable if tripod or (rungs[i].time_s <= limit_s and not rungs[i].bulb)]
    if not steady:
        marked = [i for i in usable if not rungs[i].bulb]
        index = min(marked or usable, key=lambda i: rungs[i].time_s)
        why = f"the shortest there is, and longer than the hand-held limit of {_limit_text(kit)}: use a tripod"
        return Preference(index, why)
    index = min(steady, key=lambda i: _discomfort(kit, rungs[i], tripod))
    why = "on a tripod" if tripod else f"can be held by hand (limit {_limit_text(kit)})"
    return Preference(index, f"{why}, and closest to the middle of the iris")


def _limit_text(kit: Kit) -> str:
    return f"1/{1 / kit.handheld_s:.0f}"


def _discomfort(kit: Kit, rung: Rung, tripod: bool) -> tuple[float, float, float]:
    """Stops away from the comfortable apertures, more where only a steady hand will do; smaller is better."""
    low, high = kit.lens.stops_range
    best_low, best_high = max(COMFORTABLE_STOPS[0], low), min(COMFORTABLE_STOPS[1], high)
    stops = aperture_stops(rung.f_number)
    away = max(best_low - stops, stops - best_high, 0.0)
    unsteady = SHAKY_STOPS if not tripod and rung.time_s > kit.handheld_s / 2 else 0.0
    return (rung.bulb + away + unsteady, abs(rung.error_stops), rung.time_s)


def exposure_ev(middle_ev100: float, ei: float, filter_stops: float = 0.0, closeup_stops: float = 0.0) -> float:
    """log2(N²/t) that the film needs: EV100 on Zone V + log2(EI/100) - filters - close-up. Raises BadInput. [EV]

    >>> exposure_ev(15.0, 400, filter_stops=1.0)
    16.0
    """
    if not 0.1 <= ei <= 1_000_000:
        raise BadInput(f"an exposure index from 0.1 to 1 000 000 is needed; got {ei}")
    return middle_ev100 + log2(ei / 100) - filter_stops - closeup_stops
