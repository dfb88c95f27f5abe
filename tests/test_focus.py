"""Depth of field against printed values and its own laws."""

import tomllib
from math import hypot, inf
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.focus import (
    Depth,
    airy_mm,
    blur_mm,
    circle_mm,
    depth_for,
    depths_over,
    diffraction_f_number,
    even_focus_m,
    farthest_with_near,
    focus_ladder,
    guess_f_number,
    guess_room,
    hyperfocal_m,
    is_close,
    nearest_with_far,
    needed_f_number,
    sharp_range,
)

TABLE = tomllib.loads((Path(__file__).parent / "published/focus.toml").read_text("utf-8"))
FOCAL, COC = 90.0, 0.06
NOISE = 1e-9  # float noise of a handful of operations

apertures = st.floats(1.4, 64)
focuses = st.floats(0.5, 500)
focals = st.floats(20, 300)
circles = st.floats(0.01, 0.2)


@pytest.mark.parametrize("row", TABLE["depth"], ids=lambda row: row["source"][:24] + f" {row['focal_mm']}")
def test_near_and_far_are_the_printed_ones(row):
    depth = depth_for(row["f_number"], row["focus_m"], row["focal_mm"], row["coc_mm"])

    # Half of the last printed digit: the source cannot tell us more than that.
    assert depth.near_m == pytest.approx(row["near_m"], rel=0, abs=row["last_digit_m"] / 2)
    assert depth.far_m == pytest.approx(row["far_m"], rel=0, abs=row["last_digit_m"] / 2)


@pytest.mark.parametrize("row", TABLE["hyperfocal"], ids=lambda row: row["source"][:24])
def test_hyperfocal_distance_is_the_printed_one(row):
    left_out = 0.0 if row["adds_focal"] else row["focal_mm"] / 1000
    h = hyperfocal_m(row["f_number"], row["focal_mm"], row["coc_mm"]) - left_out
    assert h == pytest.approx(row["metres"], rel=0, abs=row["last_digit_m"] / 2)


def test_navy_focus_between_near_and_far_is_their_harmonic_mean():
    # NAVEDTRA 14209: P = 2Dd/(D + d); 9.8 and 10.2 ft ask for 10 ft. Printed to the foot.
    focus = sharp_range(9.8 * 0.3048, 10.2 * 0.3048, 154.94, 0.05).focus_m
    assert focus / 0.3048 == pytest.approx(10, abs=0.5)
    assert focus / 0.3048 == pytest.approx(2 * 9.8 * 10.2 / 20, abs=NOISE)


@pytest.mark.parametrize("row", TABLE["airy"], ids=lambda row: row["source"][:24])
def test_airy_disc(row):
    for n, printed in zip(row["f_number"], row["micrometres"], strict=True):
        assert airy_mm(n) * 1000 == pytest.approx(printed, abs=row["last_digit"])


@pytest.mark.parametrize("row", TABLE["circle"], ids=lambda row: row["source"][:24])
def test_circle_of_confusion_by_divisor(row):
    diagonal = hypot(*row["format_mm"])
    assert circle_mm(diagonal, row["divisor"]) == pytest.approx(row["mm"], abs=row["last_digit"] / 2)


def test_diffraction_is_named_from_about_f20_on_a_square_frame():
    # reference values, section 10: Airy disc over c/2 from about f/20 on 6x6 (own rule); c = 79.2/1500
    assert diffraction_f_number(circle_mm(79.2)) == pytest.approx(20, abs=0.5)
    n = diffraction_f_number(COC)
    assert airy_mm(n) == pytest.approx(COC / 2, rel=NOISE)


@given(apertures, focuses, focals, circles)
def test_near_before_focus_before_far(n, s, focal, c):
    depth = depth_for(n, s, focal, c)
    assert depth.near_m < s < depth.far_m


@given(apertures, focuses, focals, circles, st.floats(1.01, 4))
def test_stopping_down_or_allowing_more_blur_only_adds_depth(n, s, focal, c, times):
    wide, small, lenient = (
        depth_for(n, s, focal, c),
        depth_for(n * times, s, focal, c),
        depth_for(n, s, focal, c * times),
    )
    for more in (small, lenient):
        assert more.near_m < wide.near_m
        assert more.far_m > wide.far_m or more.far_m == inf


@given(apertures, focals, circles)
def test_focus_at_the_hyperfocal_distance_is_sharp_from_half_of_it_to_infinity(n, focal, c):
    h = hyperfocal_m(n, focal, c)
    assume(h > 2.5 * focal / 1000)
    depth = depth_for(n, h, focal, c)
    assert depth.far_m == inf
    assert depth.near_m == pytest.approx(h / 2, rel=NOISE)
    assert depth_for(n, h * (1 - 1e-6), focal, c).far_m < inf


def test_focus_at_infinity_is_sharp_from_the_hyperfocal_distance_less_a_focal_length():
    assert depth_for(8, inf, FOCAL, COC) == Depth(pytest.approx(hyperfocal_m(8, FOCAL, COC) - 0.09, rel=NOISE), inf)


@given(apertures, focuses, focals, circles)
def test_blur_at_near_and_far_is_the_circle_of_confusion(n, s, focal, c):
    depth = depth_for(n, s, focal, c)
    assume(depth.near_m > focal / 1000 * 1.01)
    assert blur_mm(depth.near_m, n, s, focal) == pytest.approx(c, rel=1e-6)
    if depth.far_m < 1e5:
        assert blur_mm(depth.far_m, n, s, focal) == pytest.approx(c, rel=1e-6)


@given(st.floats(0.5, 50), st.one_of(st.just(inf), st.floats(1.05, 50)), st.floats(20, 200), circles)
def test_the_range_asked_for_is_just_covered_and_no_wider_aperture_would_do(near, ratio, focal, c):
    far = near * ratio
    answer = sharp_range(near, far, focal, c)
    assert depth_for(answer.f_number, answer.focus_m, focal, c).covers(near, far)
    assert not depth_for(answer.f_number * 0.99, answer.focus_m, focal, c).covers(near, far)
    for elsewhere in (answer.focus_m * 0.98, answer.focus_m * 1.02):
        if focal / 1000 < elsewhere:
            assert needed_f_number(elsewhere, near, far, focal, c) > answer.f_number


@given(st.floats(0.5, 50), st.one_of(st.just(inf), st.floats(1.05, 50)), st.floats(2, 45))
def test_the_even_focus_blurs_both_ends_alike(near, ratio, n):
    focus = even_focus_m(near, near * ratio)
    assert blur_mm(near, n, focus, FOCAL) == pytest.approx(blur_mm(near * ratio, n, focus, FOCAL), rel=1e-9)


@given(st.floats(2, 45), st.one_of(st.just(inf), st.floats(2, 1000)))
def test_giving_up_the_near_end_keeps_the_far_one_exactly(n, far):
    focus, near = nearest_with_far(n, far, FOCAL, COC)
    depth = depth_for(n, focus, FOCAL, COC)
    assert depth.near_m == near
    assert depth.far_m == (inf if far == inf else pytest.approx(far, rel=1e-6))


@given(st.floats(2, 45), st.floats(0.5, 30))
def test_giving_up_the_far_end_keeps_the_near_one(n, near):
    focus, far = farthest_with_near(n, near, FOCAL, COC)
    depth = depth_for(n, focus, FOCAL, COC)
    assert depth.far_m == far
    assert depth.near_m == pytest.approx(near, rel=1e-6) if focus < inf else depth.near_m <= near


def test_room_for_a_wrong_guess_by_hand():
    room = guess_room(Depth(2.4, 4.0), 3.0)
    assert (room.nearer_m, room.farther_m) == pytest.approx((0.6, 1.0))
    assert (room.nearer_part, room.farther_part) == pytest.approx((0.2, 1 / 3))


@given(st.floats(1, 30), st.floats(0.05, 0.6))
def test_the_aperture_for_a_wrong_guess_covers_it_both_ways(s, part):
    n = guess_f_number(s, part, FOCAL, COC)
    assume(s * (1 - part) > 0.1)
    assert depth_for(n, s, FOCAL, COC).covers(s * (1 - part), s * (1 + part))


def test_table_is_rows_of_focus_by_columns_of_aperture():
    table = depths_over((4, 8), (2, 3, inf), FOCAL, COC)
    assert [len(row) for row in table] == [2, 2, 2]
    assert table[1][0] == depth_for(4, 3, FOCAL, COC)


def test_close_is_within_twenty_focal_lengths():
    assert is_close(1.7, 90) and not is_close(1.9, 90) and not is_close(inf, 90)


LADDER = {"focal_mm": FOCAL, "coc_mm": COC, "smallest_f_number": 32.0}
RUNGS = (2.8, 4.0, 5.657, 8.0, 11.314, 16.0, 22.627)


def test_the_ladder_says_near_and_far_of_each_rung_at_one_focus():
    answer = focus_ladder(RUNGS, [True] * 7, focus_m=3.0, **LADDER)
    assert answer.depths == tuple(depth_for(n, 3.0, FOCAL, COC) for n in RUNGS)
    assert answer.both == () and answer.remedy is None


def test_the_ladder_names_the_rungs_that_do_exposure_and_depth_widest_first():
    # 3 m to 10 m needs f/16.1 at 4.6 m (f²(s-n)/(n(s-f)c) by hand), so f/16 just fails and f/22 does
    answer = focus_ladder(RUNGS, [True] * 7, wanted=(3.0, 10.0), **LADDER)
    assert answer.focus_m == pytest.approx(60 / 13)
    assert answer.both == (6,)


def test_without_such_a_rung_the_ladder_says_what_would_do():
    usable = [True, True, True, True, False, False, False]
    answer = focus_ladder(RUNGS, usable, wanted=(3.0, 10.0), **LADDER)
    remedy = answer.remedy
    assert answer.both == ()
    assert remedy.from_f_number == 8.0 and remedy.reachable
    # f/16.09 is 2·log2(16.09/8) = 2.02 stops from f/8
    assert remedy.stops == pytest.approx(2.02, abs=0.02)
    (near_focus, near), (far_focus, far) = remedy.give_near, remedy.give_far
    assert depth_for(8.0, near_focus, FOCAL, COC).far_m == pytest.approx(10.0, rel=1e-6)
    assert 3.0 < near < near_focus
    assert depth_for(8.0, far_focus, FOCAL, COC).near_m == pytest.approx(3.0, rel=1e-6)
    assert far_focus < far < 10.0


def test_a_range_past_the_last_aperture_is_out_of_reach():
    remedy = focus_ladder(RUNGS, [True] * 7, wanted=(1.5, inf), **LADDER).remedy
    assert remedy.f_number > 40 and not remedy.reachable


def test_the_ladder_focuses_no_nearer_than_the_lens():
    answer = focus_ladder(RUNGS, [True] * 7, wanted=(0.6, 1.0), nearest_focus_m=1.0, **LADDER)
    assert answer.focus_m == 1.0  # not 2·0.6·1/1.6 = 0.75
    assert answer.remedy.give_near[0] == 1.0 and answer.remedy.give_far is None


@given(st.floats(2, 45), st.floats(0.3, 3), st.floats(1.05, 4), st.floats(0.5, 2))
def test_what_is_given_up_is_never_the_end_that_was_to_be_kept(n, near, times, nearest):
    kept = nearest_with_far(n, near * times, FOCAL, COC, nearest)
    if kept:
        assert kept[0] >= nearest and depth_for(n, kept[0], FOCAL, COC).covers(kept[1], near * times)
    kept = farthest_with_near(n, near, FOCAL, COC, nearest)
    if kept:
        assert kept[0] >= nearest and depth_for(n, kept[0], FOCAL, COC).covers(near, kept[1])


def test_a_ladder_without_any_usable_rung_has_no_remedy():
    assert focus_ladder(RUNGS, [False] * 7, wanted=(3.0, 10.0), **LADDER).remedy is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: depth_for(0, 3, FOCAL, COC),
        lambda: depth_for(8, 0.09, FOCAL, COC),
        lambda: depth_for(8, 3, FOCAL, 0),
        lambda: depth_for(8, 3, inf, COC),
        lambda: depth_for(float("nan"), 3, FOCAL, COC),
        lambda: depth_for(8, float("nan"), FOCAL, COC),
        lambda: circle_mm(89.6, 0),
        lambda: sharp_range(4, 2, FOCAL, COC),
        lambda: guess_f_number(3, 1.0, FOCAL, COC),
        lambda: focus_ladder(RUNGS, [True] * 7, **LADDER),
    ],
)
def test_what_no_lens_can_do_is_refused(call):
    with pytest.raises(BadInput):
        call()
