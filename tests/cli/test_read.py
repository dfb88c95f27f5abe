"""stopgap read as a person meets it: text, JSON, drawings, and what it says when something is wrong."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from meter.cli.app import main
from meter.light import ev100_from_luminance, luminance_at_mid_grey
from tests.conftest import CHECKOUT
from tests.photos import PHONE, wall_and_hedge, write_jpeg

CONTRACT = {  # the names are part of the interface
    "": {"photos", "average", "center", "spots", "shadow", "highlight", "range_stops", "development", "exposure",
         "settings", "preferred", "cautions"},
    "photos": {"file", "make", "model", "f_number", "time_s", "iso", "exposure_bias", "brightness_value", "warnings"},
    "average": {"ev100", "sigma", "bound", "luminance"},
    "spots": {"x", "y", "degrees", "ev100", "sigma", "bound", "luminance", "zone", "placed"},
    "exposure": {"ev_film", "ei", "filter_stops", "closeup_stops", "why"},
    "settings": {"shutter", "time_s", "f_number", "aperture", "mark_below", "mark_above", "fraction", "error_stops",
                 "bulb", "metered_s", "hold_s", "usable", "notes"},
}  # fmt: skip


@pytest.fixture
def photo(tmp_path):
    return write_jpeg(tmp_path / "quay.jpg", wall_and_hedge(), PHONE)


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def read_json(*words):
    result = run("read", *words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_the_first_line_says_what_to_set(photo):
    result = run("read", photo, "--kit", "breakwater", "--film", "fp4-plus")
    assert result.exit_code == 0, result.output
    assert result.output.startswith("Set 1/")
    assert " at f/" in result.output.splitlines()[0]
    assert all(len(line) <= 80 for line in result.output.splitlines() if "quay.jpg" not in line)


def test_json_keeps_the_contract(photo):
    answer = read_json(photo, "--spot", "0.2,0.5", "--place", "0.8,0.5,3=III")
    assert answer.keys() >= CONTRACT[""]
    for name, keys in CONTRACT.items():
        if name:
            part = answer[name]
            for one in part if isinstance(part, list) else [part]:
                assert one.keys() >= keys, name
    assert answer["center"].keys() >= CONTRACT["average"]
    assert answer["shadow"].keys() >= CONTRACT["spots"]
    assert answer["settings"][answer["preferred"]]["usable"]


def test_a_grey_wall_reads_what_its_settings_say(tmp_path):
    """Code 118 is the ISO 12232 mid-tone (memory): 10/0.65·N²/(t·S) cd/m², here of f/2, 1/60, ISO 100; sRGB 0.18116."""
    wall = write_jpeg(tmp_path / "wall.jpg", np.full((400, 600, 3), 118, np.uint8), PHONE)
    answer = read_json(wall, "--spot", "0.5,0.5")
    expected = ev100_from_luminance(luminance_at_mid_grey(2.0, 1 / 60, 100) * 0.18116 / 0.18)
    for reading in (answer["average"], answer["center"], answer["spots"][0]):
        assert reading["ev100"] == pytest.approx(expected, abs=0.001)
        assert reading["bound"] == "exact"
    assert (answer["shadow"], answer["range_stops"]) == (None, None)


def test_the_picture_is_read_upright(tmp_path):
    """Orientation 6: the stored left edge is the upright top (Exif tag 0x0112)."""
    stored = np.full((300, 400, 3), 60, np.uint8)
    stored[:, :100] = 180
    turned = write_jpeg(tmp_path / "turned.jpg", stored, PHONE | {"Orientation": 6})
    top, bottom = read_json(turned, "--spot", "0.5,0.1", "--spot", "0.5,0.9")["spots"]
    assert top["ev100"] - bottom["ev100"] > 3


def test_textured_shadow_and_highlight_are_offered(photo):
    answer = read_json(photo, "--film", "hp5-plus")
    assert answer["shadow"]["x"] > 0.5 > answer["highlight"]["x"]
    assert answer["shadow"]["placed"]
    assert answer["shadow"]["zone"] == pytest.approx(3, abs=1e-3)


def test_reversal_film_starts_from_the_highlight(photo):
    answer = read_json(photo, "--film", "velvia-50")
    assert answer["highlight"]["zone"] <= 7.5001


def test_a_place_by_zone_and_by_subject(photo):
    by_zone = read_json(photo, "--place", "0.2,0.5=VII½")["spots"][0]
    assert (by_zone["zone"], by_zone["placed"]) == (7.5, True)
    by_subject = read_json(photo, "--place", "0.2,0.5=18-percent-card")["spots"][0]
    assert by_subject["zone"] == 5
    assert "card" in by_subject["label"].lower()


def test_filters_close_up_and_ei_move_the_exposure(photo):
    plain = read_json(photo, "--film", "fp4-plus")["exposure"]
    changed = read_json(photo, "--film", "fp4-plus", "--filter", "red-25", "--magnification", "1", "--ei", "250")[
        "exposure"
    ]
    assert changed["closeup_stops"] == 2
    expected = plain["ev_film"] - changed["filter_stops"] - 2 + 1
    assert changed["ev_film"] == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_map_is_drawn(photo, tmp_path, kind):
    drawing = tmp_path / f"map.{kind}"
    result = run("read", photo, "--spot", "0.2,0.5", "--map", drawing)
    assert result.exit_code == 0, result.output
    content = drawing.read_bytes()
    if kind == "svg":
        assert b"shadow III" in content
        assert b"highlight" in content
    else:
        assert content.startswith(b"\x89PNG")
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["quay.jpg", drawing.name])


def test_missing_exif_is_asked_for_and_taken(tmp_path):
    bare = write_jpeg(tmp_path / "bare.jpg", wall_and_hedge())
    result = run("read", bare)
    assert result.exit_code == 2
    assert "--aperture" in result.output and "--iso" in result.output
    answer = read_json(bare, "--aperture", "1.8", "--time", "1/100", "--iso", "50")
    assert (answer["photos"][0]["f_number"], answer["photos"][0]["iso"]) == (1.8, 50)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--spot", "1.4,0.5"], "outside the picture"),
        (["--spot", "middle"], "not a spot"),
        (["--place", "0.5,0.5"], "places nothing"),
        (["--place", "0.5,0.5=XII"], "not readable"),
        (["--place", "0.5,0.5=sea monster"], "sea"),
        (["--kit", "breakwatr"], "breakwater"),
        (["--film", "hp6"], "hp5-plus"),
        (["--filter", "pink"], "pink"),
        (["--reciprocity", "guess"], "sheet"),
        (["--ei", "0"], "exposure index"),
        (["--ei", "nan"], "not a number"),
        (["--magnification", "-1"], "magnification"),
        (["--magnification", "1", "--extension", "20"], "twice"),
        (["--meter-constant", "20"], "10.6"),
        (["--aperture", "wide"], "f-number"),
        (["--time", "soon"], "not readable"),
        (["--map", "map.gif"], "svg or .png"),
        (["--map", "nowhere/at/all/map.png"], "nowhere"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence_and_exits_2(photo, words, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("read", photo, *words)
    assert result.exit_code in (1, 2)
    assert result.exit_code == 2 or "nowhere" in says
    assert says in result.output
    assert "Traceback" not in result.output
    told = json.loads(run("read", photo, *words, "--json").stdout)
    assert says in told["error"]["message"]
    assert [p.name for p in tmp_path.iterdir()] == ["quay.jpg"]


@pytest.mark.parametrize("size", [(1, 1), (1, 7), (3, 2)])
def test_the_smallest_pictures_are_read(tmp_path, size):
    tiny = write_jpeg(tmp_path / "tiny.jpg", np.full((*size, 3), 118, np.uint8), PHONE)
    answer = read_json(tiny, "--spot", "0,0", "--spot", "1,1")
    assert answer["average"]["bound"] == "exact"
    assert answer["shadow"] is None


def test_no_photo_and_no_file():
    assert "name at least one photo" in run("read").output
    result = run("read", "gone.jpg")
    assert (result.exit_code, "does not exist" in result.output) == (2, True)


def test_every_real_photo_is_read_sanely(real_photos):
    """Daylight to dusk: each photo's average lies within 2.5 EV of what its own exposure was set for."""
    for file in sorted((real_photos / "jpeg").glob("*.jpg")):
        answer = read_json(file)
        (shot,) = answer["photos"]
        set_for = np.log2(shot["f_number"] ** 2 / shot["time_s"] * 100 / shot["iso"])
        assert abs(answer["average"]["ev100"] - set_for) < 2.5, file.name
        assert 0.2 < answer["average"]["sigma"] < 1.5, file.name
        assert answer["preferred"] is not None, file.name


def test_a_remembered_reading_becomes_the_next_frame(photo, tmp_path):
    log = tmp_path / "rolls.db"
    assert run("roll", "load", "fp4-plus", "--kit", "breakwater", "--log", log).exit_code == 0
    told = read_json(photo, "--film", "fp4-plus", "--place", "0.8,0.5=III", "--remember", "--log", log)
    assert told["remembered"] == 1
    assert run("roll", "expose", "--log", log).exit_code == 0
    roll = json.loads(run("roll", "show", "--log", log, "--json").stdout)
    chosen = told["settings"][told["preferred"]]
    assert roll["frames"][0]["shutter"] == chosen["shutter"]
    assert roll["frames"][0]["photo"] == "quay.jpg"


def test_a_log_without_remember_is_refused(photo, tmp_path):
    assert "--remember" in run("read", photo, "--log", tmp_path / "rolls.db").output


def test_a_black_spot_is_bounded_by_what_black_can_be(tmp_path):
    """Code 4 under f/2, 1/60, ISO 100: (4/255)/12.92 / 0.18 of the mid-tone, which is EV 8.2."""
    dark = write_jpeg(tmp_path / "dark.jpg", np.zeros((64, 64, 3), np.uint8), PHONE)
    (spot,) = read_json(dark, "--spot", "0.5,0.5")["spots"]
    floor = ev100_from_luminance(luminance_at_mid_grey(2.0, 1 / 60, 100) * (4 / 255 / 12.92) / 0.18)
    assert spot["bound"] == "at_most"
    assert spot["ev100"] == pytest.approx(floor, abs=0.01)
    assert spot["sigma"] < 2


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_a_screen_without_our_letters_still_shows_the_settings(photo, encoding):
    environment = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": str(CHECKOUT)}
    words = [sys.executable, "-m", "meter", "read", str(photo)]
    done = subprocess.run(words, capture_output=True, env=environment, cwd=CHECKOUT, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(b"Set ")


def test_a_name_that_is_no_text_is_shown_and_read(tmp_path):
    strange = tmp_path / os.fsdecode(b"bad\xff\x1b[31m.jpg")
    write_jpeg(strange, wall_and_hedge(), PHONE)
    assert read_json(strange)["photos"][0]["file"].isprintable()
    assert "\x1b" not in run("read", strange).output


def test_an_unknown_option_of_the_whole_is_json_too():
    assert json.loads(run("--nosuch", "--json").stdout)["error"]["kind"] == "usage"


def test_a_map_replaces_a_file_only_with_force_and_a_photo_never(tmp_path):
    photo = tmp_path / "quay.png"
    Image.fromarray(wall_and_hedge()).save(photo)
    given = ["--aperture", "1.8", "--time", "1/100", "--iso", "50"]
    before = photo.read_bytes()
    assert "a photo to be metered" in run("read", photo, *given, "--map", photo, "--force").output
    assert photo.read_bytes() == before
    drawing = tmp_path / "map.svg"
    drawing.write_text("precious")
    assert "--force" in run("read", photo, *given, "--map", drawing).output
    assert drawing.read_text() == "precious"
    assert run("read", photo, *given, "--map", drawing, "--force").exit_code == 0
    assert drawing.read_text().startswith("<svg")


def test_a_remembered_reading_is_for_the_film_in_the_camera(photo, tmp_path):
    log = tmp_path / "rolls.db"
    assert run("roll", "load", "fp4-plus", "--kit", "breakwater", "--ei", "80", "--log", log).exit_code == 0
    told = read_json(photo, "--remember", "--log", log)
    assert (told["film"], told["exposure"]["ei"]) == ("fp4-plus", 80)
    assert "those of roll 1" in run("read", photo, "--remember", "--log", log).output
    assert read_json(photo, "--film", "hp5-plus", "--remember", "--log", log)["film"] == "hp5-plus"
    assert read_json(photo)["film"] == "hp5-plus"
