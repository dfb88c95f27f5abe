"""Reciprocity: laws that hold for any curve; every shipped curve at its published points."""

import tomllib
from math import inf, log
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.factors import read_stops
from meter.reciprocity import LONGEST_S, Curve, Row
from meter.shelf.reader import Shelf

PUBLISHED = tomllib.loads((Path(__file__).parent / "published" / "reciprocity.toml").read_text("utf-8"))
SHELF = Shelf(config=Path(__file__).parent / "no such folder")
FILMS = {name: SHELF.film(name) for name in SHELF.film_names()}
CURVES = [(film, curve) for film in FILMS.values() for curve in film.curves]


def curve_of(model: str, **numbers) -> Curve:
    return Curve("test", model, "made for this test", "computed", **numbers)


@st.composite
def tables(draw) -> Curve:
    """Tables as photographers write them: ascending times, never corrected to less."""
    begins_s = draw(st.floats(0.05, 200))
    rows, metered_s, stops = [], begins_s, 0.0
    for _ in range(draw(st.integers(1, 6))):
        metered_s *= draw(st.floats(1.05, 12)) if rows or draw(st.booleans()) else 1.0
        stops += draw(st.floats(0, 2))
        rows.append(Row(metered_s, metered_s * 2**stops))
    return curve_of("table", begins_s=begins_s, published_to_s=metered_s, rows=tuple(rows))


curves = st.one_of(
    st.floats(1, 2.5).map(lambda p: curve_of("power", exponent=p)),
    st.floats(0, 1).map(lambda a: curve_of("extra", begins_s=0.0, extra_s=a)),
    st.tuples(st.floats(0.05, 2), st.floats(-0.5, 4)).map(lambda ab: curve_of("log_stops", slope=ab[0], offset=ab[1])),
    st.floats(0.1, 1000).map(lambda t: curve_of("none", begins_s=t, published_to_s=t)),
    tables(),
    st.sampled_from([curve for _, curve in CURVES]),
)
times_s = st.floats(log(1e-4), log(1e6)).map(lambda x: 2.718281828459045**x)


@given(curves, times_s)
def test_the_inverse_of_the_corrected_time_is_the_metered_time(curve, metered_s):
    # Float noise: powers and logarithms of a few steps, far below what any shutter keeps.
    assert curve.metered_s(curve.corrected_s(metered_s)) == pytest.approx(metered_s, rel=1e-9)


@given(curves, times_s, times_s)
def test_a_longer_metered_time_is_held_longer_and_never_for_less_than_itself(curve, one_s, other_s):
    short_s, long_s = sorted((one_s, other_s))

    assert curve.corrected_s(short_s) <= curve.corrected_s(long_s)
    assert curve.corrected_s(long_s) >= long_s * (1 - 1e-12)  # float noise of exp(log(t))
    assert curve.stops(long_s) >= -1e-11


@given(curves, times_s, times_s)
def test_a_longer_held_time_was_metered_longer_and_never_for_more_than_itself(curve, one_s, other_s):
    short_s, long_s = sorted((one_s, other_s))

    assert curve.metered_s(short_s) <= curve.metered_s(long_s) <= long_s * (1 + 1e-12)


@pytest.mark.parametrize("row", PUBLISHED["row"], ids=lambda r: f"{r['film']} {r['curve']} {r['metered_s']:g} s")
def test_corrected_time_is_the_one_in_the_source(row):
    curve = FILMS[row["film"]].curve(row["curve"])

    # Half of the last printed digit: the source cannot tell us more than that.
    assert curve.corrected_s(row["metered_s"]) == pytest.approx(row["printed_s"], rel=0, abs=row["last_digit_s"] / 2)


@pytest.mark.parametrize("row", PUBLISHED["opening"], ids=lambda r: f"{r['film']} {r['metered_s']:g} s")
def test_opening_of_the_source_is_so_many_stops_of_time(row):
    curve = FILMS[row["film"]].curve(row["curve"])

    assert curve.stops(row["metered_s"]) == pytest.approx(read_stops(row["stops"]), abs=1e-9)


@pytest.mark.parametrize("row", PUBLISHED["fit"], ids=lambda r: f"{r['film']} {r['metered_s']:g} s")
def test_stops_of_a_fit_are_the_printed_ones(row):
    curve = FILMS[row["film"]].curve(row["curve"])

    assert curve.stops(row["metered_s"]) == pytest.approx(row["stops"], rel=0, abs=row["last_digit_stops"] / 2)


def test_every_shipped_curve_is_checked_against_a_source():
    checked = {(row["film"], row["curve"]) for rows in PUBLISHED.values() for row in rows}

    assert {(film.slug, curve.name) for film, curve in CURVES} == checked


def test_the_formula_of_the_sheets_does_nothing_up_to_a_second():
    curve = curve_of("power", exponent=1.31)

    assert [curve.corrected_s(t) for t in (1 / 500, 0.5, 1.0)] == [1 / 500, 0.5, 1.0]


def test_a_table_is_straight_between_its_rows_in_log_time():
    curve = curve_of("table", begins_s=1.0, rows=(Row(10, 50), Row(1000, 50000)))

    assert curve.corrected_s(100) == pytest.approx(50 * 1000**0.5)  # half way from 10 to 1000, and from 50 to 50 000


def test_beyond_the_last_row_the_last_slope_goes_on_and_is_flagged():
    curve = curve_of("table", begins_s=1.0, published_to_s=100.0, rows=(Row(10, 20), Row(100, 400)))

    assert curve.corrected_s(1000) == pytest.approx(8000)  # ×20 for each ×10
    assert [curve.extrapolated(t) for t in (99, 100, 101)] == [False, False, True]
    assert curve.caution(100) == ""
    assert curve.caution(101) == "beyond the 100 s that the 'test' figures cover: continued as a guess"


def test_a_flat_end_of_a_table_never_turns_back_towards_no_correction():
    curve = curve_of("table", begins_s=1.0, rows=(Row(10, 40), Row(100, 200)))

    assert curve.stops(10_000) == pytest.approx(1.0)  # the stop of the last row, not less


def test_a_single_row_keeps_its_stops():
    curve = curve_of("table", begins_s=60.0, rows=(Row(120, 240),))

    assert curve.stops(480) == pytest.approx(1.0)


def test_a_step_stands_where_the_sheet_puts_it():
    acros = FILMS["neopan-acros"].curve()

    assert acros.corrected_s(120) == 120
    assert acros.corrected_s(120.001) == pytest.approx(169.7, abs=0.1)
    assert acros.metered_s(150) == pytest.approx(120)  # inside the step: its foot


def test_no_correction_says_that_nothing_is_known_beyond_its_range():
    ektar = FILMS["ektar-100"].curve()

    assert ektar.corrected_s(30) == 30
    assert ektar.extrapolated(30)
    assert ektar.caution(30) == "no published figure beyond 1 s: left uncorrected, test first"


@pytest.mark.parametrize("time_s", [0, -1, inf, float("nan"), LONGEST_S * 2])
def test_impossible_metered_times_are_refused(time_s):
    with pytest.raises(BadInput, match="metered time must be above 0"):
        curve_of("power", exponent=1.3).corrected_s(time_s)


@pytest.mark.parametrize("time_s", [0, -1, inf, float("nan"), 1e300])
@pytest.mark.parametrize("curve", [curve_of("extra", extra_s=0.2), curve_of("none"), curve_of("power", exponent=1.3)])
def test_impossible_held_times_are_refused(curve, time_s):
    with pytest.raises(BadInput, match="held time must be above 0"):
        curve.metered_s(time_s)


def test_unknown_models_and_empty_tables_are_refused():
    with pytest.raises(BadInput, match="reciprocity model 'magic' is not known; there are power, extra, table"):
        curve_of("magic")
    with pytest.raises(BadInput, match="table without rows"):
        curve_of("table")
