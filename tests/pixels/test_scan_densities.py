"""Densities off a linear scan whose light is known."""

import cv2
import numpy as np
import pytest

from meter.errors import PhotoError
from meter.pixels.scan_densities import read_densities

NET = (0.10, 0.40, 0.70, 1.25)  # densities of four patches, in a row right of the clear film
BASE = (0.1, 0.5)
SPOTS = [(0.3, 0.5), (0.5, 0.5), (0.7, 0.5), (0.9, 0.5)]


def a_scan(path, net=NET, base_value=50_000, grain=0.0, channels=3):
    light = np.repeat([1.0, *(10.0**-d for d in net)], 40)[None, :].repeat(100, axis=0) * base_value
    light = light * np.random.default_rng(3).normal(1, grain, light.shape) if grain else light
    pixels = np.clip(np.rint(light), 0, 65535).astype(np.uint16)
    cv2.imwrite(str(path), pixels if channels == 1 else np.dstack([pixels] * channels))
    return path


@pytest.mark.parametrize("name", ["scan.tif", "scan.png"])
@pytest.mark.parametrize("channels", [1, 3])
def test_known_densities_come_back(tmp_path, name, channels):
    found = read_densities(a_scan(tmp_path / name, channels=channels), BASE, SPOTS, size=0.2)

    # Half a code in 2812, the darkest patch, is 0.0001 of density.
    assert [spot.density for spot in found] == pytest.approx(list(NET), abs=1e-4)
    assert {spot.bound for spot in found} == {"exact"}


def test_grain_widens_sigma_and_sigma_covers_the_error(tmp_path):
    found = read_densities(a_scan(tmp_path / "a.tif", grain=0.2), BASE, SPOTS, size=0.2)

    for spot, truth in zip(found, NET, strict=True):
        assert 0.001 < spot.sigma < 0.02
        assert abs(spot.density - truth) < 4 * spot.sigma


def test_what_the_scanner_could_not_see_through_is_a_bound(tmp_path):
    (spot,) = read_densities(a_scan(tmp_path / "a.tif", net=(0.1, 0.4, 0.7, 3.2)), BASE, SPOTS[3:])
    assert spot.bound == "at_least"


@pytest.mark.parametrize(
    ("options", "base", "spots", "complaint"),
    [
        ({"base_value": 80_000}, BASE, SPOTS, "is clipped"),
        ({"base_value": 20}, BASE, SPOTS, "is black"),
        ({}, SPOTS[2], SPOTS[:1], "lighter than the film base"),
        ({}, BASE, [(1.5, 0.5)], "outside the picture"),
    ],
)
def test_a_wrong_base_or_spot_is_named(tmp_path, options, base, spots, complaint):
    with pytest.raises(PhotoError, match=complaint):
        read_densities(a_scan(tmp_path / "a.tif", **options), base, spots)


def test_what_is_no_16_bit_scan_is_refused(tmp_path):
    eight = tmp_path / "eight.png"
    cv2.imwrite(str(eight), np.full((20, 20), 128, np.uint8))
    text, empty = tmp_path / "text.tif", tmp_path / "empty.tif"
    text.write_text("quay")
    empty.touch()
    for path, complaint in [(eight, "not a 16-bit scan"), (text, "is not a photo we can read"), (empty, "is empty"),
                            (tmp_path, "there is no scan"), (tmp_path / "no.tif", "there is no scan")]:  # fmt: skip
        with pytest.raises(PhotoError, match=complaint):
            read_densities(path, BASE, SPOTS)


def test_a_scan_too_large_or_of_another_kind_is_refused_before_it_is_decoded(tmp_path, monkeypatch):
    scan = a_scan(tmp_path / "a.tif")
    jpeg = tmp_path / "a.jpg"
    cv2.imwrite(str(jpeg), np.full((20, 20, 3), 128, np.uint8))
    monkeypatch.setattr("cv2.imdecode", None)  # decoding would be a TypeError
    monkeypatch.setattr("meter.pixels.scan_densities.MOST_PIXELS", 200 * 100 - 1)
    with pytest.raises(PhotoError, match="megapixels: scan it smaller"):
        read_densities(scan, BASE, SPOTS)
    with pytest.raises(PhotoError, match="is a JPEG picture: save the scan as linear 16-bit"):
        read_densities(jpeg, BASE, SPOTS)


def test_a_machine_without_opencvs_libraries_is_told_which(tmp_path, monkeypatch):
    scan = a_scan(tmp_path / "a.png")

    def missing(name, *rest, real=__import__):
        if name == "cv2":
            raise ImportError("libGL.so.1: cannot open shared object file")
        return real(name, *rest)

    monkeypatch.setattr("builtins.__import__", missing)
    with pytest.raises(PhotoError, match="install libgl1"):
        read_densities(scan, BASE, SPOTS)


def test_a_tiny_scan_and_a_corner_still_read(tmp_path):
    path = tmp_path / "a.png"
    cv2.imwrite(str(path), np.array([[40_000, 4_000]], np.uint16))
    (spot,) = read_densities(path, (0, 0), [(1, 1)])
    assert spot.density == pytest.approx(1.0)
