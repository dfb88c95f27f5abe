"""python -m tests.accuracy [--picture FILE.png] [--cameras NAME,...]: print the accuracy report."""

import tempfile
import time
from pathlib import Path

import click

from meter.jobs.whole_file import whole_file
from meter.pixels.plate import png_of
from sample_scenes.camera import cards
from sample_scenes.truth import load_truth, names
from tests.accuracy.measure import measures
from tests.accuracy.picture import accuracy_svg
from tests.accuracy.report import text


@click.command()
@click.option("--picture", type=click.Path(path_type=Path), help="Draw the report to FILE.png.")
@click.option("--cameras", "wanted", help="Only these cameras, by name, with commas between.")
@click.option("--seed", default=0, show_default=True, help="Of the cameras' noise.")
def report(picture: Path | None, wanted: str | None, seed: int) -> None:
    """Photograph every place with every camera, meter the photos, compare with the truth."""
    start = time.monotonic()
    chosen = [card for card in cards() if not wanted or card.name in wanted.split(",")]
    truths = [load_truth(name) for name in names()]
    with tempfile.TemporaryDirectory() as folder:
        found = list(measures(truths, chosen, Path(folder), seed=seed))
    print(text(found))
    print(
        f"\n{len(found)} readings of {len(truths)} places by {len(chosen)} cameras in {time.monotonic() - start:.0f} s"
    )
    if picture:
        with whole_file(picture, force=True) as part:
            part.write_bytes(png_of(accuracy_svg(found, "Uncalibrated readings"), 1770))


report()
