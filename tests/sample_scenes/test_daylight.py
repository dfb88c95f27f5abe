"""How much light there is at which altitude of the sun, against published tables."""

import tomllib
from math import exp, radians, sin
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_scenes.daylight import (
    direction,
    horizontal_lux,
    sky_horizontal_lux,
    sun_colour,
    sun_normal_lux,
    twilight_lux,
)

TABLE = tomllib.loads((Path(__file__).parents[1] / "published/daylight_illuminance.toml").read_text("utf-8"))
ROWS = TABLE["row"]
at_altitude = pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['altitude']} degrees")


@at_altitude
def test_clear_day_gives_the_figure_of_the_table(row):
    found = horizontal_lux(row["altitude"]) / 1000

    assert found == pytest.approx(row["ies_clear_klx"], rel=0, abs=row["ies_clear_last_digit"] / 2)


@at_altitude
def test_overcast_day_gives_the_figure_of_the_table(row):
    found = sky_horizontal_lux(row["altitude"], "overcast") / 1000

    assert found == pytest.approx(row["ies_overcast_klx"], rel=0, abs=row["ies_overcast_last_digit"] / 2 + 0.005)


@at_altitude
def test_clear_day_is_within_the_spread_of_the_other_source(row):
    assert 0.5 <= horizontal_lux(row["altitude"]) / row["supplement_lux"] <= 2


@pytest.mark.parametrize("row", ROWS + TABLE["twilight"], ids=lambda r: f"{r['altitude']} degrees")
def test_fit_gives_the_figure_of_the_table(row):
    # The table has three figures (two below -10 degrees): half of the last one.
    assert twilight_lux(row["altitude"]) == pytest.approx(row["supplement_lux"], rel=0.008)


def test_fit_and_table_of_sunset_agree_within_a_factor_of_two():
    sunset = TABLE["sunset"]

    assert 0.5 <= twilight_lux(sunset["altitude"]) / sunset["lux"] <= 2


@pytest.mark.parametrize("altitude", [-12, -5, -0.8, 5, 20])
def test_fit_is_continuous_where_its_pieces_meet(altitude):
    # Recalled coefficients have two to four figures; the steepest piece turns that into 6 %.
    assert twilight_lux(altitude - 1e-6) == pytest.approx(twilight_lux(altitude), rel=0.06)


def test_high_sun_and_midday_cloud_lie_in_the_ranges_of_other_tables():
    high, cloud = TABLE["direct_sun"], TABLE["overcast_midday"]

    assert high["least_lux"] <= horizontal_lux(75) <= high["most_lux"]
    assert cloud["least_lux"] <= sky_horizontal_lux(45, "overcast") <= cloud["most_lux"]


@given(altitude=st.floats(2, 88))
def test_higher_sun_gives_more_light(altitude):
    assert horizontal_lux(altitude + 1) > horizontal_lux(altitude)


@given(altitude=st.floats(5, 90))
def test_sun_fades_with_the_air_that_it_passes(altitude):
    """Beer's law: the extinction c is what two altitudes say it is."""
    found = sun_normal_lux(altitude) / sun_normal_lux(90)

    assert found == pytest.approx(exp(-0.21 * (1 / sin(radians(altitude)) - 1)), rel=1e-9)


def test_no_sun_below_the_horizon_or_behind_a_closed_cover():
    assert sun_normal_lux(-1) == 0
    assert sun_normal_lux(40, "overcast") == 0


def test_fit_refuses_the_deep_night():
    with pytest.raises(ValueError, match="-18"):
        twilight_lux(-19)


@given(altitude=st.floats(-10, 90), azimuth=st.floats(-180, 180))
def test_direction_has_length_1_and_the_altitude_asked_for(altitude, azimuth):
    d = direction(altitude, azimuth)

    assert np.linalg.norm(d) == pytest.approx(1, abs=1e-6)
    assert d[2] == pytest.approx(sin(radians(altitude)), abs=1e-6)


def test_low_sun_is_redder():
    low, high = sun_colour(5), sun_colour(50)

    assert low[0] / low[2] > 2 * high[0] / high[2]
