"""The rungs that give one exposure on one kit, and the one to prefer."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.camera import Back, Kit, Lens, shutter_from_marks
from meter.errors import BadInput
from meter.ladder import END_TOLERANCE_STOPS, exposure_ev, ladder, metered_for, prefer
from meter.reciprocity import Curve

MODERN = [1 / d for d in (500, 250, 125, 60, 30, 15, 8, 4, 2)] + [1.0]
SIXTH = Back("6x7", 70, 56, 10)
SHEET = Curve("sheet", "power", "technical sheet", "secondary", exponent=1.31)
EVS = st.floats(-4, 20)


def kit(iris="continuous", measured=None, marks=(3.5, 5.6, 8, 11, 16, 22, 32)):
    return Kit("k", "k", Lens(90, marks, iris), shutter_from_marks(MODERN, measured or {}), SIXTH)


@given(EVS, st.sampled_from(["continuous", "whole", "half", "third"]), st.sampled_from([None, SHEET]))
def test_every_usable_rung_gives_the_exposure_it_states(ev, iris, curve):
    for rung in ladder(kit(iris, {1 / 250: 1 / 190}), ev, curve):
        if rung.usable:
            # Exposure on film against exposure asked, reciprocity undone on the shutter's side.
            given_stops = log2(metered_for(rung.time_s, curve) / rung.f_number**2) + ev
            assert given_stops == pytest.approx(rung.error_stops, abs=1e-9)


@given(EVS)
def test_a_rung_out_of_reach_says_what_brings_it_in(ev):
    for rung in ladder(kit(), ev, None):
        assert rung.usable or ("ND" in rung.notes[0]) != rung.notes[0].endswith(("faster film or B", "dark: B"))


@given(EVS, st.sampled_from(["continuous", "whole", "half", "third"]))
def test_error_stays_within_half_a_click(ev, iris):
    worst = {"continuous": 0, "whole": 0.5, "half": 0.25, "third": 1 / 6}[iris]
    for rung in ladder(kit(iris), ev, None):
        assert abs(rung.error_stops) <= max(worst, END_TOLERANCE_STOPS) + 1e-9


def test_sunny_sixteen():
    """EV 15, ISO 400: f/16 at 1/500 is EV 14.97 by the F-4017 daylight table (computed from nominal marks)."""
    rungs = ladder(kit(), exposure_ev(15, 400), None)
    (fast,) = [rung for rung in rungs if rung.shutter == "1/500"]
    assert (fast.aperture, fast.between.fraction) == ("f/16", 0)


def test_a_measured_slow_shutter_closes_the_iris():
    (slow,) = [r for r in ladder(kit(measured={1 / 250: 1 / 181}), 14, None) if r.shutter == "1/250"]
    (true,) = [r for r in ladder(kit(), 14, None) if r.shutter == "1/250"]
    assert slow.f_number > true.f_number
    assert slow.time_s == 1 / 181
    assert "0.5 slow" in slow.notes[0]


def test_reciprocity_comes_last_and_on_marked_seconds_too():
    """B at f/22 and EV 3 is 64 s metered, held 64^1.31 (technical sheet); an eager curve changes a marked 1 s too."""
    rungs = ladder(kit(), 3.0, SHEET)
    (b22,) = [rung for rung in rungs if rung.bulb and rung.aperture == "f/22"]
    assert b22.metered_s == pytest.approx(2**9 / 2**3)
    assert b22.hold_s == pytest.approx(64**1.31)
    eager = Curve("eager", "table", "a table by hand", "computed", begins_s=0.1, rows=_rows((0.5, 1.0), (10, 100)))
    (second,) = [rung for rung in ladder(kit(), 5.0, eager) if rung.shutter == "1 s"]
    assert second.metered_s == pytest.approx(0.5)
    assert second.f_number == pytest.approx((0.5 * 2**5) ** 0.5)


def _rows(*pairs):
    from meter.reciprocity import Row

    return tuple(Row(metered, corrected) for metered, corrected in pairs)


def test_a_correction_below_a_second_is_said_too():
    eager = Curve("eager", "table", "a table by hand", "computed", begins_s=0.1, rows=_rows((0.5, 1.0), (10, 100)))
    (half,) = [rung for rung in ladder(kit(), 7.0, eager) if rung.shutter == "1/2"]
    assert half.metered_s < 0.5
    assert half.notes[0] == "metered 0.31 s, +0.7"


def test_an_old_series_without_whole_stops_has_b_on_every_mark():
    """4.5 6.3 9 12.5 18 25: thirds of a stop, 12.5 an older label of f/12.7."""
    old = kit(marks=(4.5, 6.3, 9, 12.5, 18, 25))
    held = [rung for rung in ladder(old, -2.0, None) if rung.bulb]
    assert [rung.aperture for rung in held] == ["f/4.5", "f/6.3", "f/9", "f/12.5", "f/18", "f/25"]
    assert held[3].metered_s == pytest.approx(2 ** (22 / 3) * 4, rel=1e-6)


@given(st.floats(-12, 0))
def test_no_hold_outlasts_a_nights_patience(ev):
    for rung in ladder(kit(), ev, SHEET):
        if rung.bulb:
            assert rung.hold_s <= 4 * 3600
            assert rung.hold_s <= 3600 or any("longer than any source" in note for note in rung.notes)


def test_prefers_a_hand_held_rung_in_the_middle_of_the_iris():
    rungs = ladder(kit(), 13.0, None)
    choice = prefer(kit(), rungs)
    chosen = rungs[choice.index]
    assert chosen.time_s <= 1 / 43
    assert 8 <= chosen.f_number <= 16
    assert "hand" in choice.why


def test_says_tripod_when_nothing_can_be_held_by_hand():
    rungs = ladder(kit(), 3.0, None)
    choice = prefer(kit(), rungs)
    assert "tripod" in choice.why
    assert rungs[choice.index].time_s == min(rung.time_s for rung in rungs if rung.usable)


def test_says_so_when_nothing_will_do():
    choice = prefer(kit(), ladder(kit(), 24.0, None))
    assert choice.index is None
    assert "bring" in choice.why


def test_what_stands_before_the_lens_lowers_the_ev():
    assert exposure_ev(12.0, 100, filter_stops=1.0, closeup_stops=0.5) == 10.5
    with pytest.raises(BadInput, match="exposure index"):
        exposure_ev(12.0, 0)
