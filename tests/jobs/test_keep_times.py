"""Measured times go into a kit file, and nothing else in it changes."""

import os
import tomllib
from datetime import date

import pytest

from calibration.from_shutter import MeasuredSpeed
from meter.errors import BadInput, MeterError
from meter.jobs.keep_times import edited_kit, keep_times
from meter.jobs.time_shutter import TimedSpeed
from meter.shelf.faults import kit_faults
from meter.shelf.reader import Shelf

KIT = """# my folder, bought at the harbour fair
format = 1
name = "Net Loft 6x9"   # repaired in spring
film = "fp4-plus"
source = "read off the camera"
evidence = "measured"

[lens]
focal_length_mm = 105
marks = [4.5, 5.6, 8, 11, 16, 22]
iris = "continuous"
nearest_focus_m = 1.5

[shutter]
marked = ["1/250", "1/100", "1/50", "1/25", "1"]  # an older series
bulb = true

# the gate is a little narrow
[back]
format = "6x9"
"""


def timed(mark: str, marked_s: float, measured_s: float, sure: bool = True) -> TimedSpeed:
    return TimedSpeed(
        mark, MeasuredSpeed(marked_s, measured_s, measured_s * 0.05, 6, sure, ""), "6 releases by sound (x)"
    )


def test_comments_and_order_stay():
    text, before = edited_kit(KIT, [timed("1/25", 0.04, 0.05), timed("1 s", 1.0, 1.3)], replace=False, where="x")
    assert before == {}
    kept = iter(text.splitlines())
    assert all(line in kept for line in KIT.splitlines())
    data = tomllib.loads(text)
    assert list(kit_faults(data)) == []
    assert [(row["marked"], row["open_s"]) for row in data["shutter"]["measured"]] == [("1/25", 0.05), ("1", 1.3)]


def test_a_second_measurement_joins_the_first():
    first, _ = edited_kit(KIT, [timed("1/25", 0.04, 0.05)], replace=False, where="x")
    second, _ = edited_kit(first, [timed("1/50", 0.02, 0.023)], replace=False, where="x", on=date(2026, 5, 1))
    rows = tomllib.loads(second)["shutter"]["measured"]
    assert [row["marked"] for row in rows] == ["1/25", "1/50"]
    assert rows[1]["source"] == "6 releases by sound (x), 2026-05-01"
    assert "\n\n\n" not in second


def test_old_and_new_are_named_before_anything_is_replaced():
    first, _ = edited_kit(KIT, [timed("1/25", 0.04, 0.05)], replace=False, where="net-loft")
    with pytest.raises(BadInput, match=r"net-loft holds measured times already: 1/25 is measured as 1/20, now 1/18"):
        edited_kit(first, [timed("1/25", 0.04, 0.055)], replace=False, where="net-loft")
    _, before = edited_kit(first, [timed("1/25", 0.04, 0.055)], replace=True, where="net-loft")
    assert before == {"1/25": 0.05}


def test_only_what_can_be_trusted_is_written(tmp_path):
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits/net-loft.toml").write_text(KIT, "utf-8")
    done = keep_times([timed("1/25", 0.04, 0.05), timed("1/250", 0.004, 0.007, False)], "net loft", shelf_dir=tmp_path)
    assert (done.marks, done.copied_from) == (("1/25",), None)
    speeds = {speed.label: speed.measured_s for speed in Shelf(tmp_path).kit("net-loft").shutter.speeds}
    assert speeds["1/25"] == 0.05 and speeds["1/250"] is None


def test_a_time_that_would_spoil_the_file_leaves_it_alone(tmp_path):
    (tmp_path / "kits").mkdir()
    file = tmp_path / "kits/net-loft.toml"
    file.write_text(KIT, "utf-8")
    with pytest.raises(MeterError, match="too far for a shutter"):
        keep_times([timed("1/25", 0.04, 2.0)], "net-loft", shelf_dir=tmp_path)
    assert file.read_text("utf-8") == KIT
    assert os.listdir(file.parent) == ["net-loft.toml"]
