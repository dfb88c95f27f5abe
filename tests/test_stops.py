"""Engraved series and how people write apertures and times."""

import tomllib
from itertools import pairwise
from math import log2
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter import stops
from meter.errors import BadInput

TABLE = tomllib.loads((Path(__file__).parent / "published/series.toml").read_text("utf-8"))
LENS = (5.6, 8.0, 11.0, 16.0, 22.0, 32.0)


@pytest.mark.parametrize("row", TABLE["aperture"], ids=lambda row: f"f/{row['nominal']}")
def test_engraved_aperture_stands_for_its_exact_value(row):
    exact = stops.exact_f_number(row["nominal"])
    assert exact == pytest.approx(row["exact"], abs=0.0006)  # printed to 0.001
    if "error" in row:
        assert 2 * log2(row["nominal"] / exact) == pytest.approx(row["error"], abs=0.0006)


@pytest.mark.parametrize("row", TABLE["shutter"], ids=lambda row: f"1/{row['denominator']}")
def test_engraved_time_stands_for_its_exact_value(row):
    exact = stops.exact_time(1 / row["denominator"])
    assert exact == pytest.approx(1 / row["exact_denominator"])
    assert log2((1 / row["denominator"]) / exact) == pytest.approx(row["error"], abs=0.0006)


@pytest.mark.parametrize(("engraved", "exact"), [(15, 16), (30, 32), (60, 64), (1, 1), (8, 8)])
def test_long_times_double(engraved, exact):
    assert stops.exact_time(engraved) == exact


def test_an_old_shutter_time_stands_for_itself():
    assert [stops.exact_time(1 / d) for d in (5, 10, 25, 50, 100)] == [1 / d for d in (5, 10, 25, 50, 100)]


def test_a_phone_time_is_not_nominal():
    assert stops.system_camera_time(1 / 1848) == 1 / 1848
    assert stops.system_camera_time(1 / 125) == 1 / 128
    assert 1 / stops.system_camera_time(1 / 160) == pytest.approx(161.3, abs=0.05)  # 2^(22/3)


@pytest.mark.parametrize(
    ("text", "past_f11"), [("11", 0), ("f/11", 0), ("F11", 0), ("f/11 + 0.3", 0.3), ("11+6/10", 0.6), ("f/8+1", 0)]
)
def test_apertures_as_written(text, past_f11):
    """A variable iris may be set to 11 and 3 tenths or 6 tenths: common practice."""
    assert 2 * log2(stops.parse_f_number(text) / 2**3.5) == pytest.approx(past_f11, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "f/", "eleven", "0", "-8", "f/8+", "f/8+9", "nan", "inf", "8+1/0", "8+1e99999999"]
)
def test_what_is_no_aperture_is_refused(text):
    with pytest.raises(BadInput, match="not readable"):
        stops.parse_f_number(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1/125", 1 / 125),
        ("0.5", 0.5),
        ("2s", 2),
        ("90 s", 90),
        ("1m30s", 90),
        ("2min", 120),
        ("1h", 3600),
        ("1m30", 90),
        ("1h5m", 3900),
    ],
)
def test_times_as_written(text, seconds):
    assert stops.parse_time(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", ["", "s", "soon", "-1", "0", "1/0", "1/-2", "nan", "inf", "1e99999999", "2m m"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(BadInput, match="not readable"):
        stops.parse_time(text)


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (1 / 512, "1/500"),
        (1 / 16, "1/15"),
        (1 / 90, "1/90"),
        (0.5, "1/2"),
        (1.0, "1 s"),
        (0.7, "0.70 s"),
        (2.53, "2.5 s"),
        (9.97, "10 s"),
        (59.7, "1 min"),
        (125, "2 min 5 s"),
        (3600, "1 h"),
        (4230, "1 h 10 min"),
    ],
)
def test_times_as_shown(time_s, text):
    assert stops.time_text(time_s) == text


@given(st.floats(1e-4, 80_000))
def test_a_time_shown_can_be_read_back(time_s):
    shown = stops.time_text(time_s)
    # Shown times keep two digits (1/3 hundredths of a stop near 10 s is 0.07); engraved ones stand for exact ones.
    assert abs(log2(stops.exact_time(stops.parse_time(shown)) / time_s)) < 0.12


@given(st.floats(5.0, 10.0))
def test_an_aperture_shown_can_be_read_back(at):
    f_number = stops.f_number_at(at)
    shown = stops.aperture_text(f_number, LENS)
    assert abs(stops.aperture_stops(stops.parse_f_number(shown)) - at) <= 0.0501


@given(st.sampled_from([1, 2, 3]))
def test_clicks_are_even_and_include_both_ends(clicks):
    marks = tuple(stops.exact_f_number(m) for m in (3.5, 5.6, 8, 11, 16, 22))
    places = stops.click_positions(marks, clicks)
    assert places[0] == pytest.approx(stops.aperture_stops(marks[0]))
    assert places[-1] == pytest.approx(9)
    inner = [b - a for a, b in pairwise(places[1:])]
    assert inner == pytest.approx([1 / clicks] * len(inner))
