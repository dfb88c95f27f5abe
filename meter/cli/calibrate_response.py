"""stopgap calibrate response: find out what a phone's tones stand for."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import click

from meter.cli.options import json_option, profile_to_write_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.errors import BadInput


@click.command("response", short_help="Find what a phone's tones stand for, from bracketed photos.")
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO|FOLDER...")
@profile_to_write_option
@shelf_option
@json_option
def command(photos, profile, shelf_dir, as_json) -> None:
    """Fit the phone's response to photos of a still scene at different exposures.

    Support the phone, choose a scene with both shadow and light and nothing that
    moves, and take five to fifteen photos from exposure bias -2 to +2, HDR off. A
    second and third scene, each in its own folder, make it surer.

    \b
    stopgap calibrate response minus2.jpg minus1.jpg zero.jpg plus1.jpg plus2.jpg
    stopgap calibrate response quay/ lane/
    """
    from meter.jobs.calibrate_response import calibrate_response

    if not photos:
        raise BadInput("name three or more photos of one still scene, or a folder for each scene")
    with _progress(shown=not as_json) as watch:
        done = calibrate_response(photos, profile=profile, shelf_dir=shelf_dir, watch=watch, on=date.today())
    if as_json:
        show_json(_answer(done))
        return
    _show(done)


@contextmanager
def _progress(*, shown: bool) -> Iterator:
    """A bar on a terminal's stderr while photos are read; None where nobody would see it."""
    import sys

    if not (shown and sys.stderr.isatty()):
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(40), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading photos", total=None)

        def watch(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, description="Fitting" if done == total else "Reading photos")

        yield watch


def _show(done) -> None:
    found, series = done.found, done.series
    photos, scenes = sum(map(len, series.photos)), len(series.photos)
    of = "one scene" if scenes == 1 else f"{scenes} scenes"
    say(f"Response of {series.camera} from {photos} photos of {of}", bold=True)
    say(
        f"One place differs from photo to photo by {found.spread_before:.2f} stop decoded as sRGB, by "
        f"{found.spread_after:.2f} through this response."
    )
    say(f"Codes {found.seen_codes[0]} to {found.seen_codes[1]} of 255 were seen, over {found.range_stops:.1f} stops.")
    say("")
    show_table(("Photo", "Exposed for", "Against its EXIF"), list(_frame_rows(done)), align="lrl")
    say("")
    sigma = found.response.sigma
    show_table(
        ("Codes", "Left over", "Stated ±", "Samples"),
        [
            (
                f"{one.first_code}-{one.last_code}",
                f"{one.rms_stops:.2f}",
                f"{max(sigma[one.first_code : one.last_code + 1]):.2f}",
                str(one.samples),
            )
            for one in found.bins
        ],
        align="lrrr",
    )
    for line in _warnings(done):
        say(line)
    if done.dropped:
        say(f"The offset {done.dropped[0]:+.2f} was measured through the old response and is dropped: measure it anew.")
    say(f"Written into {done.file}")
    if scenes == 1:
        say("A second scene would show whether the phone adapts its tones: give a folder for each.")
    say("Next: stopgap calibrate offset, with a card and a meter you trust.")


def _warnings(done) -> Iterator[str]:
    """Each warning once, with the first photo that has it and how many more do."""
    having: dict[str, list[str]] = {}
    for photo in (photo for scene in done.series.photos for photo in scene):
        for warning in photo.warnings:
            having.setdefault(warning, []).append(photo.name)
    for warning, names in having.items():
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        yield f"Mind: {names[0]}{more}: {warning}."


def _frame_rows(done) -> Iterator[tuple[str, str, str]]:
    shown = [photo for scene in done.series.photos for photo in scene]
    for photo, check in zip(shown, done.found.frames, strict=True):
        odd = "  disagrees" if check.disagrees else ""
        yield photo.name, f"EV {photo.snapshot.ev100:.1f}", f"{check.stray_stops:+.2f}{odd}"


def _answer(done) -> dict:
    """Stops throughout; codes from 0 to 255."""
    found = done.found
    shown = [photo for scene in done.series.photos for photo in scene]
    return {
        "profile": str(done.file),
        "camera": str(done.series.camera),
        "spread_before_stops": round(found.spread_before, 4),
        "spread_after_stops": round(found.spread_after, 4),
        "seen_codes": list(found.seen_codes),
        "range_stops": round(found.range_stops, 3),
        "photos": [
            {
                "file": str(photo.path),
                "scene": check.scene + 1,
                "ev100": round(photo.snapshot.ev100, 3),
                "stray_stops": round(check.stray_stops, 4),
                "disagrees": check.disagrees,
                "warnings": list(photo.warnings),
            }
            for photo, check in zip(shown, found.frames, strict=True)
        ],
        "codes": [
            {
                "first": one.first_code,
                "last": one.last_code,
                "rms_stops": round(one.rms_stops, 4),
                "samples": one.samples,
            }
            for one in found.bins
        ],
        "dropped_offset_stops": done.dropped[0] if done.dropped else None,
    }
