"""Frames left, warnings, and one development for all frames of a roll."""

import subprocess
import sys
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.camera import FRAMES_ON_120
from meter.errors import BadInput
from meter.roll import (
    DEVELOPMENTS,
    Frame,
    FrameExposure,
    NewRoll,
    Roll,
    ZonedPart,
    frame_warnings,
    parse_development,
    plain_roll,
    tank_advice,
    tank_text,
)

AT = "2026-05-01T10:00:00+02:00"


def a_frame(number: int, development: float | None = None, undone: bool = False) -> Frame:
    exposure = FrameExposure("1/125", 1 / 128, 8.0, "f/8", development, focus_m=inf)
    return Frame(number, AT, exposure, AT if undone else None)


def a_roll(*frames: Frame, capacity: int = 10) -> Roll:
    made = NewRoll("hp5-plus", "HP5 Plus", 400, 200, "breakwater", "Breakwater", "6x7", capacity)
    return Roll(1, made, AT, frames=frames)


# Source: reference table "frames on 120" (secondary, liquisearch 120_film); 6x7 and 6x9 also common practice.
@pytest.mark.parametrize(("format_name", "frames"), [("6x6", 12), ("6x7", 10), ("6x8", 9), ("6x9", 8)])
def test_the_last_frame_of_each_format_is_said_and_the_one_after_it_warned_of(format_name, frames):
    assert FRAMES_ON_120[format_name] == frames
    assert frame_warnings(frames - 1, frames, format_name) == []
    assert frame_warnings(frames, frames, format_name) == [f"frame {frames} is the last on this roll"]
    assert "past the last" in frame_warnings(frames + 1, frames, format_name)[0]


def test_6x4_5_gives_15_or_16():  # secondary, the same source
    assert FRAMES_ON_120["6x4.5"] == 16
    assert "stop at 15" in frame_warnings(15, 16, "6x4.5")[0]
    assert frame_warnings(15, 15, "6x4.5") == ["frame 15 is the last on this roll"]


def test_undone_frames_free_their_number():
    roll = a_roll(a_frame(1), a_frame(2, undone=True), a_frame(2))

    assert [frame.number for frame in roll.live] == [1, 2]
    assert (roll.next_number, roll.left) == (3, 8)
    assert len(plain_roll(roll)["frames"]) == 2
    assert len(plain_roll(roll, with_undone=True)["frames"]) == 3
    assert plain_roll(roll)["frames"][0]["focus_m"] == "inf"


@pytest.mark.parametrize(
    ("text", "zones"), [("N", 0), ("n-1", -1), ("N−2", -2), ("N+1.5", 1.5), ("+1", 1), ("N+½", 0.5), (" N + 2 ", 2)]
)
def test_development_is_read_as_people_write_it(text, zones):
    assert parse_development(text) == zones


@pytest.mark.parametrize("text", ["M", "N-", "N+9", "N--1", "nan", "N+inf"])
def test_unreadable_development_is_refused(text):
    with pytest.raises(BadInput, match="not readable"):
        parse_development(text)


@given(st.sampled_from(DEVELOPMENTS))
def test_development_survives_the_page(zones):
    assert parse_development(tank_text(zones)) == zones


def test_nothing_asked_gives_no_advice():
    assert tank_advice([a_frame(1), a_frame(2)]) is None


def test_one_frame_out_of_nine_loses_rather_than_all():
    advice = tank_advice([*(a_frame(n, 0) for n in range(1, 9)), a_frame(9, -2), a_frame(10)])

    assert tank_text(advice.development) == "N"
    assert [(loss.number, loss.excess) for loss in advice.losses] == [(9, 2)]
    assert "2 zones too high" in advice.losses[0].text
    assert advice.unasked == (10,)
    assert advice.too_wide


def test_of_two_equal_choices_the_softer_wins():
    advice = tank_advice([a_frame(1, 0.5), a_frame(2, 0)])

    assert advice.development == 0
    assert advice.losses == ()


def test_opposite_frames_meet_in_the_middle_and_both_lose():
    advice = tank_advice([a_frame(1, -1), a_frame(2, 1)])

    assert advice.development == 0
    assert [loss.excess for loss in advice.losses] == [1, -1]
    assert "flat negative" in advice.losses[1].text


@given(st.lists(st.sampled_from(DEVELOPMENTS), min_size=1, max_size=16))
def test_no_tank_costs_the_frames_less(wanted):
    advice = tank_advice([a_frame(n, zones) for n, zones in enumerate(wanted, start=1)])

    def cost(tank: float) -> float:
        return sum((tank - zones) ** 2 for zones in wanted)

    assert min(wanted) <= advice.development <= max(wanted)
    assert all(cost(advice.development) <= cost(other) + 1e-9 for other in DEVELOPMENTS)


@given(st.lists(st.sampled_from([-2, -1, 0, 1, 2]), min_size=1, max_size=12))
def test_asking_a_zone_more_of_every_frame_asks_it_of_the_tank(wanted):
    tank = tank_advice([a_frame(n, zones) for n, zones in enumerate(wanted, 1)]).development
    more = tank_advice([a_frame(n, zones + 1) for n, zones in enumerate(wanted, 1)]).development

    assert more == tank + 1


@pytest.mark.parametrize("values", [(0, 8), (1, 0), (inf, 8), (float("nan"), 8)])
def test_a_frame_needs_real_settings(values):
    with pytest.raises(BadInput):
        FrameExposure("1/125", *values, "f/8")


@pytest.mark.parametrize(("ei", "capacity"), [(0, 10), (-1, 10), (inf, 10), (200, 0), (200, 1000)])
def test_a_roll_needs_a_real_index_and_frames(ei, capacity):
    with pytest.raises(BadInput):
        NewRoll("f", "F", 400, ei, "k", "K", "6x7", capacity)


def test_placements_stay_with_their_frame():
    exposure = FrameExposure("B", 12.0, 22.6, "f/22", placements=(ZonedPart("quay wall", 3.0, True, 0.2),))

    plain = plain_roll(a_roll(Frame(1, AT, exposure)))["frames"][0]

    assert plain["placements"] == [{"name": "quay wall", "zone": 3.0, "placed": True, "sigma": 0.2}]


def test_the_rules_load_nothing_heavy():
    probe = "import sys, meter.roll, meter.development; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", probe], check=True, capture_output=True, text=True).stdout.split()

    assert not {"numpy", "cv2", "skimage", "PIL", "exifread", "click", "sqlite3"} & set(loaded)
