"""stopgap bulb: how long to hold B for a film, a card to carry, a countdown."""

from pathlib import Path

import click

from meter.bulb import NO_FIGURES, CardRow, Countdown, stops_if_held
from meter.cli.countdown import clock_text, ending_signals, shower
from meter.cli.options import before_lens_options, json_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.film import Film
from meter.jobs.hold_bulb import (
    BulbPlan,
    Clock,
    Held,
    count_down,
    curve_text,
    open_record,
    plan_bulb,
    plan_card,
)
from meter.reciprocity import Curve
from meter.stops import ev_text, parse_f_number, parse_time, time_text


@click.command("bulb", short_help="How long to hold B, with a countdown.")
@click.option("--film", metavar="NAME", help="The film: see stopgap film list.  [default: that of --kit]")
@click.option("--metered", metavar="TIME", help="The time a meter asks for: 8s, 2min.")
@click.option("--ev", type=float, metavar="EV", help="Or the exposure value at ISO 100 …")
@click.option("--aperture", metavar="F", help="… with the aperture: f/11.")
@click.option("--ei", type=float, metavar="EI", help="Exposure index.  [default: the kit's, else the film's]")
@before_lens_options
@click.option("--kit", metavar="NAME", help="Your camera, lens and back, for its film and focal length.")
@click.option("--reciprocity", metavar="NAME", help="Which of the film's curves: see stopgap film show.")
@click.option("--table", is_flag=True, help="Print the film's card, 1 s to 1 h.")
@click.option("--held", metavar="TIME", help="What the film got if the shutter was held this long.")
@click.option("--hold", is_flag=True, help="Count down in the terminal.")
@click.option(
    "--lead-in", metavar="TIME", default="5s", show_default=True, help="Before the shutter opens; 0 for none."
)
@click.option("--until-stopped", is_flag=True, help="Count on past the end until Ctrl-C.")
@click.option("--log-to", type=click.Path(path_type=Path), metavar="FILE", help="Append the result as a JSON line.")
@shelf_option
@json_option
def command(film, metered, ev, aperture, ei, filters, light, magnification, extension_mm, kit, reciprocity, table, held,
            hold, lead_in, until_stopped, log_to, shelf_dir, as_json):  # fmt: skip
    """How long to hold B so that the film gets what the meter asks for.

    A filter or close-up given here is added to the metered time: leave out what the meter has seen. --kit brings
    its film, and its focal length for --extension.

    \b
    stopgap bulb --film hp5-plus --metered 30s
    stopgap bulb --film hp5-plus --ev 0 --aperture f/11 --hold
    stopgap bulb --film hp5-plus --metered 4s --filter red-25 --light tungsten
    stopgap bulb --film hp5-plus --table
    """
    if table:
        one_time = (metered, ev, aperture, ei, magnification, extension_mm, held, log_to)
        if hold or until_stopped or filters or any(value is not None for value in one_time):
            raise click.UsageError(
                "--table prints the whole card: only --film, --kit, --reciprocity and --shelf go with it"
            )
        show_card(*plan_card(film, reciprocity=reciprocity, kit_name=kit, shelf_dir=shelf_dir), as_json)
        return
    if not hold and (log_to or until_stopped):
        raise click.UsageError("--log-to and --until-stopped belong to a countdown: add --hold")
    plan = plan_bulb(
        film,
        metered_s=None if metered is None else parse_time(metered),
        ev100=ev,
        f_number=None if aperture is None else parse_f_number(aperture),
        ei=ei,
        reciprocity=reciprocity,
        filters=filters,
        light=light,
        magnification=magnification,
        extension_mm=extension_mm,
        kit_name=kit,
        shelf_dir=shelf_dir,
    )
    held_s = None if held is None else parse_time(held)
    if hold:
        lead_in_s = 0.0 if lead_in.strip() in ("0", "0s") else parse_time(lead_in)
        show_held(run(plan, lead_in_s, until_stopped, log_to, as_json), plan, as_json)
    elif as_json:
        show_json(as_data(plan, held_s))
    else:
        show(plan, held_s)


def run(plan: BulbPlan, lead_in_s: float, until_stopped: bool, log_to: Path | None, as_json: bool) -> Held:
    """Count down on the screen, or in lines on standard output where it is no terminal."""
    record = open_record(log_to, plan) if log_to else None
    countdown = Countdown(plan.hold.hold_s, lead_in_s)
    title = f"{plan.film.name}: {long_text(plan.hold.hold_s)} for {time_text(plan.hold.metered_s)} metered"
    with ending_signals(), shower(title, result_only=as_json) as show_moment:
        return count_down(
            countdown, show_moment, Clock(), metered_s=plan.hold.metered_s, curve=plan.curve,
            until_stopped=until_stopped, record=record,
        )  # fmt: skip


def long_text(time_s: float) -> str:
    """A held time, with its seconds where it is longer than a minute: 86 s (1 min 26 s)."""
    return time_text(time_s) if time_s < 60 or time_s >= 3600 else f"{time_s:.0f} s ({time_text(time_s)})"


def stops_text(stops: float) -> str:
    """A difference in stops with its sign: +0.3, -1.0, 0.0."""
    text = ev_text(stops)
    return text if text in ("0.0",) or text.startswith("-") else f"+{text}"


def short_time(time_s: float) -> str:
    """A time for a narrow column: 7.5 s, 43 s, 1:05, 1:02:03."""
    return time_text(time_s) if time_s < 59.5 else clock_text(round(time_s))


def show(plan: BulbPlan, held_s: float | None) -> None:
    """Print how long to hold, then why, then what missing it does."""
    hold = plan.hold
    if held_s is not None:
        stops = stops_if_held(held_s, hold.metered_s, plan.curve)
        click.echo(f"Held {long_text(held_s)}: {stops_text(stops)} stops against plan.")
    beyond = ", beyond the published range" if hold.extrapolated else ""
    click.echo(f"Hold {long_text(hold.hold_s)}{beyond}")
    say(f"for {metered_words(plan)} on {plan.film.name}{correction_words(plan)}")
    early, late = hold.safe_s
    click.echo(f"Within a third of a stop: {time_text(early)} to {time_text(late)}.")
    show_table(
        ("closed at", *(short_time(missed.held_s) for missed in hold.missed)),
        [("film gets", *(stops_text(missed.stops) for missed in hold.missed))],
        align="l" + "r" * len(hold.missed),
    )
    show_curve(plan.curve)
    if plan.curve_reason:
        say(f"Why this curve: {plan.curve_reason}")
    others = [curve.name for curve in plan.film.curves if curve != plan.curve]
    if others:
        say(f"Others for this film: --reciprocity {', '.join(others)}")
    for note in hold.notes:
        if note != NO_FIGURES:  # it stands in the second line
            say(note)


def correction_words(plan: BulbPlan) -> str:
    """What reciprocity adds, with what goes before it: stops of time, nothing, or nobody knows."""
    if plan.curve is None:
        return f". {NO_FIGURES}"
    if time_text(plan.hold.hold_s) == time_text(plan.hold.metered_s):
        return ": nothing needs correcting."
    return f": {stops_text(plan.hold.extra_stops)} stops of time."


def show_curve(curve: Curve | None) -> None:
    """Which figures were used and where they come from."""
    say(f"Reciprocity: {curve_text(curve)}.")
    if curve:
        say(f"Source: {curve.source.rstrip('.')}.")


def metered_words(plan: BulbPlan) -> str:
    """What was metered: 30 s metered; or EV 0.0 at f/11, EI 400."""
    time = f"{time_text(plan.hold.metered_s)} metered"
    if plan.extra_stops:
        time += f" with {plan.extra_stops:.1f} stops of {plan.extra_for}"
    return time if plan.ev100 is None else f"{time} (EV {ev_text(plan.ev100)}, f/{plan.f_number:.3g}, EI {plan.ei:g})"


def show_held(held: Held, plan: BulbPlan, as_json: bool) -> None:
    """What became of a countdown, on the screen that is left when it is over."""
    if as_json:
        show_json({"held": held_data(held), **as_data(plan, None)})
        return
    if held.ended == "abandoned":
        click.echo("Left before the shutter opened: nothing was exposed.")
        return
    say(
        f"Open {held.open_s:.1f} s of {held.planned_s:.1f} s: the film got {stops_text(held.stops)} stops against plan."
    )
    if held.clocks_disagree:
        by_wall = "nothing" if held.wall_stops is None else f"{stops_text(held.wall_stops)} stops"
        say(f"By the wall clock it was {held.wall_s:.1f} s ({by_wall}): a clock was set, or the machine slept.")


def show_card(film: Film, curve: Curve | None, rows: tuple[CardRow, ...], as_json: bool) -> None:
    """Print a film's card."""
    if as_json:
        show_json({"film": film.slug, "reciprocity": curve_data(curve), "card": [card_data(row) for row in rows]})
        return
    click.echo(f"{film.name}: hold B for")
    notes = any(row.note for row in rows)
    show_table(
        ("metered", "hold", "stops", *(("the source adds",) if notes else ())),
        [
            (time_text(row.metered_s), time_text(row.hold_s) + ("*" if row.extrapolated else " "),
             stops_text(row.stops), *((row.note,) if notes else ()))
            for row in rows
        ],
        align="rrr",
    )  # fmt: skip
    if any(row.extrapolated for row in rows):
        click.echo("* beyond the published range: test before you rely on it.")
    show_curve(curve)


def curve_data(curve: Curve | None) -> dict | None:
    return curve and {
        "name": curve.name, "model": curve.model, "source": curve.source, "evidence": curve.evidence,
        "published_to_s": None if curve.published_to_s == float("inf") else curve.published_to_s,
    }  # fmt: skip


def card_data(row: CardRow) -> dict:
    return {
        "metered_s": row.metered_s, "hold_s": row.hold_s, "stops": row.stops, "extrapolated": row.extrapolated,
        "note": row.note,
    }  # fmt: skip


def held_data(held: Held) -> dict:
    return {
        "ended": held.ended, "planned_s": held.planned_s, "open_s": held.open_s, "wall_s": held.wall_s,
        "opened_at": held.opened_at, "stops": held.stops, "wall_stops": held.wall_stops,
        "clocks_disagree": held.clocks_disagree,
    }  # fmt: skip


def as_data(plan: BulbPlan, held_s: float | None) -> dict:
    """The plan for --json. published_to_s null: the source sets no limit, or there are no figures."""
    hold = plan.hold
    data = {
        "film": plan.film.slug, "metered_s": hold.metered_s, "hold_s": hold.hold_s, "extra_stops": hold.extra_stops,
        "extrapolated": hold.extrapolated, "safe_s": list(hold.safe_s),
        "missed": [{"held_s": missed.held_s, "stops": missed.stops} for missed in hold.missed],
        "reciprocity": curve_data(plan.curve), "reason": plan.curve_reason, "notes": list(hold.notes),
    }  # fmt: skip
    if plan.ev100 is not None:
        data |= {"ev100": plan.ev100, "f_number": plan.f_number, "ei": plan.ei}
    if held_s is not None:
        stops = stops_if_held(held_s, hold.metered_s, plan.curve)
        data["if_held"] = {"held_s": held_s, "stops": stops}
    return data
