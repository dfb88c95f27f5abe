"""The strip: the pointer stands where the lens's own scale would have it."""

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.draw.strip import OVERRUN_STOPS, Strip, position, strip_svg
from meter.draw.svg import document
from meter.errors import BadInput
from meter.stops import exact_f_number, f_number_at, mark_text
from tests.draw.reading import lettering, overlapping

ENGRAVED = (6.3, 8, 11, 16, 22, 32)
MARKS = tuple((mark_text(mark), exact_f_number(mark)) for mark in ENGRAVED)
NUMBERS = [number for _, number in MARKS]
inside = st.floats(NUMBERS[0], NUMBERS[-1])


def drawn(strip, width=1200):
    return document(strip_svg(strip, width), title="strip")


def pointer_x(svg):
    return float(re.search(r'd="M([\d.]+) 62(?:\.0)?l-6.5', svg)[1])


@given(inside, inside)
def test_smaller_apertures_stand_further_along(one, other):
    low, high = sorted((one, other))

    assert position(low, NUMBERS, 0, 1000) <= position(high, NUMBERS, 0, 1000)


@given(inside)
def test_the_pointer_stands_between_its_own_marks(f_number):
    below = max(number for number in NUMBERS if number <= f_number)
    above = min(number for number in NUMBERS if number >= f_number)

    x = position(f_number, NUMBERS, 0, 1000)
    assert position(below, NUMBERS, 0, 1000) <= x <= position(above, NUMBERS, 0, 1000)


@pytest.mark.parametrize(
    ("tenths", "low", "high"), [(4, "11", "16"), (3, "11", "16"), (6, "11", "16"), (5, "22", "32")]
)
def test_read_off_the_drawing_it_stands_the_stated_tenths_of_the_way(tenths, low, high):
    # Common practice: a variable iris may be set to 11 and 3 tenths or 6 tenths.
    svg = drawn(Strip(MARKS, f_number_at(7 + tenths / 10 if low == "11" else 9 + tenths / 10)))
    label = {seen.text: seen.middle for seen in lettering(svg)}

    # A hundredth of the way: coordinates are written to hundredths of a unit.
    assert (pointer_x(svg) - label[low]) / (label[high] - label[low]) == pytest.approx(tenths / 10, abs=0.01)


def test_marks_two_thirds_of_a_stop_apart_stand_closer_than_a_stop():
    label = {seen.text: seen.middle for seen in lettering(drawn(Strip(MARKS)))}

    # 6.3 to 8 is two thirds of a stop, 8 to 11 one: 2^(16/6), 2^3, 2^3.5.
    assert (label["8"] - label["6.3"]) / (label["11"] - label["8"]) == pytest.approx(2 / 3, abs=0.002)


def test_tenths_are_ticked_between_the_marks():
    svg = drawn(Strip((("8", 8.0), ("11", f_number_at(7)))))
    ticks = sorted(float(x) for x in re.findall(r'd="M([\d.]+) 65.2L[\d.]+ (?:74|80).2"', svg))

    steps = [after - before for before, after in pairwise(ticks)]
    assert len(ticks) == 9
    assert max(steps) - min(steps) <= 0.02  # hundredths of a unit are written


def test_a_pointer_off_the_scale_is_refused_but_a_little_play_is_not():
    past = f_number_at(10 + OVERRUN_STOPS / 2)

    assert pointer_x(drawn(Strip(MARKS, past))) == pointer_x(drawn(Strip(MARKS, f_number_at(10))))
    with pytest.raises(BadInput, match=r"f/45.* outside the scale, f/6.35 to f/32"):
        strip_svg(Strip(MARKS, 45.25), 1200)


@pytest.mark.parametrize("marks", [(), (("8", 8.0), ("8", 8.0)), (("11", 11.3), ("8", 8.0)), (("0", 0.0), ("8", 8.0))])
def test_marks_that_do_not_grow_are_refused(marks):
    with pytest.raises(BadInput):
        strip_svg(Strip(marks), 1200)


@given(
    st.text(max_size=60),
    st.text(max_size=80),
    st.text(max_size=60),
    inside,
    st.sampled_from([300.0, 640.0, 900.0, 1200.0]),
)
def test_words_stay_on_the_strip_and_apart(setting, caption, shutter, f_number, width):
    seen = lettering(drawn(Strip(MARKS, f_number, setting, caption, shutter), width))

    assert all(one.left >= -0.5 and one.right <= width + 0.5 for one in seen)
    assert overlapping(seen) == []


def test_clicks_are_dotted():
    assert drawn(Strip(MARKS, clicks=[8.0, f_number_at(6.5), f_number_at(7)])).count("<circle") == 3
