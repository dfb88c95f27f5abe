"""The simulated cameras against published laws and figures: noise, mid-tone, sRGB, fall-off, glare."""

import warnings
from dataclasses import replace
from io import BytesIO
from math import log2, radians, tan

import numpy as np
import pytest
from PIL import Image
from skimage.color import xyz2rgb

from sample_scenes import optics, sensor, tone
from sample_scenes.camera import card, photograph

with warnings.catch_warnings():  # colour-science warns about plotting libraries that we do not use
    warnings.simplefilter("ignore")
    import colour

FLAT = (300, 400, 3)
MEANS_E = (50, 200, 800, 3200)  # electrons


def noise_at(electrons: float, read_noise_e: float) -> tuple[float, float]:
    """Mean and variance, in electrons, of green pixels of the datum sensor under even light."""
    part = replace(card("datum").sensor, megapixels=0.1, read_noise_e=read_noise_e, crosstalk=0.0)
    per_level = sensor.electrons_at_clip(part, part.base_iso) / part.headroom
    levels = np.full(FLAT, electrons / per_level, np.float32)
    green = sensor.expose(levels, part, part.base_iso, np.random.default_rng(3))[..., 1] * per_level
    return float(green.mean()), float(green.var())


def test_photon_transfer_line():
    """Variance grows by one electron² an electron, from the read noise squared.

    Source: photon transfer, as in EMVA 1288 (memory): sigma² = sigma_dark² + K · mean, K = 1 in electrons.
    """
    means, variances = zip(*(noise_at(electrons, read_noise_e=5.0) for electrons in MEANS_E), strict=True)

    slope = np.polyfit(means, variances, 1, w=1 / np.array(variances))[0]

    # A variance from 120 000 pixels has a relative deviation of sqrt(2/120000) = 0.4 %; 2 % is five of them.
    assert slope == pytest.approx(1.0, rel=0.02)
    for mean, variance in zip(means, variances, strict=True):
        assert variance == pytest.approx(mean + 25, rel=0.02)


def test_signal_to_noise_falls_by_half_a_power_of_iso():
    """Four times the ISO at the same level has a quarter of the electrons, so half the signal to noise (shot noise)."""
    part = replace(card("datum").sensor, megapixels=0.1, read_noise_e=0.0)
    levels = np.full(FLAT, 0.18, np.float32)

    low, high = (sensor.expose(levels, part, iso, np.random.default_rng(4))[..., 1] for iso in (50, 200))

    assert (low.mean() / low.std()) / (high.mean() / high.std()) == pytest.approx(2.0, rel=0.02)


def test_a_smaller_picture_averages_the_sensor():
    """Averaging n pixels divides the noise by sqrt(n), read noise included."""
    fine = replace(card("datum").sensor, megapixels=0.12)
    levels = np.full(FLAT, 0.02, np.float32)  # 120 000 pixels: one to one

    one, nine = (
        sensor.expose(levels, replace(fine, megapixels=m), 50, np.random.default_rng(5))[..., 1].std()
        for m in (0.12, 1.08)
    )

    assert one / nine == pytest.approx(3.0, rel=0.02)


def test_mid_tone_lands_on_118():
    """ISO 12232 standard output sensitivity: H = 10/S gives 8-bit sRGB 118 (memory; 0.18 encodes to 117.65).

    With H = q·L·t/N² and q = 0.65, the luminance is L = 10/0.65 · N²/(t·S).
    """
    plain, time_s, iso = card("datum"), 1 / 100, 100
    luminance = 10 / 0.65 * plain.lens.f_number**2 / (time_s * iso)

    shot = photograph(np.full((120, 160, 3), luminance, np.float32), plain, exposure=(time_s, iso))

    codes = np.asarray(Image.open(BytesIO(shot.jpeg)), dtype=float)
    # One code value: 117.65 rounded, and the noise of the mean of 19 200 pixels is far below that.
    assert codes.mean(axis=(0, 1)) == pytest.approx([117.65] * 3, abs=0.5)


@pytest.mark.parametrize("library", ["colour-science", "scikit-image"])
def test_srgb_curve_is_the_standard_one(library):
    levels = np.linspace(0, 1, 2001)
    if library == "colour-science":
        expected = colour.models.eotf_inverse_sRGB(levels)
    else:
        white = np.array([0.95047, 1.0, 1.08883])  # D65, 2 degrees
        expected = xyz2rgb(levels[:, None, None] * white)[:, 0, 1]

    encoded = tone.srgb_encode(levels)

    # scikit-image's matrix and white are rounded to five and six digits.
    assert encoded == pytest.approx(expected, abs=1e-12 if library == "colour-science" else 1e-4)
    assert tone.srgb_decode(encoded) == pytest.approx(levels, abs=1e-6)  # the standard's two halves meet to 1e-7


@pytest.mark.parametrize(
    ("focal_35mm", "corner_degrees", "printed_stops"),
    [(13, 59.0, -3.83), (24, 42.0, -1.72), (26, 39.8, -1.52), (28, 37.7, -1.35), (35, 31.7, -0.93), (50, 23.4, -0.50)],
)
def test_corner_fall_off(focal_35mm, corner_degrees, printed_stops):
    """cos⁴ of the half-diagonal angle; corner angles and stops as tabulated (computed from 43.27 mm)."""
    field = optics.cos4((1201, 1601), focal_35mm)

    # Half the last printed digit, and the outermost pixel's middle is 1/2000 inside the corner.
    assert log2(field[0, 0]) == pytest.approx(printed_stops, abs=0.005 + 0.003)
    assert tan(radians(corner_degrees)) == pytest.approx(43.27 / 2 / focal_35mm, rel=0.003)
    assert field[600, 800] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(("stops_under", "reads_high"), [(2, 0.11), (3, 0.21), (4, 0.40), (7, 1.83)])
def test_two_percent_of_veil_lifts_a_dark_patch(stops_under, reads_high):
    """Glare of 2 % of the mean lifts Zones III, II and I, and seven stops under the mean, by this (computed)."""
    light = np.full((200, 200, 3), 100.0, np.float32)
    light[90:110, 90:110] = 100.0 / 2**stops_under

    veiled = optics.veil(light, wide=0.02, local=0.0, local_width=0.0)

    # 0.03: the 2 % that the patch itself gives away; 0.01: the patch lowers the mean, and rounding of the table.
    assert log2(veiled[100, 100, 1] / light[100, 100, 1]) == pytest.approx(reads_high, abs=0.04)
