"""Focus on a kit's own lens."""

from math import inf

import pytest

from meter.camera import Back, Kit, Lens, ScaleFact, Shutter, Speed
from meter.distance import lens_place
from meter.errors import BadInput
from meter.jobs.plan_focus import at_least, choose_circle, keep_sharp, plan_focus
from meter.stops import f_number_at

LENS = Lens(90, (3.5, 5.6, 8, 11, 16, 22, 32), distance_marks_m=(1, 1.2, 1.5, 2, 3, 5, 10))


def kit_with(lens):
    return Kit("pier", "Pier", lens, Shutter((Speed("1/60", 1 / 64),)), Back("6x7", 70, 56, 10))


def test_the_widest_aperture_for_a_range_is_set_to_tenths_and_covers_it():
    answer = keep_sharp(LENS, (3.0, 10.0), None, 0.06)
    assert answer.setting.depth.covers(3.0, 10.0)
    assert answer.setting.aperture == "f/16 + 0.1"
    assert answer.setting.place == "nine tenths of the way from 3 to 5 m"


@pytest.mark.parametrize(("iris", "stops"), [("whole", 9), ("half", 8.5), ("third", 8 + 1 / 3), ("continuous", 8.1)])
def test_a_click_stopped_iris_takes_the_next_click(iris, stops):
    lens = Lens(90, (4, 5.6, 8, 11, 16, 22), iris)
    assert at_least(lens, f_number_at(8.05)) == pytest.approx(f_number_at(stops))


def test_a_lens_that_cannot_stop_down_so_far_says_what_to_give_up():
    answer = keep_sharp(LENS, (1.5, inf), None, 0.06)
    assert answer.setting is None and answer.needed == pytest.approx(46.4, abs=0.1)  # 90²/(0.06·2910), by hand
    assert answer.give_near.depth.far_m == inf and answer.give_near.depth.near_m > 1.5
    assert answer.give_far.depth.near_m == pytest.approx(1.5, rel=1e-6) and answer.give_far.depth.far_m < inf


def test_a_range_nearer_than_the_scale_is_served_from_its_first_mark():
    answer = keep_sharp(LENS, (0.95, 1.02), None, 0.06)
    assert answer.setting.focus_m == 1.0


def test_what_the_focus_does_not_reach_is_not_offered():
    answer = keep_sharp(LENS, (0.5, 2.0), None, 0.06)
    assert answer.setting is None and answer.give_far is None
    assert answer.give_near.focus_m >= 1.0 and answer.give_near.depth.covers(1.1, 2.0)


def test_marks_in_feet_and_no_marks_at_all():
    assert lens_place(Lens(90, (4, 8), distance_marks_ft=(5, 8, 15)), 8 * 0.3048) == "on 8 ft"
    assert lens_place(Lens(90, (4, 8)), 3.0) == "3.0 m (9.8 ft)"
    both = Lens(90, (4, 8), distance_marks_m=(1, 3), distance_marks_ft=(5, 10))
    assert lens_place(both, 3.048, both=False) == "on 3 m"


def test_circle_by_divisor_by_millimetres_and_by_scale():
    kit = kit_with(LENS)
    assert choose_circle(kit).coc_mm == pytest.approx(89.64 / 1500, abs=1e-5)
    assert choose_circle(kit, divisor=1730).coc_mm == pytest.approx(0.0518, abs=5e-5)  # reference values, section 10
    assert choose_circle(kit, coc_mm=0.05).divisor == pytest.approx(1793, abs=1)
    by_fact = choose_circle(kit, facts=[ScaleFact(11, 5, 3.2, 12)], coc_mm=0.05)
    assert by_fact.inference and by_fact.stricter_mm == 0.05 and by_fact.stricter_stops > 0


@pytest.mark.parametrize(
    "how", [{"coc_mm": 0.05, "divisor": 1500}, {"coc_mm": 9.0}, {"divisor": 0.0}, {"by_scale": True}, {"coc_mm": 1e-6}]
)
def test_a_circle_that_cannot_be_used_is_refused(how):
    with pytest.raises(BadInput):
        choose_circle(kit_with(LENS), **how)


def test_a_shipped_kit_is_planned_over_all_its_marks():
    plan = plan_focus("breakwater")
    assert len(plan.depths) == len(plan.focuses_m) and plan.focuses_m[-1] == inf
    assert len(plan.hyperfocals) == len(plan.kit.lens.marks)
    assert any("Diffraction" in caution for caution in plan.cautions)


def test_the_engraved_scale_of_a_shipped_kit_is_of_one_piece():
    assert plan_focus("breakwater", by_scale=True).circle.inference.consistent


def test_close_focus_warns_that_the_scale_counts_from_the_film():
    assert any("from the film" in c for c in plan_focus("breakwater", focus_m=1.0, f_number=8.0).cautions)
    assert not any("from the film" in c for c in plan_focus("breakwater", focus_m=3.0, f_number=8.0).cautions)


@pytest.mark.parametrize("how", [{"focus_m": 0.5}, {"f_number": 64.0}, {"wrong_part": 0.2}, {"wanted": (0.3, 0.5)}])
def test_what_the_lens_cannot_do_is_refused(how):
    with pytest.raises(BadInput):
        plan_focus("breakwater", **how)
