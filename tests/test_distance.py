"""Distances: read as people write them, printed as a lens shows them."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.distance import FOOT_M, feet_text, parse_distance, parse_span, place_on_scale, span_text
from meter.errors import BadInput

MARKS = (1, 1.2, 1.5, 2, 3, 5, 10)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("3m", 3), ("3", 3), (" 1,5 m ", 1.5), ("80cm", 0.8), ("10ft", 3.048), ("10'", 3.048), ("INF", inf), ("∞", inf)],
)
def test_a_distance_is_read_as_written(text, metres):
    assert parse_distance(text) == pytest.approx(metres, rel=1e-12)  # float noise


@pytest.mark.parametrize("text", ["", "m", "-3m", "0", "3 yards", "nan", "1e9", "1.2.3", "9999999m"])
def test_what_is_no_distance_is_refused_by_name(text):
    with pytest.raises(BadInput, match="not readable: write 3m"):
        parse_distance(text)


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("1.5m..inf", (1.5, inf)),
        ("1.5..inf", (1.5, inf)),
        ("2..4", (2, 4)),
        ("5..20ft", (5 * FOOT_M, 20 * FOOT_M)),
        ("5ft..20ft", (5 * FOOT_M, 20 * FOOT_M)),
        ("80cm..2m", (0.8, 2)),
    ],
)
def test_a_range_takes_a_missing_unit_from_its_other_end(text, span):
    assert parse_span(text) == pytest.approx(span, rel=1e-12)


@pytest.mark.parametrize("text", ["3m", "..", "3m..", "..3m", "4..2", "inf..3", "3..3", "a..b"])
def test_what_is_no_range_is_refused(text):
    with pytest.raises(BadInput):
        parse_span(text)


@pytest.mark.parametrize(
    ("metres", "words"),
    [
        (1, "on 1 m"),
        (2, "on 2 m"),
        (30 / 13, "two fifths of the way from 2 to 3 m"),  # 1/2 - 13/30 is two fifths of 1/2 - 1/3, by hand
        (45 / 13, "a third of the way from 3 to 5 m"),  # 1/3 - 13/45 is a third of 1/3 - 1/5, by hand
        (20, "half way from 10 to infinity"),
        (inf, "on infinity"),
    ],
)
def test_a_place_on_the_scale_is_said_as_one_would(metres, words):
    assert str(place_on_scale(metres, MARKS)) == words


def test_feet_marks_speak_feet():
    # (1/8 - 1/10) / (1/8 - 1/15) = 0.43, by hand
    assert str(place_on_scale(10 * FOOT_M, (5, 8, 15), "ft")) == "two fifths of the way from 8 to 15 ft"


def test_a_scale_without_marks_or_from_farther_on_has_no_place():
    assert place_on_scale(2, ()) is None
    assert place_on_scale(0.9, MARKS) is None


@given(st.floats(1.0, 1e4))
def test_fraction_is_reciprocal_between_its_marks(metres):
    place = place_on_scale(metres, MARKS)
    back = 1 / (1 / place.below - place.fraction * (1 / place.below - 1 / place.above))
    assert back == pytest.approx(metres, rel=1e-9)
    assert place.below <= metres * (1 + 1e-9) and metres <= place.above * (1 + 1e-9)


def test_spans_and_feet_in_words():
    assert span_text(1.5, inf) == "1.50 m to infinity"
    assert span_text(2.1, 4.4) == "2.10 to 4.4 m"
    assert feet_text(3.048) == "10.0 ft"
