"""Each camera's profile, made as the front page says: two places by an exposure series, one grey card by a meter.

The places used here are left out of the evaluation, so that every figure is cross-scene.
"""

from math import log2
from pathlib import Path

from meter.cli.known_light import read_known
from meter.errors import MeterError
from meter.jobs.calibrate_offset import calibrate_offset
from meter.jobs.calibrate_response import calibrate_response
from meter.jobs.find_profile import open_profile
from meter.response import Profile
from sample_scenes.camera import Card, bracket, photograph
from sample_scenes.truth import load_truth

SERIES_PLACES = ("quay", "lane")
CARD_PLACE = "moor"
BIASES = (-2.0, -1.0, 0.0, 1.0, 2.0)
METER_K = 12.5


def profile_of(card: Card, folder: Path) -> Profile | None:
    """The profile that the recipe gives for this camera; None where calibration refuses it. folder: for the photos."""
    for place in SERIES_PLACES:
        (folder / card.name / place).mkdir(parents=True, exist_ok=True)
        for i, shot in enumerate(bracket(load_truth(place).rgb, card, BIASES, seed=100)):
            (folder / card.name / place / f"{i}.jpg").write_bytes(shot.jpeg)
    truth = load_truth(CARD_PLACE)
    grey = truth.find("card")
    photo = folder / card.name / "card.jpg"
    photo.write_bytes(photograph(truth.rgb, card, seed=77).jpeg)
    # A meter shows tenths: that is what a photographer would type.
    ev = round(log2(grey.luminance * 100 / METER_K), 1)
    profile = folder / f"{card.name}.toml"
    try:
        calibrate_response([folder / card.name / place for place in SERIES_PLACES], profile=str(profile))
        calibrate_offset(
            [photo], [read_known(f"{grey.x},{grey.y},{grey.degrees}=EV{ev},K={METER_K}")], profile=str(profile)
        )
    except MeterError as refused:
        print(f"{card.name}: {refused}")
        return None
    return open_profile(profile).profile
