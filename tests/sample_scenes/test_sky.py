"""The sky against the CIE general sky, and the colours of light against a reference library."""

import tomllib
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_scenes.colour import LUMINANCE, daylight_xy, lamp_xy, light_colour
from sample_scenes.daylight import direction
from sample_scenes.sky import TYPES, Sky, gradation, indicatrix, relative_luminance

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published/sky.toml").read_text("utf-8"))
kinds = st.sampled_from(sorted(TYPES))


def toward(zenith_angle: float, azimuth: float) -> np.ndarray:
    """A direction (3, 1)."""
    return direction(90 - zenith_angle, azimuth).reshape(3, 1)


@pytest.mark.parametrize("row", PUBLISHED["ratio"], ids=lambda r: f"type {r['type']} at {r['zenith_angle']}")
def test_luminance_ratio_follows_the_standard(row):
    sun = direction(90 - row["sun_zenith_angle"], 0)

    found = relative_luminance(row["type"], toward(row["zenith_angle"], row["azimuth"]), sun)

    assert found[0] == pytest.approx(row["ratio"], rel=1e-3)  # single precision near the sun, where f is steep


@pytest.mark.parametrize("row", PUBLISHED["anchor"], ids=lambda r: r["what"])
def test_overcast_sky_is_near_the_older_law(row):
    found = relative_luminance(row["type"], toward(row["zenith_angle"], 0), direction(40, 0))

    assert found[0] == pytest.approx(row["ratio"], rel=row["tolerance"])


@given(kind=kinds, altitude=st.floats(5, 85))
def test_every_sky_is_1_at_its_zenith(kind, altitude):
    assert relative_luminance(kind, toward(0, 0), direction(altitude, 0))[0] == pytest.approx(1, rel=1e-4)


@pytest.mark.parametrize("kind", TYPES)
def test_gradation_is_1_at_the_horizon_and_scattering_at_a_right_angle(kind):
    a, b, *_ = TYPES[kind]

    # The formula ends where the sine is 0.01: what is left of the gradation there is below a * exp(100 b).
    assert gradation(kind, np.float32(0)) == pytest.approx(1, abs=abs(a) * np.exp(100 * b) + 1e-6)
    assert indicatrix(kind, np.float32(0)) == pytest.approx(1, abs=1e-5)


@given(zenith_angle=st.floats(0, 90), azimuth=st.floats(0, 360), altitude=st.floats(5, 85))
def test_uniform_sky_is_uniform(zenith_angle, azimuth, altitude):
    found = relative_luminance(5, toward(zenith_angle, azimuth), direction(altitude, 0))

    assert found[0] == pytest.approx(1, rel=1e-6)


@pytest.mark.parametrize("kind", [1, 5, 12, 15])
def test_sky_lights_level_ground_as_stated(kind):
    sky = Sky(kind, direction(35, 0), lux=12_000.0)
    nodes, weights = np.polynomial.legendre.leggauss(120)  # another rule than the one that scaled the sky
    sine, weight = (nodes + 1) / 2, weights / 2
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    s, t = (m.ravel() for m in np.meshgrid(sine, turn, indexing="ij"))
    flat = np.sqrt(1 - s * s)
    d = np.stack([flat * np.sin(t), flat * np.cos(t), s]).astype(np.float32)

    found = (sky.luminance(d) * s).reshape(sine.size, -1).mean(axis=1) @ weight * 2 * np.pi

    assert found == pytest.approx(12_000, rel=3e-3)  # the coarser rule misses a little of the corona


def test_unbroken_sky_has_the_luminance_of_its_colour():
    sky = Sky(12, direction(40, 30), 13_000, 16_000, 7_000, 5_800)
    d = np.concatenate([toward(20, 100), toward(70, 250)], axis=1)

    assert LUMINANCE @ sky.rgb(d) == pytest.approx(sky.luminance(d), rel=1e-4)


@pytest.fixture(scope="module")
def colour():
    """The reference library; what it says about missing optional packages is not our business."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("colour", reason="colour-science is a test dependency")


@pytest.mark.parametrize("kelvin", [4000, 5500, 6504, 7000, 9000, 15_000, 25_000])
def test_daylight_chromaticity_is_that_of_cie_15(colour, kelvin):
    assert daylight_xy(kelvin) == pytest.approx(colour.temperature.CCT_to_xy_CIE_D(kelvin), abs=1e-4)


@pytest.mark.parametrize("kelvin", [1800, 2200, 2400, 2700, 3200, 3900])
def test_lamp_chromaticity_is_that_of_kang_2002(colour, kelvin):
    assert lamp_xy(kelvin) == pytest.approx(colour.temperature.CCT_to_xy_Kang2002(kelvin), abs=1e-5)


@pytest.mark.parametrize("kelvin", [2700, 4300, 5500, 9000, 20_000])
def test_linear_srgb_of_a_light_is_that_of_the_library(colour, kelvin):
    x, y = daylight_xy(kelvin) if kelvin >= 4000 else lamp_xy(kelvin)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        expected = colour.XYZ_to_sRGB(colour.xy_to_XYZ((x, y)), apply_cctf_encoding=False)

    # The matrix has four decimals in the standard: 0.5 % of luminance.
    assert light_colour(kelvin) == pytest.approx(np.maximum(expected, 0), abs=5e-3)


def test_d65_is_the_white_of_srgb():
    assert light_colour(6504) == pytest.approx([1, 1, 1], abs=5e-3)


@given(kelvin=st.floats(1700, 25_000))
def test_colour_has_luminance_1(kelvin):
    assert light_colour(kelvin) @ LUMINANCE == pytest.approx(1, rel=1e-5)
