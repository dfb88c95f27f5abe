"""Luminance, EV and APEX against published tables and a general-purpose library; and the laws between them."""

import tomllib
from math import log2
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter import light
from meter.errors import BadInput

TABLE = tomllib.loads((Path(__file__).parent / "published/ev_table.toml").read_text("utf-8"))
EVS = st.floats(-12, 24)
LAST_DIGIT = 0.005  # the table prints three significant digits or more: half a unit of the third


@pytest.mark.parametrize(("ev", "luminance", "illuminance", "sos"), TABLE["rows"])
def test_ev_table(ev, luminance, illuminance, sos):
    assert light.luminance_from_ev100(ev) == pytest.approx(luminance, rel=LAST_DIGIT)
    assert light.illuminance_from_ev100(ev) == pytest.approx(illuminance, rel=LAST_DIGIT)
    assert light.luminance_at_mid_grey(1.0, 2.0**-ev, 100) == pytest.approx(sos, rel=LAST_DIGIT)


@pytest.mark.parametrize(("n", "f_number", "time_s", "iso"), TABLE["apex"])
def test_apex_annex(n, f_number, time_s, iso):
    # Nominal labels differ from exact values by up to 0.093 stop (series.toml).
    assert log2(light.f_number_from_apex(n) / f_number) * 2 == pytest.approx(0, abs=0.1)
    assert log2(light.time_from_apex(n) / time_s) == pytest.approx(0, abs=0.1)
    assert light.brightness_value(1.0, 1.0, iso) == pytest.approx(-n)


@given(EVS, st.floats(10.6, 14))
def test_luminance_against_a_library(ev, k):
    """colour-hdri 0.2's luminance_to_exposure_value and exposure_value_100, a general-purpose library."""
    colour_hdri = pytest.importorskip("colour_hdri")
    luminance = light.luminance_from_ev100(ev, k)
    assert float(colour_hdri.luminance_to_exposure_value(luminance, 100, k)) == pytest.approx(ev, abs=1e-9)
    assert light.ev100_from_luminance(luminance, k) == pytest.approx(ev, abs=1e-9)


@given(st.floats(0.7, 90), st.floats(1e-5, 3600), st.floats(3, 100_000))
def test_settings_against_a_library(f_number, time_s, iso):
    colour_hdri = pytest.importorskip("colour_hdri")
    expected = float(colour_hdri.exposure_value_100(f_number, time_s, iso))
    assert light.ev100_from_settings(f_number, time_s, iso) == pytest.approx(expected, abs=1e-9)
    average = float(colour_hdri.average_luminance(f_number, time_s, iso, 12.5))
    assert light.luminance_from_ev100(expected) == pytest.approx(average, rel=1e-9)


@given(EVS)
def test_illuminance_there_and_back(ev):
    assert light.ev100_from_illuminance(light.illuminance_from_ev100(ev)) == pytest.approx(ev, abs=1e-9)


def test_mid_tone_is_three_tenths_above_a_meter():
    """0.30 EV between the SOS mid-tone, K 15.38, and K 12.5: reference table 0 (computed)."""
    ev = light.ev100_from_luminance(light.luminance_at_mid_grey(1.0, 1.0, 100))
    assert ev == pytest.approx(0.30, abs=0.005)


def test_a_thirtieth_at_f_11_is_ev_12():
    """Common practice, no source; exact values 1/32 and 2^3.5."""
    assert light.exposure_value(2**3.5, 1 / 32) == pytest.approx(12)


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf")])
def test_what_is_no_luminance_is_refused(value):
    with pytest.raises(BadInput, match="above 0"):
        light.ev100_from_luminance(value)


def test_a_reading_without_sense_is_refused():
    with pytest.raises(BadInput):
        light.Reading(float("nan"), 0.1)
    with pytest.raises(BadInput):
        light.Reading(1.0, 0.1, "about")


def test_meter_constant_stays_in_range():
    assert light.check_k(14) == 14
    with pytest.raises(BadInput, match=r"10\.6"):
        light.check_k(15.4)
