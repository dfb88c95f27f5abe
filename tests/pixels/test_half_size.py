"""A large JPEG is decoded at half its width and height: what that costs a spot, against decoding it whole."""

from pathlib import Path

import numpy as np

from meter.jobs.meter_photo import snap
from meter.pixels.decode import read_header
from meter.pixels.spots import disc_patch, frame_patch, spot_radius

MOST_STOPS = 0.02  # the price that half-size decoding may have


def test_spots_of_real_photos_stay_within_a_fiftieth_of_a_stop(real_photos):
    """1 degree spots all over each real photo that is large enough, 4 to 8 megapixels."""
    large = [p for p in sorted((real_photos / "jpeg").glob("*.jpg")) if read_header(p).full_size[0] >= 2500]
    assert len(large) >= 3
    for photo in large:
        _compare(photo)


def _compare(photo: Path) -> None:
    half, whole = snap(photo), snap(photo, full_size=True)
    assert half.light.size[0] * 2 == whole.light.size[0]
    apart = [
        np.log2(_spot(half.light, x, y) / _spot(whole.light, x, y))
        for x in np.linspace(0.05, 0.95, 13)
        for y in np.linspace(0.05, 0.95, 10)
    ]
    assert np.abs(apart).max() < MOST_STOPS
    assert abs(np.log2(frame_patch(half.light).luminance / frame_patch(whole.light).luminance)) < MOST_STOPS / 4


def _spot(light, x: float, y: float) -> float:
    return disc_patch(light, x, y, spot_radius(1, 26, light.size)).luminance
