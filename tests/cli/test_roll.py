"""stopgap roll, as a person sees it."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from meter.cli.app import main
from meter.jobs.keep_roll import remember_reading

MORNING = ("--at", "2026-05-01T10:00:00+00:00")
EXPOSE = ("expose", "--shutter", "1/125", "--aperture", "f/11+0.4")
READING = {
    "photos": [{"file": "/somewhere/else/harbour trip/IMG_7.jpg", "make": "Tide", "gps": [54.1, 9.9]}],
    "place": "secret cove",
    "spots": [
        {"x": 0.25, "y": 0.75, "zone": 3.0, "placed": True, "sigma": 0.3, "ev100": 9.0, "label": "quay wall"},
        {"x": 0.6, "y": 0.2, "zone": 7.1, "placed": False, "sigma": 0.4, "ev100": 13.1},
        {"x": 0.5, "y": 0.5, "zone": None, "placed": False, "sigma": 0.4, "ev100": 12.0},
    ],
    "development": "N-1",
    "exposure": {"ei": 200},
    "settings": [
        {"shutter": "1/125", "time_s": 1 / 128, "f_number": 11.314, "aperture": "f/11", "bulb": False, "usable": True},
        {"shutter": "1/60", "time_s": 1 / 64, "f_number": 16.0, "aperture": "f/16", "bulb": False, "usable": True},
        {"shutter": "1/500", "time_s": 1 / 512, "f_number": 5.6, "aperture": "f/5.6", "bulb": False, "usable": False},
        {
            "shutter": "B",
            "time_s": 2.0,
            "hold_s": 2.6,
            "f_number": 22.6,
            "aperture": "f/22",
            "bulb": True,
            "usable": True,
        },
        {
            "shutter": "B",
            "time_s": 4.0,
            "hold_s": 5.8,
            "f_number": 32.0,
            "aperture": "f/32",
            "bulb": True,
            "usable": True,
        },
    ],
    "preferred": 0,
}


@pytest.fixture
def log(tmp_path) -> Path:
    return tmp_path / "rolls.db"


@pytest.fixture
def roll(log):
    """Run a verb of the group on this log; fails unless it leaves with the exit code asked for."""

    def run(*arguments, code: int = 0) -> str:
        result = CliRunner().invoke(main, ["roll", *arguments, "--log", str(log)])
        assert result.exit_code == code, result.output + result.stderr
        assert result.exception is None or isinstance(result.exception, SystemExit)
        return result.stdout if code == 0 else result.stderr

    return run


@pytest.fixture
def loaded(roll):
    roll("load", "hp5-plus", "--kit", "breakwater", "--ei", "200", *MORNING)
    return roll


def test_load_says_what_is_where(roll):
    assert roll("load", "hp5-plus", "--kit", "breakwater", "--ei", "200") == (
        "Roll 1: HP5 Plus at EI 200 in Breakwater 6x7, 90 mm\n10 frames of 6x7\n"
    )


def test_expose_puts_the_setting_first(loaded):
    shown = loaded(
        *EXPOSE, "--place", "quay wall=III", "--place", "floats=VII", "--n", "N-1", "--filter", "yellow-8",
        "--focus", "3m",
        "--note", "tide out", "--photo", "/somewhere/else/IMG_2.jpg", "--where", "north mole",
    )  # fmt: skip
    assert shown == (
        "Frame 1: 1/125 at f/11 + 0.4, N-1; 9 of 10 left\n"
        "  quay wall on III\n  floats on VII\n  yellow-8\n  focus 3.0 m\n  north mole\n  tide out\n  photo IMG_2.jpg\n"
    )


def test_show_fits_80_columns_and_advises_one_tank(loaded):
    for development in ("N", "N", "N", "N-2"):
        loaded(
            *EXPOSE, "--n", development, "--note", "a long note about the tide, the wind and the swell " * 2, *MORNING
        )
    loaded("expose", "--shutter", "B", "--held", "1m30s", "--aperture", "22", *MORNING)
    shown = loaded("show")

    assert max(map(len, shown.splitlines())) <= 80
    assert shown.startswith("Roll 1: HP5 Plus at EI 200 in Breakwater 6x7, 90 mm\n5 of 10 exposed, 5 left\n")
    assert "B 1 min 30 s" in shown
    assert shown.endswith(
        "Develop the whole roll N-0.5\n"
        "  frame 4 asked for N-2: highlights land 1.5 zones too high: softer paper or\n"
        "    burning in, and VIII may block up\n"
        "  asked for nothing: frame 5\n"
    )


def test_undo_is_recorded(loaded):
    loaded(*EXPOSE)
    loaded("expose", "--shutter", "1/60", "--aperture", "8")
    assert (
        loaded("undo")
        == "Frame 2 undone; next is frame 2, 9 left\n  Roll 1: HP5 Plus at EI 200 in Breakwater 6x7, 90 mm\n"
    )
    assert "1/60" not in loaded("show")
    assert "undone" in loaded("show", "--all")
    everything = json.loads(loaded("show", "--all", "--json"))
    assert [frame["undone_at"] is not None for frame in everything["frames"]] == [False, True]


def test_past_the_last_frame_is_warned_of_and_kept(roll):
    roll("load", "hp5-plus", "--kit", "breakwater", "--frames", "1")
    assert roll(*EXPOSE).endswith("  ! frame 1 is the last on this roll\n")
    assert roll(*EXPOSE) == (
        "Frame 2: 1/125 at f/11 + 0.4; 0 of 1 left\n"
        "  ! frame 2 is past the last: this back gives 1 on 6x7; recorded all the same\n"
    )


def test_several_cameras(loaded, roll):
    other = next(kit for kit in kit_names() if kit != "breakwater")
    roll("load", "hp5-plus", "--kit", other)
    assert f"several cameras are loaded: say which with --kit (breakwater, {other})" in roll(*EXPOSE, code=2)
    assert roll(*EXPOSE, "--kit", "breakwater").startswith("Frame 1:")
    assert "still holds roll 1" in roll("load", "hp5-plus", "--kit", "breakwater", code=2)
    roll("unload", "--kit", other)
    assert roll(*EXPOSE).startswith("Frame 2:")
    assert [entry["kit"] for entry in json.loads(roll("show", "--rolls", "--json"))] == ["breakwater", other]


def kit_names() -> tuple[str, ...]:
    from meter.shelf.reader import Shelf

    return Shelf().kit_names()


def test_expose_takes_the_preferred_rung_of_the_last_reading(loaded, log):
    remember_reading(READING, log)
    shown = loaded("expose")

    assert shown.startswith("Frame 1: 1/125 at f/11, N-1; 9 of 10 left\n  quay wall on III\n  0.60,0.20 fell on VII\n")
    (frame,) = json.loads(loaded("show", "--json"))["frames"]
    assert (frame["time_s"], frame["photo"], frame["reading"]) == (1 / 128, "IMG_7.jpg", 1)
    assert frame["placements"][0] == {"name": "quay wall", "zone": 3.0, "placed": True, "sigma": 0.3}


def test_another_rung_and_a_bulb_rung(loaded, log):
    remember_reading(READING, log)
    assert loaded("expose", "--rung", "1/60").startswith("Frame 1: 1/60 at f/16,")
    assert "more than one rung of the reading fits" in loaded("expose", "--rung", "B", code=2)
    assert loaded("expose", "--rung", "B", "--aperture", "f/32").startswith("Frame 2: B 5.8 s at f/32,")
    complaint = loaded("expose", "--rung", "1/500", code=2)
    assert "no rung of the reading fits; it has: 1/125 f/11; 1/60 f/16; B f/22; B f/32" in complaint


def test_a_reading_for_another_index_or_long_ago_is_said(loaded, log):
    remember_reading(READING | {"exposure": {"ei": 400}}, log)
    assert "the reading was for EI 400, this roll is at EI 200: 1 stop under" in loaded("expose")
    assert "reading 1 is" in loaded("expose", "--at", "2099-01-01 10:00")


def test_the_log_holds_no_place_no_folder_and_no_phone(loaded, log):
    remember_reading(READING, log)
    loaded("expose")
    content = b"".join(path.read_bytes() for path in log.parent.iterdir())

    for secret in (b"secret cove", b"54.1", b"someone", b"Tide"):
        assert secret not in content
    assert b"IMG_7.jpg" in content


def test_unload_closes_the_roll(loaded):
    loaded(*EXPOSE, "--n", "N+1")
    assert loaded("unload") == (
        "Unloaded with 1 of 10 exposed\n"
        "  Roll 1: HP5 Plus at EI 200 in Breakwater 6x7, 90 mm\n"
        "Develop the whole roll N+1\n"
    )
    assert "no film is loaded: load one first" in loaded(*EXPOSE, code=2)
    assert "Roll 1" in loaded("show")


def test_a_film_with_a_fixed_process_gets_no_zone_development(roll):
    roll("load", "portra-400", "--kit", "breakwater")
    roll(*EXPOSE, "--n", "N-1")
    assert "Develop it as its process says" in roll("show")


def test_export_csv_and_json(loaded, tmp_path):
    loaded(*EXPOSE, "--place", "quay wall=III", "--n", "N-1", "--note", 'said "now", and = went', *MORNING)
    loaded(*EXPOSE, "--focus", "inf")
    loaded("undo")
    table, tree = tmp_path / "out.csv", tmp_path / "out.json"
    assert loaded("export", "-o", str(table)) == f"{table}: 1 frame of 1 roll\n"
    loaded("export", "-o", str(tree), "--all")

    with table.open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert (row["shutter"], row["aperture"], row["placements"]) == ("1/125", "f/11 + 0.4", "quay wall=3")
    assert row["note"] == 'said "now", and = went'
    frames = json.loads(tree.read_text("utf-8"))["rolls"][0]["frames"]
    assert [frame["focus_m"] for frame in frames] == [None, "inf"]

    before = table.read_bytes()
    assert "exists already: nothing was written" in loaded("export", "-o", str(table), code=2)
    assert table.read_bytes() == before
    assert "name it .csv or .json" in loaded("export", "-o", str(tmp_path / "out.txt"), code=2)
    loaded("export", "-o", str(table), "--force", "--all")
    assert len(table.read_text("utf-8").splitlines()) == 3


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("--shutter", "1/100", "--aperture", "8"), "this shutter has no 1/100: it has 1/500, 1/250"),
        (("--shutter", "1/125", "--aperture", "45"), "f/45.3 lies outside this lens, f/3.5 to f/32"),
        (("--shutter", "B", "--aperture", "8"), "B needs the time it was held"),
        (("--shutter", "1/125", "--aperture", "8", "--held", "3s"), "--held belongs to --shutter B"),
        (("--shutter", "1/125"), "--shutter needs --aperture"),
        (("--shutter", "1/125", "--aperture", "8", "--rung", "1/60"), "--rung and --reading choose from a reading"),
        ((), "no reading is remembered"),
        (("--reading", "7"), "no reading 7 in the log"),
        (("--shutter", "1/125", "--aperture", "8", "--place", "III"), "placement 'III' is not readable"),
        (("--shutter", "1/125", "--aperture", "8", "--place", "wall=XX"), "zone 'XX' is not readable"),
        (("--shutter", "1/125", "--aperture", "8", "--n", "N-9"), "development 'N-9' is not readable"),
        (("--shutter", "1/125", "--aperture", "8", "--focus", "far"), "distance 'far' is not readable"),
        (("--shutter", "1/125", "--aperture", "8", "--at", "soon"), "time 'soon' is not readable"),
    ],
)
def test_what_cannot_be_recorded_is_one_sentence_and_leaves_nothing(loaded, arguments, complaint):
    said = loaded("expose", *arguments, code=2)

    assert complaint in said and len(said.splitlines()) == 1
    assert json.loads(loaded("show", "--all", "--json"))["frames"] == []


def test_show_gives_the_year_and_the_photo_a_line_of_its_own(loaded):
    loaded(*EXPOSE, "--note", "tide out", "--photo", "IMG_2.jpg", "--at", "2026-11-25 09:41")
    lines = loaded("show").splitlines()
    at = next(i for i, line in enumerate(lines) if "2026-11-25 09:41" in line)
    assert lines[at].endswith("tide out")
    assert lines[at + 1].strip() == "photo IMG_2.jpg"
    assert all(len(line) <= 80 for line in lines)


@pytest.mark.parametrize("verb", ["load", "expose", "show", "undo", "unload", "export", "tag", "judge"])
def test_help_shows_an_example(verb):
    shown = CliRunner().invoke(main, ["roll", verb, "--help"]).output
    assert f"stopgap roll {verb}" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_errors_are_json_too(loaded):
    result = CliRunner().invoke(main, ["roll", "expose", "--json", "--log", "no/such/rolls.db"])
    assert json.loads(result.stdout)["error"]["kind"] == "log"
    assert result.exit_code == 1


def test_the_default_log_lies_in_the_user_data_folder(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_, **__: tmp_path)
    assert CliRunner().invoke(main, ["roll", "load", "hp5-plus", "--kit", "breakwater"]).exit_code == 0
    assert (tmp_path / "rolls.db").exists()
