"""stopgap calibrate shutter: the real times of an old shutter."""

from datetime import date
from pathlib import Path

import click

from meter.cli.options import json_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.errors import BadInput
from meter.stops import time_text


@click.command("shutter", short_help="Measure a shutter's real times from its sound, light or frames.")
@click.argument("recordings", nargs=-1, type=click.Path(path_type=Path), metavar="RECORDING.wav...")
@click.option(
    "--marked",
    "marks",
    multiple=True,
    metavar="TIME",
    help="The engraved time: once for all recordings, or once for each in their order.",
)
@click.option("--light", is_flag=True, help="A light sensor on the sound input made the recording, not a microphone.")
@click.option(
    "--frames",
    "frames",
    multiple=True,
    type=float,
    metavar="N",
    help="Or count the frames of a slow-motion video that show it open; once a release.",
)
@click.option("--fps", type=float, help="Its frames a second, as taken.")
@click.option("--kit", "kit_name", metavar="NAME", help="The camera it sits in (stopgap kit list).")
@click.option("--write", is_flag=True, help="Put what can be trusted into your own file of that kit.")
@click.option("--replace", is_flag=True, help="Also where it holds measured times already.")
@shelf_option
@json_option
def command(recordings, marks, light, frames, fps, kit_name, write, replace, shelf_dir, as_json) -> None:
    """Measure how long a shutter really stays open.

    Record five or more releases of one engraved time into a WAV file, the phone or a
    microphone close to the shutter, the room quiet. Sound tells times of 1/60 s and
    longer; for shorter ones use a light sensor on the sound input, or slow motion.

    \b
    stopgap calibrate shutter slow.wav --marked 1/15
    stopgap calibrate shutter a.wav b.wav --marked 1/30 --marked 1/2 --kit breakwater --write
    stopgap calibrate shutter --frames 8 --frames 8.5 --fps 240 --marked 1/30
    """  # fmt: skip
    from meter.jobs.time_shutter import time_frames, time_recordings
    from meter.shelf.reader import Shelf

    if not marks:
        raise BadInput("say which engraved time was released: --marked 1/125")
    if (write or replace) and kit_name is None:
        raise BadInput("--write needs a camera to write to: --kit NAME (stopgap kit list)")
    if replace and not write:
        raise BadInput("--replace says how to write: give --write too")
    kit = Shelf(shelf_dir, begin=write).kit(kit_name) if kit_name else None
    if frames or fps is not None:
        if not frames or fps is None or recordings or light or len(marks) != 1:
            raise BadInput("counting needs --frames N (once a release), --fps F and one --marked, and no recording")
        timed = (time_frames(frames, fps, marks[0], kit=kit),)
    else:
        timed = time_recordings(recordings, marks, light=light, kit=kit)
    kept = None
    if write:
        from meter.jobs.keep_times import keep_times

        kept = keep_times(timed, kit_name, shelf_dir=shelf_dir, replace=replace, on=date.today())
    if as_json:
        show_json(_answer(timed, kept))
        return
    _show(timed, kept)


def _show(timed, kept) -> None:
    show_table(
        ("Marked", "Measured", "Stops off", "Releases", "Can be used"),
        [
            (
                one.mark,
                measured_text(one.speed.measured_s),
                f"{one.speed.error_stops:+.2f} ± {one.speed.sigma_stops:.2f}",
                str(one.speed.repeats),
                "yes" if one.speed.trustworthy else "no",
            )
            for one in timed
        ],
        align="lrrrl",
    )
    for one in timed:
        if one.speed.note:
            say(f"{one.mark}: {one.speed.note}.")
    if kept is None:
        return
    if kept.copied_from is not None:
        say(f"{kept.file} was made as your own copy of {kept.copied_from.stem}; it is used from now on.")
    for one in timed:
        if one.mark in kept.before:
            now = measured_text(one.speed.measured_s)
            say(f"{one.mark}: {measured_text(kept.before[one.mark])} was replaced by {now}.")
    say(f"Written into {kept.file}: {', '.join(kept.marks)}.")
    if left := [one.mark for one in timed if one.mark not in kept.marks]:
        say(f"Left out, because not sure enough: {', '.join(left)}.")


def measured_text(time_s: float) -> str:
    """A measured time: 1/87, 0.31 s; tenths of the denominator below 20, where a whole one would be coarse."""
    if 1 / 20 < time_s < 0.3:
        return f"1/{1 / time_s:.1f}"
    return time_text(time_s)


def _answer(timed, kept) -> dict:
    """Times in seconds, differences in stops."""
    return {
        "shutter": [
            {
                "marked": one.mark,
                "marked_s": one.speed.marked_s,
                "measured_s": float(f"{one.speed.measured_s:.5g}"),
                "sigma_s": float(f"{one.speed.sigma_s:.3g}"),
                "error_stops": round(one.speed.error_stops, 3),
                "sigma_stops": round(one.speed.sigma_stops, 3),
                "releases": one.speed.repeats,
                "trustworthy": one.speed.trustworthy,
                "note": one.speed.note,
            }
            for one in timed
        ],
        "written": None
        if kept is None
        else {
            "file": str(kept.file),
            "copied_from": None if kept.copied_from is None else str(kept.copied_from),
            "marks": list(kept.marks),
            "before_s": kept.before,
        },
    }
