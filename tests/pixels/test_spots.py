"""Discs of a stated angle, frame averages, and the areas with texture."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.pixels.light_map import BLACK, BLOWN, LightMap
from meter.pixels.spots import centre_patch, disc_patch, frame_patch, spot_radius
from meter.pixels.texture import textured_extremes

SIGMA = np.full(256, 0.3, np.float32)


def light(luminance, luma=None, extremes=None):
    luminance = np.asarray(luminance, np.float32)
    codes = np.clip(luminance, 0, 255).astype(np.uint8) if luma is None else luma
    marks = np.zeros(luminance.shape, np.uint8) if extremes is None else extremes
    return LightMap(luminance, codes, marks, SIGMA)


def test_a_spot_has_its_true_angular_size():
    """A 26 mm equivalent lens sees 79.5 degrees along the diagonal (2·atan(43.27/52)): that disc is the diagonal."""
    diagonal_degrees = 2 * np.degrees(np.arctan(43.2666 / 52))
    assert spot_radius(diagonal_degrees, 26, (400, 300)) == pytest.approx(250, rel=1e-4)
    assert spot_radius(1, 26, (4000, 3000)) == pytest.approx(np.radians(0.5) * 26 / 43.2666 * 5000, rel=1e-4)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0.5, 90))
def test_an_even_wall_reads_the_same_everywhere(x, y, radius):
    patch = disc_patch(light(np.full((30, 40), 77.0)), x, y, radius)
    assert patch.luminance == pytest.approx(77.0)
    # 0.3 of the response; towards the corners up to 0.25 more for fall-off, in quadrature.
    assert 0.3 - 1e-6 <= patch.sigma <= (0.3**2 + 0.25**2) ** 0.5 + 1e-6
    assert patch.noise == pytest.approx(0, abs=1e-3)


def test_a_disc_reads_only_its_own_light():
    wall = np.full((100, 100), 10.0)
    rows, columns = np.mgrid[:100, :100]
    inside = (rows - 49.5) ** 2 + (columns - 49.5) ** 2 <= 20**2
    wall[inside] = 80.0
    assert disc_patch(light(wall), 0.5, 0.5, 19).luminance == pytest.approx(80.0)  # rim pixels count in part
    mixed = disc_patch(light(wall), 0.5, 0.5, 40).luminance
    # A quarter of the larger disc is bright; pixels at the rim make 2 % of difference.
    assert mixed == pytest.approx(10 + 70 / 4, rel=0.02)


def test_shares_of_blown_and_black():
    marks = np.zeros((10, 10), np.uint8)
    marks[:3], marks[9] = BLOWN, BLACK
    patch = frame_patch(light(np.full((10, 10), 5.0), extremes=marks))
    assert (patch.blown, patch.black) == (pytest.approx(0.3, rel=1e-5), pytest.approx(0.1))


def test_centre_weighting_prefers_the_centre():
    scene = np.full((90, 120), 10.0)
    scene[30:60, 40:80] = 100.0
    assert centre_patch(light(scene)).luminance > frame_patch(light(scene)).luminance * 1.5


@pytest.mark.parametrize("place", [(-0.1, 0.5), (0.5, 1.2), (float("nan"), 0.5)])
def test_a_spot_outside_is_refused(place):
    with pytest.raises(BadInput, match="outside the picture"):
        disc_patch(light(np.ones((5, 5))), *place, 2)


def scene_with_textures():
    """Flat sky (bright), textured wall (middle), textured dark hedge, flat black doorway, blown lamp."""
    rng = np.random.default_rng(6)
    level = np.full((240, 320), 9.0)  # log2 luminance
    luma = np.full((240, 320), 180.0)
    marks = np.zeros((240, 320), np.uint8)

    def area(rows, columns, log2_luminance, code, grain):
        shape = level[rows, columns].shape
        noise = np.repeat(np.repeat(rng.normal(0, grain, (shape[0] // 4, shape[1] // 4)), 4, 0), 4, 1)
        level[rows, columns] = log2_luminance + noise
        luma[rows, columns] = code * 2 ** (noise / 2.2)

    area(np.s_[0:240], np.s_[0:320], 9.0, 180, 0.0)
    area(np.s_[100:200], np.s_[0:160], 7.0, 120, 0.25)
    area(np.s_[100:200], np.s_[160:320], 4.0, 45, 0.25)
    area(np.s_[200:240], np.s_[0:320], 0.0, 6, 0.0)
    area(np.s_[40:80], np.s_[120:200], 12.0, 255, 0.25)
    marks[40:80, 120:200] = BLOWN
    return light(2.0**level, luma.astype(np.uint8), marks)


def test_texture_is_found_and_flat_blown_and_black_do_not_count():
    darkest, lightest = textured_extremes(scene_with_textures())
    assert darkest.level == pytest.approx(4.0, abs=0.3)
    assert lightest.level == pytest.approx(7.0, abs=0.3)
    assert 0.42 < darkest.y < 0.83 < 0.84
    assert darkest.x > 0.5 > lightest.x


@pytest.mark.parametrize("shape", [(1, 1), (3, 200), (240, 320)])
def test_an_even_wall_has_no_texture(shape):
    assert textured_extremes(light(np.full(shape, 50.0))) is None
