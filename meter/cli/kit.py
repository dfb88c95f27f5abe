"""stopgap kit: which cameras, lenses and backs there are, and what one of them can do."""

import click

from meter.camera import Kit
from meter.cli.broken import broken_answers, warn_broken
from meter.cli.options import json_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.shelf.reader import Shelf
from meter.stops import mark_text, time_text


@click.group()
def command() -> None:
    """Cameras, lenses and backs: list them, show one.

    \b
    stopgap kit list
    stopgap kit show breakwater
    """


@command.command("list")
@shelf_option
@json_option
def list_kits(shelf_dir, as_json) -> None:
    """Every kit on the shelf.  Example: stopgap kit list --json"""
    kits, broken = Shelf(shelf_dir).kits()
    if as_json:
        show_json([kit_answer(kit) for kit in kits] + broken_answers(broken))
        return
    show_table(
        ("Kit", "What it is", "Iris", "Frame"),
        [
            (kit.slug, kit.name, f"f/{kit.lens.marks[0]:g}-{kit.lens.marks[-1]:g} {kit.lens.iris}", kit.back.format)
            for kit in kits
        ],
    )
    warn_broken(broken)


@command.command("show")
@click.argument("name")
@shelf_option
@json_option
def show_kit(name, shelf_dir, as_json) -> None:
    """One kit, with its marks and measured times.  Example: stopgap kit show breakwater"""
    kit = Shelf(shelf_dir).kit(name)
    if as_json:
        show_json(kit_answer(kit))
        return
    say(f"{kit.name} ({kit.slug})", bold=True)
    say(f"Lens     {kit.lens.focal_length_mm:g} mm, like {kit.focal_35mm:.0f} mm on 24 x 36; iris {kit.lens.iris}")
    say(f"Marks    {'  '.join(mark_text(mark) for mark in kit.lens.marks)}")
    say(f"Shutter  {'  '.join(speed.label for speed in kit.shutter.speeds)}{'  B' if kit.shutter.bulb else ''}")
    for speed in kit.shutter.speeds:
        if speed.measured_s is not None:
            doubt = f" ± {speed.measured_sigma_stops:.2g}" if speed.measured_sigma_stops else ""
            say(f"         {speed.label} measures {time_text(speed.time_s)} ({speed.drift_stops:+.1f}{doubt} stop)")
    back = kit.back
    say(f"Back     {back.format}, {back.width_mm:g} x {back.height_mm:g} mm, {back.frames} frames on 120")
    say(f"By hand  down to 1/{1 / kit.handheld_s:.0f} s (1 / equivalent focal length, common practice)")
    if kit.film:
        say(f"Film     {kit.film}")
    for note in kit.notes:
        say(f"Note     {note}")


def kit_answer(kit: Kit) -> dict:
    """A kit as plain data. Lengths in mm and m, times in s."""
    return {
        "name": kit.slug,
        "title": kit.name,
        "focal_length_mm": kit.lens.focal_length_mm,
        "focal_35mm": round(kit.focal_35mm, 1),
        "marks": list(kit.lens.marks),
        "iris": kit.lens.iris,
        "shutter": [
            {"shutter": speed.label, "marked_s": speed.marked_s, "measured_s": speed.measured_s, "time_s": speed.time_s}
            for speed in kit.shutter.speeds
        ],
        "bulb": kit.shutter.bulb,
        "format": kit.back.format,
        "frames": kit.back.frames,
        "film": kit.film,
        "ei": kit.ei,
    }
