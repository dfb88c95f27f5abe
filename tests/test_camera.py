"""Lenses, shutters, backs: marks, clicks, pointer places."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.camera import FRAMES_ON_120, Back, Kit, Lens, shutter_from_marks
from meter.errors import BadInput
from meter.stops import aperture_stops, f_number_at

WIDE = Lens(65, (6.3, 8, 11, 16, 22, 32))


def test_pointer_between_marks_a_stop_apart_and_two_thirds_apart():
    """Between 5.6 and 8 is one stop, between 6.3 and 8 two thirds (series of powers of two)."""
    modern = Lens(90, (5.6, 8, 11))
    assert modern.between_marks(f_number_at(5.4)).fraction == pytest.approx(0.4)
    assert WIDE.between_marks(f_number_at(16 / 3 + 0.4)).fraction == pytest.approx(0.6)


def test_the_iris_of_a_wide_lens():
    """Common practice: a lens marked f/6.3-f/32 with 1/500-1 s and B; set to 11 and 3 or 6 tenths."""
    for tenths in (3, 6):
        place = WIDE.between_marks(f_number_at(7 + tenths / 10))
        assert (place.below, place.above) == (11, 16)
        assert place.fraction == pytest.approx(tenths / 10)


@given(st.floats(16 / 3, 10))
def test_a_continuous_iris_stands_anywhere(stops):
    assert aperture_stops(WIDE.settable(f_number_at(stops))) == pytest.approx(stops)


@given(st.floats(3, 9), st.sampled_from([("whole", 1), ("half", 2), ("third", 3)]))
def test_a_clicking_iris_is_off_by_half_a_click_at_most(stops, iris):
    name, clicks = iris
    lens = Lens(75, (2.8, 4, 5.6, 8, 11, 16, 22), name)
    assert abs(aperture_stops(lens.settable(f_number_at(stops))) - stops) <= 0.5 / clicks + 1e-9


def test_a_pointer_outside_the_marks_is_refused():
    with pytest.raises(BadInput, match=r"f/6\.3 to f/32"):
        WIDE.between_marks(4.0)


def test_modern_marks_are_powers_of_two_and_old_ones_are_themselves():
    modern = shutter_from_marks([1 / 500, 1 / 60, 1 / 15, 1], {})
    assert [1 / speed.time_s for speed in modern.speeds] == [512, 64, 16, 1]
    old = shutter_from_marks([1 / 250, 1 / 100, 1 / 50, 1 / 25, 1 / 10, 1 / 5, 1 / 2, 1], {})
    assert [round(1 / speed.time_s) for speed in old.speeds] == [250, 100, 50, 25, 10, 5, 2, 1]
    assert [speed.label for speed in old.speeds][:2] == ["1/250", "1/100"]


def test_a_measured_time_replaces_the_mark_but_not_the_label():
    (speed,) = shutter_from_marks([1 / 125], {1 / 125: 1 / 91}).speeds
    assert (speed.label, speed.time_s) == ("1/125", 1 / 91)
    assert speed.drift_stops == pytest.approx(log2(128 / 91))


def test_frames_on_120():
    """Common practice: a 6x7 back gives 10 frames on 120 and a 6x9 back 8."""
    assert (FRAMES_ON_120["6x7"], FRAMES_ON_120["6x9"]) == (10, 8)


def test_equivalent_focal_length_by_the_diagonal():
    """0.483 for 6x7 and 0.429 for 6x9: reference table of equivalence (computed), three digits printed."""
    for name, width, height, factor in (("6x7", 70, 56, 0.483), ("6x9", 84, 56, 0.429)):
        kit = Kit("k", "k", WIDE, shutter_from_marks([1 / 60], {}), Back(name, width, height, 8))
        assert kit.focal_35mm / 65 == pytest.approx(factor, abs=0.0005)
