"""stopgap sheet: one page to carry, for a kit and a film."""

from pathlib import Path

import click

from meter.cli.options import film_option, force_option, json_option, kit_option, shelf_option
from meter.cli.paper import show_json
from meter.jobs.make_sheet import MadeSheet, make_sheet


@click.command("sheet", short_help="One page to carry, as PDF, SVG or PNG.")
@kit_option
@film_option
@click.option("--ei", type=float, metavar="EI", help="Exposure index; the film's own if not given.")
@click.option("--size", type=click.Choice(["a6", "a5"], case_sensitive=False), default="a6", show_default=True)
@click.option("--reciprocity", metavar="NAME", help="Which of the film's curves: see stopgap film show.")
@click.option("--coc", type=float, metavar="MM", help="Circle of confusion on the film.")
@click.option("--coc-divisor", type=float, metavar="D", help="Or the frame's diagonal over D.")
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Where to; the name ends in .pdf, .svg or .png.")  # fmt: skip
@force_option
@shelf_option
@json_option
def command(kit, film, ei, size, reciprocity, coc, coc_divisor, output, force, shelf_dir, as_json):
    """A page to carry: aperture scale, daylight guide, long exposures, hyperfocal distances and zones.

    \b
    stopgap sheet --kit breakwater --film hp5-plus --ei 250 -o sheet.pdf
    """
    made = make_sheet(
        kit, film, output, ei=ei, size=size.upper(), reciprocity=reciprocity, coc_mm=coc, divisor=coc_divisor,
        force=force, shelf_dir=shelf_dir,
    )  # fmt: skip
    if as_json:
        show_json(as_data(made))
    else:
        click.echo(f"{made.path}: {made.size}, {made.sheet.kit}, {made.sheet.film} at {made.sheet.ei}")


def as_data(made: MadeSheet) -> dict:
    """What is on the sheet, for --json."""
    sheet = made.sheet
    return {
        "file": str(made.path), "size": made.size, "kit": sheet.kit, "film": sheet.film, "ei": sheet.ei,
        "daylight_shutter": sheet.daylight_shutter,
        "daylight": [dict(zip(("scene", "ev", "aperture"), row, strict=True)) for row in sheet.daylight],
        "reciprocity": [dict(zip(("metered", "hold"), row, strict=True)) for row in sheet.reciprocity],
        "hyperfocal": [dict(zip(("aperture", "focus", "near"), row, strict=True)) for row in sheet.hyperfocal],
        "notes": list(sheet.notes),
    }  # fmt: skip
