"""Pixels as light: tables against a library, 16 bits against 8, small maps against whole ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.falloff import Falloff
from meter.light import luminance_at_mid_grey
from meter.pixels.decode import Photo
from meter.pixels.light_map import BLACK, BLOWN, light_map, small_map
from meter.response import DEFAULT_RESPONSE, LUMINANCE_WEIGHTS, MID_CODE, tables_for

TABLES = tables_for(DEFAULT_RESPONSE, 100.0, LUMINANCE_WEIGHTS["srgb"])


def photo(pixels, orientation=1):
    return Photo("a", np.ascontiguousarray(pixels), {}, "srgb", pixels.shape[1::-1], orientation)


@pytest.mark.parametrize(
    ("space", "name"), [("srgb", "sRGB"), ("display-p3", "Display P3"), ("adobe-rgb", "Adobe RGB (1998)")]
)
def test_luminance_weights_against_a_library(space, name):
    """Y row of the RGB-to-XYZ matrix, colour-science 0.4.7, four digits as the standards print."""
    colour = pytest.importorskip("colour")
    row = colour.RGB_COLOURSPACES[name].matrix_RGB_to_XYZ[1]
    assert LUMINANCE_WEIGHTS[space] == pytest.approx(tuple(row), abs=5e-5)


def test_srgb_pixels_against_a_library():
    """Random 8-bit pixels: IEC 61966-2-1 decoding and Y by colour-science."""
    colour = pytest.importorskip("colour")
    rgb = np.random.default_rng(3).integers(0, 256, (20, 30, 3)).astype(np.uint8)
    linear = colour.models.eotf_sRGB(rgb / 255)
    expected = linear @ np.array([0.2126, 0.7152, 0.0722]) / 0.18 * 100
    assert light_map(photo(rgb[:, :, ::-1]), TABLES).luminance == pytest.approx(expected, rel=1e-5, abs=1e-6)


def test_the_mid_code_is_the_mid_tone():
    """ISO 12232 (memory): 8-bit sRGB 118 is 18 % grey; exactly 0.18116 (colour-science), 0.009 EV above."""
    mid = luminance_at_mid_grey(2.0, 1 / 60, 100)
    tables = tables_for(DEFAULT_RESPONSE, mid, LUMINANCE_WEIGHTS["srgb"])
    grey = tables.red[MID_CODE] + tables.green[MID_CODE] + tables.blue[MID_CODE]
    assert grey == pytest.approx(mid * 0.18116 / 0.18, rel=1e-4)


def test_sixteen_bits_pass_through_the_same_codes():
    eight = np.random.default_rng(4).integers(0, 256, (9, 7, 3)).astype(np.uint8)
    sixteen = eight.astype(np.uint16) * 257
    a, b = light_map(photo(eight), TABLES), light_map(photo(sixteen), TABLES)
    assert a.luminance == pytest.approx(b.luminance, rel=1e-5)
    assert (a.luma == b.luma).all()


def test_blown_and_black_are_marked():
    pixels = np.zeros((1, 5, 3), np.uint8)
    pixels[0, 0] = (255, 255, 255)
    pixels[0, 1] = (10, 10, 255)  # red clipped alone
    pixels[0, 2] = (255, 128, 128)  # blue clipped alone carries 7 % of the light: not counted
    pixels[0, 3] = (3, 3, 3)
    pixels[0, 4] = (90, 90, 90)
    assert light_map(photo(pixels), TABLES).extremes.tolist() == [[BLOWN, BLOWN, 0, BLACK, 0]]


@given(st.sampled_from(range(1, 9)))
def test_light_and_marks_turn_together(orientation):
    pixels = np.zeros((2, 3, 3), np.uint8)
    pixels[0, 0] = 255
    turned = light_map(photo(pixels, orientation), TABLES)
    assert turned.size == ((3, 2) if orientation < 5 else (2, 3))
    assert np.argmax(turned.luminance) == np.argmax(turned.extremes == BLOWN)


def test_falloff_gives_the_corners_back():
    pixels = np.full((60, 80, 3), 118, np.uint8)
    falloff = Falloff(0.5, 0.5, -1.0, 0.0, 0.0, 0.05)
    light = light_map(photo(pixels), TABLES, falloff)
    corner, middle = light.luminance[0, 0], light.luminance[30, 40]
    # One stop at the very corner; the corner pixel's centre lies a hundredth of the half diagonal inside.
    assert np.log2(corner / middle) == pytest.approx(1.0, abs=0.05)
    # The pure scalar and the array path are the same polynomial.
    gain = np.log2(light.luminance[10, 20] / middle)
    assert gain == pytest.approx(-falloff.stops_at(20.5 / 80, 10.5 / 60, 80 / 60), abs=0.01)


def test_a_small_map_keeps_the_mean():
    pixels = np.random.default_rng(5).integers(0, 256, (960, 1280, 3)).astype(np.uint8)
    full = light_map(photo(pixels), TABLES)
    small = small_map(full)
    assert small.size == (320, 240)
    assert small.luminance.mean() == pytest.approx(full.luminance.mean(), rel=1e-4)


def test_a_tiny_picture_is_its_own_small_map():
    full = light_map(photo(np.full((1, 1, 3), 118, np.uint8)), TABLES)
    assert small_map(full) is full
