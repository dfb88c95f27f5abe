"""stopgap roll: the log of what was set for each frame."""

from pathlib import Path

import click

from meter.cli.options import json_option, shelf_option
from meter.cli.paper import show_json, show_table
from meter.cli.roll_judge import judge
from meter.cli.roll_options import log_option, log_options, roll_option
from meter.cli.roll_tag import tag
from meter.distance import metres_text, parse_distance
from meter.errors import BadInput
from meter.roll import Frame, Roll, plain_exposure, plain_roll, tank_advice, tank_text
from meter.zones import zone_text


@click.group()
def command() -> None:
    """Keep a log of your rolls: what each frame got, and how to develop it.

    Nothing recorded is ever deleted; the log is one SQLite file.

    \b
    stopgap roll load hp5-plus --kit breakwater --ei 200
    stopgap roll expose --shutter 1/125 --aperture f/11+0.4 --place "quay wall=III"
    stopgap roll show
    """


@command.command()
@click.argument("film")
@click.option("--kit", required=True, help="The camera it goes into (stopgap kit list).")
@click.option("--ei", type=float, help="Exposure index.  [default: the kit's, else the film's]")
@click.option("--frames", type=int, help="Frames on this roll.  [default: what the kit's back gives]")
@click.option("--at", help="When, if not now: 2026-05-01 10:32.")
@shelf_option
@log_option
@json_option
def load(film, kit, ei, frames, at, shelf_dir, log, as_json) -> None:
    """Put a film into a camera.

    \b
    stopgap roll load hp5-plus --kit breakwater --ei 200
    """
    from meter.jobs.keep_roll import load_roll

    roll = load_roll(film, kit, ei, frames, at, log, shelf_dir)
    if as_json:
        return show_json(plain_roll(roll))
    click.echo(roll.title)
    click.echo(f"{roll.made.capacity} frames of {roll.made.format}")


@command.command()
@click.option("--shutter", help="As engraved, 1/125; or B with --held.")
@click.option("--held", help="How long B was held: 12s; without --aperture at the reading's.")
@click.option("--aperture", help="f/8, or f/11+0.4 for four tenths past f/11.")
@click.option("--rung", help="Another shutter speed of the remembered reading (with --aperture on B).")
@click.option("--reading", type=click.IntRange(min=1), help="Another reading than the last, by its number.")
@click.option("--place", "places", multiple=True, help='What you placed where: "quay wall=III"; repeatable.')
@click.option("--n", "development", help="Development it asks for: N, N-1, N+1.")
@click.option("--filter", "filters", multiple=True, help="Filter on the lens; repeat to stack.")
@click.option("--focus", help="Focus distance: 3m, 10ft, inf.")
@click.option("--note", help="Anything worth remembering.")
@click.option("--photo", help="The snapshot; only the file's name is kept.")
@click.option("--where", help="The place, if you want it in the log; it is never taken from a photo.")
@click.option("--frame", "number", type=click.IntRange(min=1), help="Record this frame instead of the next.")
@click.option("--at", help="When, if not now: 2026-05-01 10:32.")
@shelf_option
@log_options
def expose(
    shutter, held, aperture, rung, reading, places, development, filters, focus, note, photo, where, number, at,
    shelf_dir, kit, log, as_json,
) -> None:  # fmt: skip
    """Record a frame, from options or from the last remembered reading.

    \b
    stopgap roll expose --shutter 1/125 --aperture f/11+0.4 \\
        --place "quay wall=III" --n N-1 --filter yellow-8 --focus 3m
    stopgap read PHOTO --remember; stopgap roll expose --rung 1/60
    """
    from meter.jobs.frame_setting import Setting
    from meter.jobs.keep_roll import expose_frame

    focus_m = None if focus is None else parse_distance(focus)
    setting = Setting(
        shutter, held, aperture, rung, reading, places, development, filters, focus_m, note, photo, where, number, at
    )
    recorded = expose_frame(setting, kit, log, shelf_dir)
    roll, frame = recorded.roll, recorded.frame
    if as_json:
        made = {"number": frame.number, "exposed_at": frame.exposed_at} | plain_exposure(frame.exposure)
        return show_json({"roll": roll.id, "left": roll.left, "frame": made, "warnings": list(recorded.warnings)})
    click.echo(f"Frame {frame.number}: {_settings_text(frame)}; {roll.left} of {roll.made.capacity} left")
    for words in [*_words(frame), *_photo_words(frame)]:
        click.echo(f"  {words}")
    _warn(recorded.warnings)


@command.command()
@roll_option
@click.option("--all", "with_undone", is_flag=True, help="Undone frames too.")
@click.option("--rolls", "listing", is_flag=True, help="List every roll instead of one roll's frames.")
@log_options
def show(roll_number, with_undone, listing, kit, log, as_json) -> None:
    """Show a roll's frames, what is left, and how to develop it.

    \b
    stopgap roll show
    stopgap roll show --rolls
    """
    from meter.jobs.keep_roll import all_rolls, find_roll

    if listing:
        return _show_rolls([r for r in all_rolls(log) if kit in (None, r.made.kit)], as_json)
    roll = find_roll(roll_number, kit, log)
    if as_json:
        return show_json(plain_roll(roll, with_undone) | {"advice": _plain_advice(roll)})
    click.echo(roll.title)
    frames = roll.frames if with_undone else roll.live
    click.echo(f"{len(roll.live)} of {roll.made.capacity} exposed, {_state(roll)}")
    if frames:
        rows = [row for frame in sorted(frames, key=lambda f: (f.number, f.exposed_at)) for row in _rows(frame)]
        show_table(("", "when", "shutter", "aperture", "N", "notes"), rows, align="rlrll")
    _show_advice(roll)


@command.command()
@click.option("--frame", "number", type=click.IntRange(min=1), help="This frame instead of the last.")
@log_options
def undo(number, kit, log, as_json) -> None:
    """Take back the last frame: its record stays (show --all), its number is free again.

    \b
    stopgap roll undo
    stopgap roll undo --frame 3
    """
    from meter.jobs.keep_roll import undo_frame

    roll, number = undo_frame(number, kit, log)
    if as_json:
        return show_json({"roll": roll.id, "undone": number, "next": roll.next_number, "left": roll.left})
    click.echo(f"Frame {number} undone; next is frame {roll.next_number}, {roll.left} left")
    click.echo(f"  {roll.title}")


@command.command()
@click.option("--at", help="When, if not now: 2026-05-01 10:32.")
@log_options
def unload(at, kit, log, as_json) -> None:
    """Take the film out of the camera and see how to develop it.

    \b
    stopgap roll unload
    """
    from meter.jobs.keep_roll import unload_roll

    roll = unload_roll(kit, at, log)
    if as_json:
        return show_json(plain_roll(roll) | {"advice": _plain_advice(roll)})
    click.echo(f"Unloaded with {len(roll.live)} of {roll.made.capacity} exposed")
    click.echo(f"  {roll.title}")
    _show_advice(roll)


@command.command()
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="A .csv or .json file.")
@roll_option
@click.option("--all", "with_undone", is_flag=True, help="Undone frames too.")
@click.option("--force", is_flag=True, help="Replace a file that is there.")
@log_options
def export(output, roll_number, with_undone, force, kit, log, as_json) -> None:
    """Write rolls to a CSV file (one row a frame) or a JSON file.

    \b
    stopgap roll export -o rolls.csv
    stopgap roll export --roll 3 -o roll3.json
    """
    from meter.jobs.keep_roll import all_rolls, export_rolls, find_roll
    from meter.jobs.whole_file import whole_file

    kind = output.suffix.lower().removeprefix(".")
    if kind not in ("csv", "json"):
        raise BadInput(f"{output}: name it .csv or .json, so that it is clear what to write")
    if output.exists() and not force:
        raise BadInput(f"{output} exists already: nothing was written; use --force to replace it")
    one = roll_number is not None
    rolls = (find_roll(roll_number, kit, log),) if one else [r for r in all_rolls(log) if kit in (None, r.made.kit)]
    text = export_rolls(tuple(rolls), kind, with_undone)
    with whole_file(output, force) as part:
        part.write_text(text, encoding="utf-8", newline="")
    frames = sum(len(roll.frames if with_undone else roll.live) for roll in rolls)
    if as_json:
        return show_json({"file": click.format_filename(output), "rolls": len(rolls), "frames": frames})
    click.echo(f"{click.format_filename(output)}: {_count(frames, 'frame')} of {_count(len(rolls), 'roll')}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'s' * (number != 1)}"


def _settings_text(frame: Frame) -> str:
    from meter.jobs.keep_roll import say_time

    asked = frame.exposure.development
    return f"{say_time(frame)} at {frame.exposure.aperture}" + ("" if asked is None else f", {tank_text(asked)}")


def _words(frame: Frame) -> list[str]:
    """What was said of a frame beside its settings, most telling first."""
    exposure = frame.exposure
    words = [f"{p.name} {'on' if p.placed else 'fell on'} {zone_text(p.zone)}" for p in exposure.placements]
    words += [exposure.filter] if exposure.filter else []
    words += [f"focus {metres_text(exposure.focus_m)}"] if exposure.focus_m else []
    return words + [text for text in (exposure.where, exposure.note) if text]


def _photo_words(frame: Frame) -> list[str]:
    return [f"photo {frame.exposure.photo}"] if frame.exposure.photo else []


def _rows(frame: Frame) -> list[tuple[str, ...]]:
    """A frame's row of the table, and one more for the name of its photo."""
    from meter.jobs.keep_roll import say_time

    exposure = frame.exposure
    asked = "" if exposure.development is None else tank_text(exposure.development)
    words = (["undone"] if frame.undone_at else []) + _words(frame)
    when = frame.exposed_at[:16].replace("T", " ")
    row = str(frame.number), when, say_time(frame), exposure.aperture, asked, "; ".join(words)
    return [row, *(("", "", "", "", "", photo) for photo in _photo_words(frame))]


def _state(roll: Roll) -> str:
    return f"unloaded {roll.unloaded_at[:16].replace('T', ' ')}" if roll.unloaded_at else f"{roll.left} left"


def _show_rolls(rolls: list[Roll], as_json: bool) -> None:
    if as_json:
        return show_json([plain_roll(roll) | {"name": f"roll {roll.id}", "frames": len(roll.live)} for roll in rolls])
    rows = [
        (str(r.id), r.made.film_name, f"{r.made.ei:g}", r.made.kit, f"{len(r.live)}/{r.made.capacity}",
         r.loaded_at[:10], r.unloaded_at[:10] if r.unloaded_at else "loaded")
        for r in rolls
    ]  # fmt: skip
    show_table(("roll", "film", "EI", "kit", "frames", "loaded", "unloaded"), rows, align="rlrlrll")


def _plain_advice(roll: Roll) -> dict | None:
    advice = tank_advice(roll.live)
    return advice and {
        "development": tank_text(advice.development),
        "losses": [
            {"number": x.number, "asked": tank_text(x.asked), "zones": x.excess, "what": x.text} for x in advice.losses
        ],
        "unasked": list(advice.unasked),
        "too_wide": advice.too_wide,
    }


def _show_advice(roll: Roll) -> None:
    advice = tank_advice(roll.live)
    if advice is None:
        return
    if not roll.develops_by_zones:
        return click.echo(f"Develop it as its process says: {roll.made.film_name} is no film to change development for")
    click.echo(f"Develop the whole roll {tank_text(advice.development)}")
    for loss in advice.losses:
        click.echo(
            click.wrap_text(f"frame {loss.number} asked for {tank_text(loss.asked)}: {loss.text}", 80, "  ", "    ")
        )
    if advice.too_wide:
        click.echo("  No one tank serves all of these: keep such frames on a roll of their own.")
    if advice.unasked:
        click.echo(f"  asked for nothing: frame{'s' * (len(advice.unasked) > 1)} {', '.join(map(str, advice.unasked))}")


def _warn(warnings: tuple[str, ...]) -> None:
    for warning in warnings:
        click.echo(click.wrap_text(f"! {warning}", 80, "  ", "    "))


command.add_command(tag)
command.add_command(judge)
