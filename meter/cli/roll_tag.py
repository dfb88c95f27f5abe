"""stopgap roll tag: the frames' exposure into scan files."""

from pathlib import Path

import click

from meter.cli.paper import show_json
from meter.cli.roll_options import log_options, roll_option
from meter.errors import BadInput


@click.command()
@click.argument("scans", nargs=-1, required=True)
@click.option("-o", "--output", type=click.Path(path_type=Path, file_okay=False), help="Folder for the tagged copies.")
@click.option("--in-place", is_flag=True, help="Replace each scan, once its tagged copy is complete.")
@click.option("--first", type=click.IntRange(min=1), help="Frame of the first scan.  [default: the first recorded]")
@click.option("--dry-run", is_flag=True, help="Only show which scan gets which frame.")
@roll_option
@log_options
def tag(scans, output, in_place, first, dry_run, roll_number, kit, log, as_json) -> None:
    """Write the frames' exposure into JPEG and TIFF scans as standard EXIF.

    SCANS are files in the order of the frames, or FILE=FRAME. The pixels are
    copied byte for byte. Takes the last unloaded roll unless --roll or --kit
    says otherwise. The place of a frame is never written.

    \b
    stopgap roll tag scan*.tif -o tagged
    stopgap roll tag harbour.jpg=7 --roll 3 --in-place
    """
    from meter.jobs.keep_roll import find_finished_roll
    from meter.jobs.tag_scans import tag_scans

    if (output is None) != in_place and not dry_run:
        raise BadInput("say where the tagged scans go: either -o FOLDER or --in-place")
    roll = find_finished_roll(roll_number, kit, log)
    done = tag_scans(scans, roll, out=output, first=first, dry_run=dry_run)
    if as_json:
        files = [
            {"scan": click.format_filename(t.scan), "frame": t.number, "file": click.format_filename(t.written),
             "gave_way": t.gave_way, "notes": t.notes}
            for t in done
        ]  # fmt: skip
        return show_json({"roll": roll.id, "dry_run": dry_run, "files": files})
    click.echo(f"{roll.title}{' (dry run, nothing written)' if dry_run else ''}")
    for entry in done:
        click.echo(f"  frame {entry.number}: {click.format_filename(entry.written)}")
        if entry.gave_way:
            words = "gave way, of the camera that digitised it: " + ", ".join(entry.gave_way)
            click.echo(click.wrap_text(words, 80, "    ", "    "))
        for note in entry.notes:
            click.echo(click.wrap_text(f"! {note}", 80, "    ", "      "))
