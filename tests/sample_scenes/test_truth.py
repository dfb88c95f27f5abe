"""The files that keep the true light, and the spots in them."""

from math import atan, cos, degrees, hypot, pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sample_scenes.truth import SHIPPED, SIZE, Truth, disc, load_truth, measure, names, save_truth
from tests.sample_scenes.spots import NEEDED

HALF_CODE = 2 ** (0.5 / 2048)  # the file keeps 2048 codes a stop
whole = pytest.mark.parametrize("name", names())


def truth_of(rgb: np.ndarray, name: str = "pier") -> Truth:
    """A truth with nothing but its light and one spot."""
    spots = measure(rgb, [SimpleSpot], 26.0)
    return Truth(name, rgb, "A pier", "Invented.", 26.0, spots)


class SimpleSpot:
    """A spot in the middle."""

    name, x, y, degrees = "middle", 0.5, 0.5, 5.0


@settings(max_examples=15, deadline=None)
@given(light=arrays(np.float32, (4, 3), elements=st.floats(-15, 15.5, width=32)))
def test_light_comes_back_within_half_a_code(tmp_path_factory, light):
    folder = tmp_path_factory.mktemp("truth")
    rgb = np.resize(np.exp2(light), (SIZE[1], SIZE[0], 3)).astype(np.float32)

    save_truth(truth_of(rgb), folder)
    back = load_truth("pier", folder)

    assert np.all(np.abs(np.log2(back.rgb / rgb)) <= np.log2(HALF_CODE) * 1.02)  # single precision


def test_facts_come_back(tmp_path):
    truth = truth_of(np.full((SIZE[1], SIZE[0], 3), 7.0, np.float32))

    save_truth(truth, tmp_path)
    back = load_truth("pier", tmp_path)

    assert (back.title, back.light, back.focal_35mm) == (truth.title, truth.light, truth.focal_35mm)
    assert back.find("middle").luminance == pytest.approx(7.0, rel=1e-5)
    assert names(tmp_path) == ("pier",)


def test_red_stays_red(tmp_path):
    rgb = np.tile(np.array([100.0, 10.0, 1.0], np.float32), (SIZE[1], SIZE[0], 1))

    save_truth(truth_of(rgb), tmp_path)

    assert load_truth("pier", tmp_path).rgb[5, 5] == pytest.approx([100, 10, 1], rel=1e-3)


def test_smaller_truth_keeps_the_mean_of_light(tmp_path):
    rng = np.random.default_rng(5)
    rgb = rng.uniform(1, 1000, (SIZE[1] * 2, SIZE[0] * 2, 3)).astype(np.float32)

    save_truth(truth_of(rgb), tmp_path)

    assert load_truth("pier", tmp_path).rgb.mean() == pytest.approx(rgb.mean(), rel=1e-4)


def test_unknown_scene_names_those_there_are(tmp_path):
    save_truth(truth_of(np.ones((SIZE[1], SIZE[0], 3), np.float32)), tmp_path)

    with pytest.raises(FileNotFoundError, match=r"no scene 'mill'.*pier"):
        load_truth("mill", tmp_path)


def test_unknown_spot_names_those_there_are():
    truth = truth_of(np.ones((SIZE[1], SIZE[0], 3), np.float32))

    with pytest.raises(KeyError, match=r"no spot 'door'.*middle"):
        truth.find("door")


def test_disc_has_the_solid_angle_of_its_cone():
    """26 mm by the diagonal: the corner is 39.8 degrees off the axis (reference value); a cone of 10 degrees."""
    wide, high = 1600, 1200
    across = 0.8 * 43.2666 / 2 / 26
    a = (2 * (np.arange(wide) + 0.5) / wide - 1) * across
    b = (1 - 2 * (np.arange(high) + 0.5) / high) * across * 0.75
    pixel = (2 * across / wide) ** 2 / (1 + a[None, :] ** 2 + b[:, None] ** 2) ** 1.5

    assert degrees(atan(hypot(across, across * 0.75))) == pytest.approx(39.8, abs=0.05)
    for x, y in ((0.5, 0.5), (0.2, 0.7)):
        cone = pixel[disc((high, wide), x, y, 10, 26.0)].sum()
        assert cone == pytest.approx(2 * pi * (1 - cos(radians(5))), rel=2e-3)  # pixels on the rim


@whole
def test_shipped_scene_has_its_spots_inside_the_picture(name):
    spots = {s.name: s for s in load_truth(name).spots}

    assert spots.keys() >= NEEDED
    assert all(0.02 < s.x < 0.98 and 0.02 < s.y < 0.98 and s.luminance > 0 for s in spots.values())


@whole
def test_stated_luminance_is_that_of_the_picture(name):
    """The spot was measured at full size, the file is a third of that: the rim of the disc differs."""
    truth = load_truth(name)
    for spot in truth.spots:
        mean = truth.luminance[disc(truth.luminance.shape, spot.x, spot.y, spot.degrees, truth.focal_35mm)].mean()
        assert mean == pytest.approx(spot.luminance, rel=0.08), spot.name


def test_there_are_six_scenes_and_they_are_small():
    assert names() == ("bridge", "lane", "moor", "quay", "shed", "snowfield")
    assert sum(p.stat().st_size for p in SHIPPED.parent.rglob("*") if "__pycache__" not in p.parts) < 10_000_000
