"""python -m tests.accuracy [--calibrated] [--picture FILE.png] [--cameras NAME,...]: print the accuracy report."""

import tempfile
import time
from pathlib import Path

import click

from meter.jobs.whole_file import whole_file
from meter.pixels.plate import png_of
from sample_scenes.camera import cards
from sample_scenes.truth import load_truth, names
from tests.accuracy.calibrated import CARD_PLACE, SERIES_PLACES, profile_of
from tests.accuracy.measure import measures
from tests.accuracy.picture import accuracy_svg
from tests.accuracy.report import side_by_side, text


@click.command()
@click.option("--picture", type=click.Path(path_type=Path), help="Draw the report to FILE.png.")
@click.option("--cameras", "wanted", help="Only these cameras, by name, with commas between.")
@click.option("--calibrated", is_flag=True, help="Calibrate each camera as the front page says; before and after.")
@click.option("--seed", default=0, show_default=True, help="Of the cameras' noise.")
def report(picture: Path | None, wanted: str | None, calibrated: bool, seed: int) -> None:
    """Photograph every place with every camera, meter the photos, compare with the truth."""
    start = time.monotonic()
    chosen = [card for card in cards() if not wanted or card.name in wanted.split(",")]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if calibrated:
            profiles = {card.name: profile_of(card, folder) for card in chosen}
            chosen = [card for card in chosen if profiles[card.name]]
            truths = [load_truth(place) for place in names() if place not in (*SERIES_PLACES, CARD_PLACE)]
            before = list(measures(truths, chosen, folder, seed=seed))
            found = list(measures(truths, chosen, folder, lambda card: profiles[card.name], seed=seed))
            print(f"series of {', '.join(SERIES_PLACES)}; card at the {CARD_PLACE}; read elsewhere, before and after\n")
            print(side_by_side(before, found) + "\n\nafter calibration")
        else:
            truths = [load_truth(place) for place in names()]
            found = list(measures(truths, chosen, folder, seed=seed))
    print(text(found))
    print(
        f"\n{len(found)} readings of {len(truths)} places by {len(chosen)} cameras in {time.monotonic() - start:.0f} s"
    )
    if picture:
        title = "Calibrated readings" if calibrated else "Uncalibrated readings"
        with whole_file(picture, force=True) as part:
            part.write_bytes(png_of(accuracy_svg(found, title), 1770))


report()
