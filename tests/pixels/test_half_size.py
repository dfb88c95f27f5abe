"""A large JPEG is decoded at half its width and height: what that costs a spot, against decoding it whole."""

import numpy as np
import pytest

from meter.jobs.meter_photo import snap
from meter.pixels.spots import disc_patch, frame_patch, spot_radius

MOST_STOPS = 0.02  # the price that half-size decoding may have


@pytest.mark.parametrize("name", ["iphone_hdr_YES.jpg", "jolla.jpg", "33-type_error.jpg"])
def test_spots_of_real_photos_stay_within_a_fiftieth_of_a_stop(real_photos, name):
    """1 degree spots all over three real photos of 4 to 8 megapixels."""
    half, whole = snap(real_photos / "jpeg" / name), snap(real_photos / "jpeg" / name, full_size=True)
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
