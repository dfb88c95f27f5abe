"""stopgap read with several photos of one scene."""

import json
from math import log2

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from meter.cli.app import main
from meter.jobs.load_order import Wish
from meter.jobs.meter_photo import meter_photos
from meter.pixels.light_map import BLOWN
from sample_scenes.camera import card, photograph
from sample_scenes.truth import load_truth
from tests.cli.phone import photo, place_of, retagged, series
from tests.photos import write_jpeg

PHONE = card("datum")  # renders as sRGB, so that what is tried is the merge


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def lane(tmp_path_factory):
    """Three photos of a lane in deep shade under a bright sky, three stops apart."""
    return sorted(series(tmp_path_factory.mktemp("merge") / "lane", "lane", PHONE, (-3, 0, 3)).iterdir())


def test_each_photo_says_what_it_gave(lane):
    told = json.loads(run("read", *lane, "--json").stdout)
    shares = [photo["share"] for photo in told["photos"]]
    assert sum(shares) == pytest.approx(1, abs=1e-3) and min(shares) > 0.01
    assert f"Gave {shares[0]:.0%} of the map." in run("read", *lane).output
    assert "of the map" not in run("read", lane[1]).output


def test_a_merged_map_holds_more_stops_and_they_are_true(lane):
    """Of the brightest fiftieth one photo only says "at least"; the merged map reads it."""
    truth = place_of("lane").luminance
    one, merged = (meter_photos(photos, Wish()).light for photos in (lane[1:2], lane))
    bright = truth > np.quantile(truth, 0.98)
    assert np.mean(one.extremes[bright] == BLOWN) > 0.9
    assert np.mean(merged.extremes[bright] == BLOWN) < 0.01
    known = merged.extremes == 0
    off = np.log2(merged.luminance[known] / truth[known])
    # This phone has neither glare nor a curve of its own: what is left is noise, rounding and JPEG.
    assert abs(np.median(off)) < 0.02 and np.quantile(np.abs(off), 0.9) < 0.1


def test_photos_that_shifted_are_put_in_register(tmp_path):
    truth = load_truth("quay")
    paths = []
    for number, (bias, (right, down)) in enumerate(((-1, (0, 0)), (0, (6, -4)), (1, (-5, 3)))):
        moved = np.roll(truth.rgb, (down, right), axis=(0, 1))[8:-8, 8:-8]
        paths.append(tmp_path / f"{number}.jpg")
        paths[-1].write_bytes(photograph(moved, PHONE, bias=bias, seed=number).jpeg)
    found = meter_photos(paths, Wish())
    width, height = truth.rgb.shape[1] - 16, truth.rgb.shape[0] - 16
    assert found.light.size == (width - 11, height - 7)
    left, top, right, bottom = found.window
    assert ((right - left) * width, (bottom - top) * height) == pytest.approx(found.light.size)


def test_a_map_is_drawn_over_the_photo_that_gave_most(lane, tmp_path):
    result = run("read", *lane, "--map", tmp_path / "map.svg")
    assert result.exit_code == 0
    told = json.loads(run("read", *lane, "--json").stdout)
    most = max(told["photos"], key=lambda one: one["share"])["file"].rsplit("/", 1)[1]
    assert f">{most}, merged with 2 more<" in (tmp_path / "map.svg").read_text("utf-8")


def test_a_merged_highlight_is_read_and_true(lane):
    spot = place_of("lane").find("highlight")
    words = ["--spot", f"{spot.x},{spot.y},{spot.degrees}", "--json"]
    (merged,) = json.loads(run("read", *lane, *words).stdout)["spots"]
    assert merged["bound"] == "exact"
    assert abs(log2(merged["luminance"] / spot.luminance)) < 2 * merged["sigma"]


def test_another_scene_lens_or_size_is_refused(lane, tmp_path):
    quay = photo(tmp_path / "quay.jpg", "quay", PHONE, bias=1)
    tele = retagged(tmp_path / "tele.jpg", lane[2], FocalLengthIn35mmFilm=52)
    small = retagged(tmp_path / "small.jpg", lane[2])
    small_pixels = cv2.resize(cv2.imread(str(small)), (320, 240))[:, :, ::-1]
    tags = {"ExposureTime": 1 / 60, "FNumber": 1.8, "PhotographicSensitivity": 100, "FocalLengthIn35mmFilm": 26}
    write_jpeg(small, small_pixels, tags | {"Make": PHONE.make, "Model": PHONE.model})
    for odd, says in ((quay, "does not show the scene"), (tele, "mixed lenses"), (small, "differ in size")):
        result = run("read", lane[1], odd)
        assert result.exit_code == 2, result.output
        assert says in " ".join(result.output.split())
