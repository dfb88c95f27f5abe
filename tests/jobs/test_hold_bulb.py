"""Counting a bulb exposure down by a clock that the test turns."""

import json

import pytest

from meter.bulb import Countdown
from meter.errors import BadInput, LogError
from meter.jobs.hold_bulb import count_down, open_record, plan_bulb, plan_card
from meter.shelf.reader import Shelf


class TurnedClock:
    """A clock that moves only when slept on; asleep_at: (steady, seconds the machine sleeps unseen by steady())."""

    def __init__(self, asleep_at=(None, 0.0), interrupt_at=None):
        self.now, self.ahead, self.asleep_at, self.interrupt_at = 100.0, 0.0, asleep_at, interrupt_at
        self.sleeps = []

    def steady(self):
        return self.now

    def wall(self):
        return 1_000_000_000.0 + self.now + self.ahead

    def sleep(self, seconds):
        self.sleeps.append(seconds)
        self.now += seconds
        if self.asleep_at[0] is not None and self.now - 100 >= self.asleep_at[0]:
            self.ahead, self.asleep_at = self.asleep_at[1], (None, 0.0)
        if self.interrupt_at is not None and self.now - 100 >= self.interrupt_at:
            raise KeyboardInterrupt


def held_with(clock, **more):
    seen = []
    result = count_down(Countdown(5.0, 2.0), seen.append, clock, metered_s=5.0, curve=None, **more)
    return result, seen


def test_a_countdown_ends_on_the_clock_and_is_shown_ten_times_a_second():
    clock = TurnedClock()
    held, seen = held_with(clock)
    assert held.ended == "done"
    assert held.open_s == pytest.approx(5.0, abs=1e-6)
    assert held.stops == pytest.approx(0, abs=1e-6)
    assert max(clock.sleeps) <= 0.1 and len(seen) >= 70
    assert [m.phase for m in seen] == sorted((m.phase for m in seen), key=["lead_in", "open", "over"].index)
    assert not held.clocks_disagree


def test_ctrl_c_while_open_tells_what_the_film_got():
    held, _ = held_with(TurnedClock(interrupt_at=4.5))
    assert held.ended == "stopped"
    assert held.open_s == pytest.approx(2.5, abs=0.11)  # one tick late at most
    assert held.stops == pytest.approx(-1, abs=0.07)


def test_ctrl_c_before_the_shutter_opens_exposes_nothing():
    held, _ = held_with(TurnedClock(interrupt_at=1.0))
    assert (held.ended, held.open_s, held.stops, held.opened_at) == ("abandoned", 0.0, None, None)


def test_until_stopped_counts_past_the_end():
    held, seen = held_with(TurnedClock(interrupt_at=12.0), until_stopped=True)
    assert held.ended == "stopped" and held.stops == pytest.approx(1, abs=0.03)
    assert seen[-1].phase == "over" and seen[-1].shown_s in (4, 5)


def test_a_machine_that_slept_is_noticed():
    held, _ = held_with(TurnedClock(asleep_at=(4.0, 5.0)))
    assert held.clocks_disagree
    assert held.wall_s == pytest.approx(10.0, abs=0.1) and held.wall_stops == pytest.approx(1, abs=0.02)


def test_the_record_is_kept_whatever_ended_it(tmp_path):
    plan = plan_bulb("hp5-plus", metered_s=5.0)
    file = tmp_path / "holds.jsonl"
    for clock in (TurnedClock(), TurnedClock(interrupt_at=3.0), TurnedClock(interrupt_at=0.5)):
        held_with(clock, record=open_record(file, plan))
    lines = [json.loads(line) for line in file.read_text("utf-8").splitlines()]
    assert [line["ended"] for line in lines] == ["done", "stopped", "abandoned"]
    assert lines[0]["film"] == "hp5-plus" and lines[0]["planned_s"] == 5.0


def test_a_log_that_cannot_be_written_is_refused_before_the_shutter_opens(tmp_path):
    with pytest.raises(LogError, match="choose another file"):
        open_record(tmp_path / "nowhere" / "holds.jsonl", plan_bulb("hp5-plus", metered_s=5.0))


def test_an_ev_and_an_aperture_make_a_metered_time_with_filter_and_ei():
    plain = plan_bulb("hp5-plus", ev100=0.0, f_number=8.0, ei=100)
    assert plain.hold.metered_s == pytest.approx(64)
    assert plan_bulb("hp5-plus", ev100=0.0, f_number=8.0, ei=200).hold.metered_s == pytest.approx(32)
    red = plan_bulb("hp5-plus", ev100=0.0, f_number=8.0, ei=100, filters=["red-25"])
    assert red.hold.metered_s == pytest.approx(64 * 8, rel=0.02)  # 25 red, daylight: factor 8 (memory)


def test_a_filter_counts_for_the_light_that_falls():
    film = Shelf().film("hp5-plus")
    red = Shelf().filter("red-25", film)
    assert red.stops("daylight") != red.stops("tungsten")
    for light in ("daylight", "tungsten"):
        plan = plan_bulb("hp5-plus", metered_s=2.0, filters=["red-25"], light=light)
        assert plan.hold.metered_s == pytest.approx(2.0 * 2 ** red.stops(light))


def test_an_extension_counts_from_the_kits_focal_length():
    # one focal length out is 1:1, (1 + 1)²: 4 times as long
    for kit, focal_mm in (("harbour-light", 75), (None, 90)):
        plan = plan_bulb("hp5-plus", metered_s=2.0, extension_mm=focal_mm, kit_name=kit)
        assert plan.hold.metered_s == pytest.approx(8.0)


@pytest.mark.parametrize(
    "arguments", [{}, {"metered_s": 3.0, "ev100": 3.0}, {"ev100": 3.0}, {"metered_s": 3.0, "reciprocity": "tarot"}]
)
def test_what_does_not_make_a_time_is_refused(arguments):
    with pytest.raises(BadInput):
        plan_bulb("hp5-plus", **arguments)


def test_a_film_without_figures_is_held_as_metered_and_says_so():
    plan = plan_bulb("iso-400", metered_s=30.0)
    assert plan.curve is None and plan.hold.hold_s == 30.0
    assert "No reciprocity figure" in plan.hold.notes[0]
    assert plan_card("iso-400")[1] is None
