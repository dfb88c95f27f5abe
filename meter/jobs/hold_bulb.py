"""Plans a bulb exposure for a film, and counts it down by the clock."""

import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from meter.bulb import CardRow, Countdown, Hold, Moment, card, clocks_disagree, metered_time, plan_hold, stops_if_held
from meter.camera import Kit
from meter.errors import BadInput, LogError
from meter.factors import stacked_stops
from meter.film import Film
from meter.jobs.load_order import DEFAULT_KIT, closeup_cost, film_in
from meter.order import index_for
from meter.reciprocity import MODELS, Curve
from meter.shelf.reader import Shelf

TICK_S, SHORTEST_S = 0.1, 0.001  # the longest and shortest sleep between two looks at the clock [s]


@dataclass(frozen=True)
class BulbPlan:
    """A film, the curve in use (None: no figures), and how long to hold. curve_reason: why this curve.

    extra_stops: what stands before the lens costs, already in the metered time of hold. extra_for: what that is.
    """

    film: Film
    curve: Curve | None
    curve_reason: str
    hold: Hold
    f_number: float | None = None
    ev100: float | None = None
    ei: float | None = None
    extra_stops: float = 0.0
    extra_for: str = ""


@dataclass(frozen=True)
class Held:
    """What became of a countdown. ended: "done", "stopped" (while open, or past the end) or "abandoned" (never opened).

    open_s, wall_s: how long the shutter was open by the steady and by the wall clock. opened_at: local time, ISO 8601.
    stops, wall_stops: what the film got beyond the plan, by each clock; None when abandoned.
    """

    ended: str
    planned_s: float
    open_s: float
    wall_s: float
    opened_at: str | None
    stops: float | None
    wall_stops: float | None

    @property
    def clocks_disagree(self) -> bool:
        return clocks_disagree(self.open_s, self.wall_s)


class Clock:
    """The machine's clocks. steady() also runs while the machine sleeps, where one does; wall() may be set."""

    def steady(self) -> float:
        if hasattr(time, "CLOCK_BOOTTIME"):
            return time.clock_gettime(time.CLOCK_BOOTTIME)
        if sys.platform == "darwin":  # here the POSIX clock counts sleep and time.monotonic does not
            return time.clock_gettime(time.CLOCK_MONOTONIC)
        return time.monotonic()

    def wall(self) -> float:
        return time.time()

    def sleep(self, seconds: float) -> None:
        time.sleep(seconds)


def plan_bulb(
    film_name: str | None,
    *,
    metered_s: float | None = None,
    ev100: float | None = None,
    f_number: float | None = None,
    ei: float | None = None,
    reciprocity: str | None = None,
    filters: Sequence[str] = (),
    light: str = "daylight",
    magnification: float | None = None,
    extension_mm: float | None = None,
    kit_name: str | None = None,
    shelf_dir: Path | None = None,
) -> BulbPlan:
    """How long to hold B: from a metered time, or from an EV at ISO 100 and an exact f-number. Raises BadInput.

    filters: names on the shelf; they and the close-up count before reciprocity. film_name: None takes the kit's film.
    ei: None takes the kit's for its film, else the film's own. kit_name: whose focal length extension_mm is compared
    with, None for the usual one.
    """
    shelf = Shelf(shelf_dir)
    kit = None if kit_name is None else shelf.kit(kit_name)
    film = _film(shelf, film_name, kit)
    filter_stops = stacked_stops([shelf.filter(name, film) for name in filters], light)
    closeup_stops = closeup_cost(kit or shelf.kit(DEFAULT_KIT), magnification, extension_mm)
    extra = filter_stops + closeup_stops
    if (metered_s is None) == (ev100 is None):
        raise BadInput("give either a metered time (--metered 8s) or an EV and an aperture (--ev 3 --aperture f/11)")
    if metered_s is not None and (ei is not None or f_number is not None):
        raise BadInput(
            "a metered time has index and aperture in it: leave out --ei and --aperture, or give --ev instead"
        )
    index = float(index_for(kit, film, ei) if kit else film.ei_default if ei is None else ei)
    if ev100 is not None:
        if f_number is None:
            raise BadInput("an EV needs an aperture beside it: --aperture f/11")
        metered = metered_time(ev100, f_number, index, extra)
    else:
        metered = metered_s * 2.0**extra
    curve, reason = chosen_curve(film, reciprocity)
    hold = plan_hold(metered, curve)
    what = " and ".join(name for name, stops in (("filter", filter_stops), ("close-up", closeup_stops)) if stops)
    return BulbPlan(film, curve, reason, hold, f_number, ev100, index if ev100 is not None else None, extra, what)


def _film(shelf: Shelf, name: str | None, kit: Kit | None) -> Film:
    """The film of this name, else the kit's. Raises BadInput where neither names one."""
    if name is None and kit is None:
        raise BadInput("say which film: --film NAME (stopgap film list), or --kit NAME for the kit's film")
    return film_in(kit, name, shelf) if kit else shelf.film(name)


def plan_card(
    film_name: str | None,
    *,
    reciprocity: str | None = None,
    kit_name: str | None = None,
    shelf_dir: Path | None = None,
) -> tuple[Film, Curve | None, tuple[CardRow, ...]]:
    """A film's card from 1 s to 1 h metered, with the curve it comes from. film_name: None takes the kit's film."""
    shelf = Shelf(shelf_dir)
    film = _film(shelf, film_name, None if kit_name is None else shelf.kit(kit_name))
    curve, _ = chosen_curve(film, reciprocity)
    return film, curve, card(curve)


def chosen_curve(film: Film, name: str | None) -> tuple[Curve | None, str]:
    """The curve to use and why. Raises BadInput for a name that the film does not have."""
    curve = film.curve(name)
    return curve, "" if curve is None else "as asked" if name else film.default_reason


def curve_text(curve: Curve | None) -> str:
    """What a curve is, how sure, and how far it reaches, in one line."""
    if curve is None:
        return "no reciprocity figures"
    reach = "the source sets no upper limit" if curve.published_to_s == float("inf") else (
        f"covers up to {curve.published_to_s:g} s metered"
    )  # fmt: skip
    return f"'{curve.name}' ({curve.evidence}): {MODELS[curve.model]}; {reach}"


def count_down(
    countdown: Countdown,
    show: Callable[[Moment], None],
    clock: Clock,
    *,
    metered_s: float,
    curve: Curve | None,
    until_stopped: bool = False,
    record: Callable[[Held], None] | None = None,
) -> Held:
    """Count a hold down, calling show at least ten times a second, until it is over or the user interrupts.

    until_stopped: go on past the end until interrupted. record: called once with the result, whatever ended it.
    """
    start, start_wall = clock.steady(), clock.wall()
    ended = "done"
    try:
        while True:
            moment = countdown.at(clock.steady() - start)
            show(moment)
            if moment.phase == "over" and not until_stopped:
                break
            clock.sleep(TICK_S if moment.phase == "over" else min(TICK_S, max(moment.remaining_s, SHORTEST_S)))
    except KeyboardInterrupt:
        ended = "stopped"
    open_s = max(clock.steady() - start - countdown.lead_in_s, 0.0)
    wall_s = max(clock.wall() - start_wall - countdown.lead_in_s, 0.0)
    held = _result(ended, countdown, open_s, wall_s, start_wall + countdown.lead_in_s, metered_s, curve)
    if record:
        record(held)
    return held


def _result(
    ended: str, countdown: Countdown, open_s: float, wall_s: float, opened: float, metered_s: float, curve: Curve | None
) -> Held:
    if open_s == 0:
        return Held("abandoned", countdown.hold_s, 0.0, 0.0, None, None, None)
    opened_at = datetime.fromtimestamp(opened).astimezone().isoformat(timespec="seconds")
    stops = stops_if_held(open_s, metered_s, curve)
    wall_stops = stops_if_held(wall_s, metered_s, curve) if wall_s > 0 else None
    return Held(ended, countdown.hold_s, open_s, wall_s, opened_at, stops, wall_stops)


def open_record(path: Path, plan: BulbPlan) -> Callable[[Held], None]:
    """A hook for count_down that appends one JSON line to a file, safe on disk when it returns.

    The file is opened at once, so that a path that cannot be written is refused before the shutter opens.
    Raises LogError.
    """
    try:
        path.open("a", encoding="utf-8").close()
    except OSError as error:
        raise LogError(f"cannot write to {path}: {error.strerror}; choose another file for --log-to") from error

    def append(held: Held) -> None:
        line = {
            "film": plan.film.slug, "metered_s": plan.hold.metered_s, "planned_s": held.planned_s,
            "held_s": held.open_s, "wall_s": held.wall_s, "ended": held.ended, "opened_at": held.opened_at,
            "stops": held.stops, "f_number": plan.f_number, "reciprocity": plan.curve and plan.curve.name,
        }  # fmt: skip
        try:
            with path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line, ensure_ascii=False) + "\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise LogError(f"could not write to {path}: {error.strerror}; note it by hand: {line}") from error

    return append
