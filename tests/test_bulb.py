"""Holding B: times, misses, the card and a countdown's phases."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.bulb import (
    CARD_TIMES_S,
    CONTRAST_NOTE,
    Countdown,
    card,
    clocks_disagree,
    corrected,
    is_called,
    metered_time,
    plan_hold,
    stops_if_held,
)
from meter.errors import BadInput
from meter.reciprocity import Curve, Row

POWER = Curve("sheet", "power", "a sheet", "secondary", exponent=1.31)
# F-4016 p. 5 (published): 10 s -> 15 s, 100 s -> 200 s; and one note of our own to see it shown
ROWS = (Row(1, 1.26), Row(10, 15), Row(100, 200, note="10 % less development"))
TABLE = Curve("sheet", "table", "F-4016 p. 5", "published", published_to_s=100.0, rows=ROWS)

curves = st.sampled_from([None, POWER, TABLE])
times = st.floats(0.01, 10_000)


def test_hold_is_the_power_of_the_metered_time():
    # technical sheet, P = 1.31: 10 s -> 20.4 s, 30 s -> 86.1 s (reference values 6.2, computed from P)
    assert plan_hold(10.0, POWER).hold_s == pytest.approx(20.4, abs=0.05)
    assert plan_hold(30.0, POWER).hold_s == pytest.approx(86.1, abs=0.05)


def test_a_table_is_met_at_its_rows_and_flagged_past_them():
    assert plan_hold(10.0, TABLE).hold_s == pytest.approx(15)
    assert not plan_hold(100.0, TABLE).extrapolated
    beyond = plan_hold(200.0, TABLE)
    assert beyond.extrapolated
    assert any("beyond the 100 s" in note.lower() for note in beyond.notes)


def test_metered_time_follows_the_sunny_sixteen_arithmetic():
    # EV 15 at ISO 100 is f/16 at 1/128; each filter stop doubles, each doubling of EI halves
    assert metered_time(15, 16, 100) == pytest.approx(1 / 128)
    assert metered_time(15, 16, 200, stops=1) == pytest.approx(1 / 128)
    assert metered_time(0, 8, 100, stops=3) == pytest.approx(512)


@given(times, curves)
def test_holding_as_planned_is_no_miss(metered_s, curve):
    hold = plan_hold(metered_s, curve)
    assert stops_if_held(hold.hold_s, metered_s, curve) == pytest.approx(0, abs=1e-6)
    assert hold.hold_s >= metered_s * (1 - 1e-12)


@given(times, curves)
def test_misses_grow_with_the_time_and_cost_no_more_than_the_clock_says(metered_s, curve):
    hold = plan_hold(metered_s, curve)
    stops = [missed.stops for missed in hold.missed]
    assert stops == sorted(stops)
    assert -1 - 1e-9 <= stops[0] < 0 < stops[-1] <= 1 + 1e-9  # half and double the time, at most one stop each


@given(times, curves)
def test_the_safe_times_are_a_third_of_a_stop_off(metered_s, curve):
    early, late = plan_hold(metered_s, curve).safe_s
    assert stops_if_held(early, metered_s, curve) == pytest.approx(-1 / 3, abs=1e-6)
    assert stops_if_held(late, metered_s, curve) == pytest.approx(1 / 3, abs=1e-6)


def test_stopping_at_half_time_loses_less_than_a_stop_by_the_power_law():
    # inverse of t^1.31: half the time is 2^(-1/1.31) of the exposure, 0.763 stop less
    assert stops_if_held(plan_hold(100.0, POWER).hold_s / 2, 100.0, POWER) == pytest.approx(-0.763, abs=0.001)


def test_card_runs_from_a_second_to_an_hour_and_carries_the_sources_notes():
    rows = card(POWER)
    assert [row.metered_s for row in rows] == list(CARD_TIMES_S)
    assert rows[0].hold_s == 1.0 and rows[-1].metered_s == 3600.0
    assert [row.note for row in card(TABLE, (10.0, 100.0))] == ["", "10 % less development"]
    assert [row.extrapolated for row in card(TABLE, (100.0, 101.0))] == [False, True]


def test_notes_say_what_is_missing_short_or_growing():
    assert "as metered" in plan_hold(30.0, None).notes[0]
    assert "too short to hold by hand" in plan_hold(0.5, POWER).notes[0]
    assert CONTRAST_NOTE in plan_hold(60.0, POWER).notes
    assert CONTRAST_NOTE not in plan_hold(1.5, POWER).notes
    assert any("from 100 s metered: 10 % less" in note for note in plan_hold(150.0, TABLE).notes)


def test_a_countdown_leads_in_holds_and_is_over():
    countdown = Countdown(hold_s=10.0, lead_in_s=3.0)
    assert countdown.at(0.0).phase == "lead_in" and countdown.at(0.0).shown_s == 3
    opened = countdown.at(3.0)
    assert (opened.phase, opened.shown_s, opened.open_s) == ("open", 10, 0.0)
    assert countdown.at(12.5).shown_s == 1
    closed = countdown.at(13.0)
    assert (closed.phase, closed.remaining_s, closed.part) == ("over", 0.0, 1.0)
    assert countdown.at(16.7).shown_s == 3
    assert Countdown(2.0, 0.0).at(0.0).phase == "open"


@given(st.floats(0.1, 5000), st.floats(0, 60), st.floats(0, 10_000))
def test_a_countdown_never_loses_time(hold_s, lead_in_s, passed_s):
    moment = Countdown(hold_s, lead_in_s).at(passed_s)
    assert 0 <= moment.part <= 1 and moment.remaining_s >= 0
    if moment.phase == "open":
        assert moment.open_s + moment.remaining_s == pytest.approx(hold_s)
    assert moment.open_s == pytest.approx(max(passed_s - lead_in_s, 0), abs=1e-9)


def test_seconds_that_are_called_out():
    assert [s for s in range(130) if is_called(s)] == [*range(11), 20, 30, 40, 50, 60, 120]


def test_clocks_agree_to_a_second_or_half_a_percent():
    assert not clocks_disagree(10.0, 10.9) and clocks_disagree(10.0, 11.1)
    assert not clocks_disagree(3600.0, 3615.0) and clocks_disagree(3600.0, 3580.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: corrected(0, None),
        lambda: corrected(float("nan"), None),
        lambda: plan_hold(-1, POWER),
        lambda: stops_if_held(0, 10, POWER),
        lambda: metered_time(3, 0, 100),
        lambda: metered_time(float("nan"), 8, 100),
        lambda: metered_time(3, 8, 1e307),  # the same limits as the ladder's
        lambda: Countdown(0),
        lambda: Countdown(5, -1),
        lambda: Countdown(5, 61),
    ],
)
def test_impossible_times_are_refused(call):
    with pytest.raises(BadInput):
        call()
