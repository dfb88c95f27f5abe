"""stopgap roll expose from a remembered reading: everything it counted is recorded, and nothing this kit cannot do."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from meter.cli.app import main
from meter.jobs.find_settings import find_settings
from meter.jobs.keep_roll import remember_reading
from meter.jobs.load_order import Wish
from tests.conftest import CHECKOUT
from tests.photos import PHONE, wall_and_hedge, write_jpeg


@pytest.fixture
def log(tmp_path) -> Path:
    return tmp_path / "rolls.db"


@pytest.fixture
def stopgap(log):
    """Run a command line on this log; what it prints (its complaint where it should leave with a code)."""

    def run(*arguments, code: int = 0) -> str:
        result = CliRunner().invoke(main, [*map(str, arguments), "--log", str(log)])
        assert result.exit_code == code, result.output + result.stderr
        return result.stdout if code == 0 else result.stderr

    return run


def last_frame(stopgap) -> dict:
    return json.loads(stopgap("roll", "show", "--json"))["frames"][-1]


def remember(log, ev100: float, **wish) -> dict:
    answer = find_settings(Wish(**wish), ev100, None).answer
    remember_reading(answer, log)
    return answer


def test_filter_focus_and_the_textured_ends_come_with_the_reading(stopgap, tmp_path):
    photo = write_jpeg(tmp_path / "quay.jpg", wall_and_hedge(), PHONE)
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    stopgap("read", photo, "--filter", "Yellow 8", "--filter", "nd-4", "--focus", "3m", "--remember")
    shown = stopgap("roll", "expose")

    assert "  textured shadow on III\n  textured highlight fell on" in shown and "!" not in shown
    frame = last_frame(stopgap)
    assert (frame["filter"], frame["focus_m"]) == ("yellow-8 + nd-4", 3.0)
    shadow, highlight = frame["placements"]
    assert (shadow["name"], shadow["zone"], shadow["placed"]) == ("textured shadow", 3.0, True)
    assert (highlight["name"], highlight["placed"]) == ("textured highlight", False)


def test_the_judge_knows_what_the_reading_placed(stopgap, tmp_path):
    photo = write_jpeg(tmp_path / "quay.jpg", wall_and_hedge(), PHONE)
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    stopgap("read", photo, "--remember")
    stopgap("roll", "expose")
    said = stopgap("roll", "judge", "--frame", 1, "--base-fog", 0.1, "--density", "textured shadow=0.45",
                   "--density", "VIII=1.3", "--json")  # fmt: skip
    assert [patch["zone"] for patch in json.loads(said)["patches"]] == [3.0, 8.0]


def test_focus_at_infinity_is_kept_and_typing_wins(stopgap, log):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    remember(log, 12.0, focus_m=float("inf"), filters=("orange-21",))
    stopgap("roll", "expose")
    assert (last_frame(stopgap)["focus_m"], last_frame(stopgap)["filter"]) == ("inf", "orange-21")
    shown = stopgap("roll", "expose", "--focus", "5m", "--filter", "yellow-8")
    assert (last_frame(stopgap)["focus_m"], last_frame(stopgap)["filter"]) == (5.0, "yellow-8")
    assert "  ! the reading counted orange-21, this frame has yellow-8\n" in shown


def test_the_time_held_is_the_one_recorded(stopgap, log):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    answer = remember(log, -2.0)
    asked = next(rung for rung in answer["settings"] if rung["bulb"] and rung["aperture"] == "f/11")
    stopgap("roll", "expose", "--rung", "B", "--aperture", "f/11")
    assert last_frame(stopgap)["time_s"] == asked["hold_s"] > 500
    shown = stopgap("roll", "expose", "--rung", "B", "--aperture", "f/11", "--held", "500s")
    assert shown.startswith("Frame 2: B 8 min 20 s at f/11;")
    assert last_frame(stopgap)["time_s"] == 500


def test_b_and_its_time_alone_take_the_readings_aperture(stopgap, log):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    bulb = [rung for rung in remember(log, -2.0)["settings"] if rung["bulb"]]
    held = ("roll", "expose", "--shutter", "B", "--held", "9s")
    assert stopgap(*held).startswith(f"Frame 1: B 9 s at {bulb[0]['aperture']};")  # the one that the reading prefers

    remember_reading({"settings": bulb, "preferred": None}, log)
    assert "more than one rung of the reading fits; it has: B f/3.5; B f/5.6" in stopgap(*held, code=2)
    assert stopgap(*held, "--reading", 1).startswith("Frame 2: B 9 s")
    assert "choose from a reading" in stopgap(*held, "--rung", "B", code=2)


def test_held_on_an_engraved_rung_is_refused(stopgap, log):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    remember(log, 13.0)
    assert "--held belongs to B, and this rung" in stopgap("roll", "expose", "--held", "4s", code=2)
    assert "--held belongs to B" in stopgap("roll", "expose", "--rung", "1/60", "--held", "4s", code=2)


@pytest.mark.parametrize(("read_at", "words"), [(400, "1 stop under"), (100, "1 stop over"), (250, "0.3 stops under")])
def test_an_index_that_gives_the_film_less_is_under(stopgap, log, read_at, words):
    """Plus is more exposure: a reading at EI 400 gives a roll at EI 200 half of the light that it asks for."""
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater", "--ei", 200)
    remember(log, 12.0, ei=read_at)
    note = f"  ! the reading was for EI {read_at}, this roll is at EI 200: {words}\n"
    assert note in stopgap("roll", "expose")


def test_a_reading_for_another_kit_is_set_as_this_kit_gives_it(stopgap, log):
    """harbour-light's 1/125 was measured at 9.3 ms: log2(0.0093 * 128) = 0.25 stops more (computed)."""
    stopgap("roll", "load", "hp5-plus", "--kit", "harbour-light")
    remember_reading(
        {"kit": "breakwater", "preferred": 0, "settings": [
            {"shutter": "1/125", "time_s": 1 / 128, "f_number": 8.0, "aperture": "f/8", "bulb": False, "usable": True}
        ]}, log,
    )  # fmt: skip
    shown = " ".join(stopgap("roll", "expose").split())
    assert "the reading was for breakwater, this roll is in harbour-light, whose 1/125 makes it 0.3 stops over" in shown
    assert last_frame(stopgap)["time_s"] == 0.0093


@pytest.mark.parametrize(
    ("kit", "shutter", "f_number", "complaint"),
    [
        ("breakwater-wide", "1/60", 3.5, "f/3.5 lies outside this lens, f/6.3 to f/32"),
        ("ropewalk", "1/500", 8.0, "this shutter has no 1/500: it has 1/250, 1/100"),
        ("harbour-light", "1/60", 9.2, "f/9.2 lies between the half-stop clicks"),
    ],
)
def test_what_this_kit_cannot_be_set_to_is_refused(stopgap, log, kit, shutter, f_number, complaint):
    stopgap("roll", "load", "hp5-plus", "--kit", kit)
    rung = {"shutter": shutter, "time_s": 0.01, "f_number": f_number, "aperture": "as set", "bulb": False}
    remember_reading({"kit": "breakwater", "settings": [rung], "preferred": 0}, log)
    said = stopgap("roll", "expose", code=2)

    assert said.startswith(f"Error: reading 1 was for breakwater and cannot be set in {kit}: {complaint}")
    assert said.endswith("say what was set with --shutter and --aperture\n") and len(said.splitlines()) == 1
    assert json.loads(stopgap("roll", "show", "--json"))["frames"] == []


@pytest.mark.skipif(sys.platform != "linux", reason="file names elsewhere are text")
def test_names_and_notes_that_are_no_text_are_kept_as_far_as_they_go(stopgap, log, tmp_path):
    photo = os.fsencode(write_jpeg(tmp_path / "quay.jpg", wall_and_hedge(), PHONE).rename(tmp_path / "q\udcff.jpg"))

    def run(*arguments: bytes) -> None:
        line = [sys.executable, "-m", "meter", *arguments, "--log", os.fsencode(log), "--json"]
        done = subprocess.run(line, capture_output=True, cwd=CHECKOUT, check=False)
        assert b"Traceback" not in done.stderr and done.returncode == 0, done.stderr

    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    run(b"roll", b"expose", b"--shutter", b"1/60", b"--aperture", b"8", b"--note", b"tide \xff out", b"--photo", photo,
        b"--place", b"w\xffall=III", b"--where", b"\xfe")  # fmt: skip
    frame = last_frame(stopgap)
    assert (frame["note"], frame["photo"], frame["where"]) == ("tide \ufffd out", "q\ufffd.jpg", "\ufffd")
    assert frame["placements"][0]["name"] == "w\ufffdall"

    remember_reading({"photos": [{"file": os.fsdecode(photo)}], "settings": []}, log)
    assert "q\ufffd.jpg" in stopgap("roll", "expose", "--shutter", "1/60", "--aperture", "8", "--photo", "q\udcff.jpg")


def test_filters_are_named_as_on_the_shelf_and_unknown_ones_are_said(stopgap):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater")
    typed = ("roll", "expose", "--shutter", "1/60", "--aperture", "8")
    assert "!" not in stopgap(*typed, "--filter", "Yellow 8", "--filter", "nd 4", "--focus", "1m")
    assert last_frame(stopgap)["filter"] == "yellow-8 + nd-4"

    shown = stopgap(*typed, "--filter", "nosuchfilter", "--focus", "0.1m")
    assert "  ! filter 'nosuchfilter' is not on the shelf" in shown
    assert "! 0.10 m is nearer than this lens focuses (1.00 m): recorded all the same" in " ".join(shown.split())
    assert max(map(len, shown.splitlines())) <= 80
    assert (last_frame(stopgap)["filter"], last_frame(stopgap)["focus_m"]) == ("nosuchfilter", 0.1)


def test_a_frame_beyond_the_roll_is_refused_and_the_next_one_never(stopgap):
    stopgap("roll", "load", "hp5-plus", "--kit", "breakwater", "--frames", 2)
    typed = ("roll", "expose", "--shutter", "1/60", "--aperture", "8")
    said = stopgap(*typed, "--frame", 200, code=2)
    assert "roll 1 has 2 frames and the next is 1: there is no frame 200 on it" in said
    stopgap(*typed, "--frame", 2)
    assert "past the last" in stopgap(*typed, "--frame", 3)
    assert "there is no frame 5" in stopgap(*typed, "--frame", 5, code=2)


def test_load_takes_the_kits_index_for_its_film_and_no_impossible_one(stopgap, tmp_path):
    kits = CHECKOUT / "meter/shelf/kits/breakwater.toml"
    (tmp_path / "shelf/kits").mkdir(parents=True)
    text = kits.read_text("utf-8").replace('film = "hp5-plus"', 'film = "HP5 Plus"\nei = 250')
    (tmp_path / "shelf/kits/tug.toml").write_text(text, encoding="utf-8")

    assert "an exposure index from 0.1 to" in stopgap(
        "roll", "load", "hp5-plus", "--kit", "breakwater", "--ei", "1e308", code=2
    )
    shown = stopgap("roll", "load", "hp5", "--kit", "tug", "--shelf", tmp_path / "shelf")
    assert shown.startswith("Roll 1: HP5 Plus at EI 250 in")


def test_a_data_folder_that_cannot_be_made_is_one_sentence(tmp_path, monkeypatch):
    (tmp_path / "file").touch()
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_, **__: tmp_path / "file/stopgap")
    photo = write_jpeg(tmp_path / "quay.jpg", wall_and_hedge(), PHONE)
    for line in (["roll", "load", "hp5-plus", "--kit", "breakwater"], ["read", str(photo), "--remember"]):
        result = CliRunner().invoke(main, line)
        assert isinstance(result.exception, SystemExit) and result.exit_code == 1
        assert "for the roll log cannot be made" in result.stderr and len(result.stderr.splitlines()) == 1
