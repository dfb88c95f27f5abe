"""The circle of confusion behind an engraved scale."""

from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from meter.camera import ScaleFact
from meter.engraved import circle_of_fact, circle_stops, fact_text, infer_circle, parse_fact, stricter
from meter.errors import BadInput
from meter.focus import depth_for, hyperfocal_m
from meter.stops import exact_f_number


def test_two_facts_of_one_wide_lens_come_from_one_circle():
    # Common practice (no source): a wide lens at f/6.3 and 2 m shows 1.5 m to almost 3 m;
    # at f/22 it shows infinity to almost 1 m.
    facts = [parse_fact("f/6.3 2m 1.5m..2.9m"), parse_fact("f/22 0.9m..inf")]
    found = infer_circle(facts, 50)
    assert found.consistent
    for n in (6.3, 22):
        h_times_n = hyperfocal_m(exact_f_number(n), 50, found.coc_mm) * exact_f_number(n)
        assert h_times_n == pytest.approx(38, abs=2)  # both imply about 38 m; 5 % is what such a scale can be read to


@given(
    st.sampled_from([3.5, 5.6, 8.0, 11.0, 16.0, 22.0]), st.floats(1, 15), st.floats(40, 150), st.floats(0.02, 0.12),
)  # fmt: skip
def test_inference_undoes_depth_of_field(n, s, focal, c):
    depth = depth_for(exact_f_number(n), s, focal, c)
    assume(depth.far_m < 1e4)
    found = infer_circle([ScaleFact(n, s, depth.near_m, depth.far_m)], focal, reading=0)
    assert found.consistent
    assert found.coc_mm == pytest.approx(c, rel=1e-6)


@given(st.sampled_from([8.0, 11.0, 16.0, 22.0]), st.floats(40, 150), st.floats(0.02, 0.12))
def test_inference_undoes_the_hyperfocal_distance(n, focal, c):
    h = hyperfocal_m(exact_f_number(n), focal, c)
    found = infer_circle([ScaleFact(n, h, h / 2, inf)], focal, reading=0)
    assert found.coc_mm == pytest.approx(c, rel=1e-5)


@given(st.floats(0.03, 0.1), st.floats(-0.04, 0.04), st.floats(-0.04, 0.04))
def test_the_interval_holds_the_true_circle_when_the_scale_is_misread_within_its_reading(c, near_slip, far_slip):
    depth = depth_for(exact_f_number(11), 4, 90, c)
    assume(depth.far_m < 100)
    fact = ScaleFact(11, 4, depth.near_m * (1 + near_slip), depth.far_m * (1 + far_slip))
    assume(fact.near_m < 4 < fact.far_m)
    circle = circle_of_fact(fact, 90, reading=0.05)
    assert circle.agrees
    assert circle.low_mm <= c * (1 + 1e-9) and c <= circle.high_mm * (1 + 1e-9)


def test_infinity_at_a_focus_beyond_the_hyperfocal_distance_is_only_a_bound():
    near = depth_for(16, 20, 90, 0.06).near_m  # H is 8.5 m: the infinity mark lies well inside the bracket
    circle = circle_of_fact(ScaleFact(16, 20, near, inf), 90)
    assert circle.agrees and circle.low_mm <= 0.06 <= circle.high_mm


def test_facts_of_two_circles_are_told_apart():
    first, second = depth_for(exact_f_number(11), 4, 90, 0.04), depth_for(16, 4, 90, 0.09)
    facts = [ScaleFact(11, 4, first.near_m, first.far_m), ScaleFact(16, 4, second.near_m, second.far_m)]
    assert not infer_circle(facts, 90).consistent


def test_a_fact_that_contradicts_itself_is_named():
    found = infer_circle([ScaleFact(11, 5, 4.5, 30)], 90)
    assert not found.facts[0].agrees and not found.consistent


def test_half_the_circle_is_two_stops_and_keeps_what_the_marks_two_stops_wider_show():
    fact = parse_fact("f/16 5m 3.2m..12m")
    (kept,) = stricter([fact], 90, maker_mm=0.08, wanted_mm=0.04)
    assert circle_stops(0.08, 0.04) == pytest.approx(2)
    assert kept.read_at == pytest.approx(8)
    wider = depth_for(8, 5, 90, 0.08)
    assert (kept.kept.near_m, kept.kept.far_m) == pytest.approx((wider.near_m, wider.far_m))


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("f/11 5m 3.6m..8.5m", ScaleFact(11, 5, 3.6, 8.5)),
        ("11 5 3.6..8.5", ScaleFact(11, 5, 3.6, 8.5)),
        ("f/22 0.9m..inf", ScaleFact(22, 1.8, 0.9, inf)),
        ("f/8 2..4m", ScaleFact(8, 8 / 3, 2, 4)),
    ],
)
def test_a_fact_is_read_as_written(text, fact):
    assert parse_fact(text) == fact


def test_a_fact_is_printed_as_one_reads_it():
    assert fact_text(parse_fact("f/22 0.9m..inf")) == "f/22 at 1.8 m: 0.90 m to infinity"


@pytest.mark.parametrize("text", ["", "f/11", "f/11 5m", "5m 3..8", "f/0 5m 3..8m", "f/11 2m 3..8m", "f/11 5m 8..3m"])
def test_what_is_no_fact_is_refused(text):
    with pytest.raises(BadInput):
        parse_fact(text)


def test_no_facts_and_a_hopeless_reading_are_refused():
    with pytest.raises(BadInput, match="no engraved fact"):
        infer_circle([], 90)
    with pytest.raises(BadInput, match="reading"):
        circle_of_fact(ScaleFact(11, 5, 3.6, 8.5), 90, reading=0.9)
