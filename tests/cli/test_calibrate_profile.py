"""stopgap calibrate response, offset, flat, show, list; and read through what they made. The phone is simulated."""

import json
import re
from math import log2

import pytest
from click.testing import CliRunner

from meter.cli.app import main
from meter.jobs.find_profile import open_profile
from sample_scenes.camera import card
from tests.cli.phone import card_of, flat, photo, retagged, series

PHONE = card("harbour")
NAME = "harbour-works-hw-3-26mm"


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def shots(tmp_path_factory):
    """Series of the quay and the lane, and one photo each of the moor, the lane and the snowfield."""
    folder = tmp_path_factory.mktemp("phone")
    series(folder / "quay", "quay", PHONE)
    series(folder / "lane", "lane", PHONE, seed=10)
    photo(folder / "moor.jpg", "moor", PHONE)
    photo(folder / "lane.jpg", "lane", PHONE)
    photo(folder / "snow.jpg", "snowfield", PHONE)
    return folder


@pytest.fixture(scope="module")
def shelf(tmp_path_factory, shots):
    """A shelf with the phone's profile: response from two places, offset from the moor's card."""
    shelf = tmp_path_factory.mktemp("own") / "shelf"
    fitted = run("calibrate", "response", shots / "quay", shots / "lane", "--shelf", shelf)
    assert fitted.exit_code == 0, fitted.output
    x, y, luminance = card_of("moor")
    anchored = run("calibrate", "offset", shots / "moor.jpg", "--known", f"{x},{y}={luminance}cd", "--shelf", shelf)
    assert anchored.exit_code == 0, anchored.output
    return shelf


def test_response_says_what_it_found_and_where_it_went(shots, tmp_path):
    result = run("calibrate", "response", *sorted((shots / "quay").iterdir()), "-p", tmp_path / "mine.toml")
    lines = result.output.splitlines()
    assert result.exit_code == 0
    assert lines[0] == "Response of Harbour Works HW 3, 26 mm from 5 photos of one scene"
    assert "0.jpg      EV 16.6  -0.0" in result.output
    assert lines[-1] == "Next: stopgap calibrate offset, with a card and a meter you trust."
    assert open_profile(tmp_path / "mine.toml").conditions.frames == 5


def test_response_brings_photos_of_one_place_together(shots, tmp_path):
    told = json.loads(
        run("calibrate", "response", shots / "quay", shots / "lane", "-p", tmp_path / "p.toml", "--json").stdout
    )
    assert told["spread_after_stops"] < 0.3 * told["spread_before_stops"]
    assert [photo["scene"] for photo in told["photos"]] == [1] * 5 + [2] * 5
    assert not any(photo["disagrees"] for photo in told["photos"])
    assert told["codes"][0]["first"] == 0 and told["codes"][-1]["last"] == 255


def test_a_photo_that_contradicts_its_exif_is_named(shots, tmp_path):
    photos = sorted((shots / "quay").iterdir())
    wrong = retagged(tmp_path / "wrong.jpg", photos[1], PhotographicSensitivity=100)  # it was 50: one stop apart
    told = json.loads(
        run("calibrate", "response", photos[0], wrong, *photos[2:], "-p", tmp_path / "p.toml", "--json").stdout
    )
    assert [photo["file"] for photo in told["photos"] if photo["disagrees"]] == [str(wrong)]
    assert told["photos"][1]["stray_stops"] == pytest.approx(-1, abs=0.15)


def test_offset_finds_what_the_phone_reads_too_low(shelf, shots):
    """Through it the card of another place is right: the figure that counts is across scenes."""
    x, y, luminance = card_of("snowfield")
    words = ["read", shots / "snow.jpg", "--spot", f"{x},{y}", "--shelf", shelf, "--json"]
    told, plain = (json.loads(run(*words, *more).stdout) for more in ([], ["--no-profile"]))
    (spot,) = told["spots"]
    assert told["photos"][0]["profile"] == NAME
    assert abs(log2(spot["luminance"] / luminance)) < 2 * spot["sigma"]
    assert spot["sigma"] < 0.7 * plain["spots"][0]["sigma"]


def test_a_profile_is_used_by_itself_named_or_not_at_all(shelf, shots):
    own, none = (run("read", shots / "lane.jpg", "--shelf", shelf, *more) for more in ([], ["--no-profile"]))
    assert f"Read through profile {NAME}" in own.output
    assert "Read without a profile" in none.output
    file = shelf / "profiles" / f"{NAME}.toml"
    for named in (NAME, "harbour works", file):
        result = run("read", shots / "lane.jpg", "--shelf", shelf, "--profile", named)
        assert f"Read through profile {NAME}" in result.output
    both = run("read", shots / "lane.jpg", "--profile", file, "--no-profile")
    assert both.exit_code == 2 and "contradict each other" in both.output


def test_another_lens_of_the_phone_has_no_profile(shelf, shots, tmp_path):
    tele = retagged(tmp_path / "tele.jpg", shots / "lane.jpg", FocalLengthIn35mmFilm=52)
    assert "Read without a profile" in run("read", tele, "--shelf", shelf).output
    near = retagged(tmp_path / "near.jpg", shots / "lane.jpg", FocalLengthIn35mmFilm=26)
    assert f"profile {NAME}" in run("read", near, "--shelf", shelf).output


def test_a_new_response_drops_the_offset_and_says_so(shelf, shots, tmp_path):
    copy = tmp_path / "copy.toml"
    copy.write_bytes((shelf / "profiles" / f"{NAME}.toml").read_bytes())
    result = run("calibrate", "response", shots / "quay", "-p", copy)
    assert "was measured through the old response and is dropped" in result.output.replace("\n  ", " ")
    assert "offset" not in open_profile(copy).origins


def test_several_references_and_one_that_contradicts(shelf, shots, tmp_path):
    (x, y, moor), (u, v, snow) = card_of("moor"), card_of("snowfield")
    photos = [shots / "moor.jpg", shots / "snow.jpg"]
    copy = tmp_path / "copy.toml"
    copy.write_bytes((shelf / "profiles" / f"{NAME}.toml").read_bytes())
    words = ["calibrate", "offset", *photos, "-p", copy, "--json", "--known", f"{x},{y}={moor}cd", "--known"]
    good = json.loads(run(*words, f"2:{u},{v}={snow * 3.14159 / 0.18:.5g}lx@18%").stdout)
    assert len(good["known"]) == 2 and good["before"] is not None
    assert good["sigma_stops"] < good["before"]["sigma_stops"]
    before = copy.read_bytes()
    bad = json.loads(run(*words, f"{u},{v}={snow * 4}cd").stdout)
    assert "sigma apart" in bad["error"]["message"]
    assert copy.read_bytes() == before


def test_an_offset_beyond_belief_is_refused_unless_forced(shots, tmp_path):
    x, y, luminance = card_of("moor")
    words = ["calibrate", "offset", shots / "moor.jpg", "-p", tmp_path / "p.toml", "--known"]
    result = run(*words, f"{x},{y}={luminance * 8}cd")
    assert result.exit_code == 2
    assert "nothing was written: an offset of +" in result.output and "--known" in result.output
    assert not (tmp_path / "p.toml").exists()
    assert run(*words, f"{x},{y}={luminance * 8}cd", "--force").exit_code == 0
    assert (tmp_path / "p.toml").exists()


def test_an_offset_that_contradicts_the_old_one_is_refused_unless_forced(shelf, shots, tmp_path):
    x, y, luminance = card_of("moor")
    copy = tmp_path / "copy.toml"
    copy.write_bytes((shelf / "profiles" / f"{NAME}.toml").read_bytes())
    before = copy.read_bytes()
    words = ["calibrate", "offset", shots / "moor.jpg", "-p", copy, "--known", f"{x},{y}={luminance / 2.4}cd"]
    result = run(*words)
    said = " ".join(result.output.split())
    assert result.exit_code == 2
    assert "contradicts the old one" in said and "; the profile has " in said
    assert copy.read_bytes() == before
    assert "before." in run(*words, "--force").output


def test_the_sun_comes_with_a_caution(shots, tmp_path):
    words = ["calibrate", "offset", shots / "moor.jpg", "--known", "0.67,0.46=sun@30deg", "-p", tmp_path / "p.toml"]
    result = run(*words, "--force")
    assert "never look at it" in result.output


def test_flat_finds_the_corners_and_the_reading_uses_it(shots, tmp_path):
    profile = tmp_path / "p.toml"
    files = [flat(tmp_path / "a.jpg", PHONE, -0.8, 0.2), flat(tmp_path / "b.jpg", PHONE, -0.8, 0.2)]
    turned = flat(tmp_path / "c.jpg", PHONE, -0.8, 0.2, turned=True)
    assert run("calibrate", "response", shots / "quay", "-p", profile).exit_code == 0
    told = json.loads(run("calibrate", "flat", *files, "--turned", turned, "-p", profile, "--json").stdout)
    # The phone leaves a tenth of its own cos⁴, 0.15 stop in the corner at 26 mm, on top of what the surface has.
    assert told["corner_stops"] == pytest.approx(-0.95, abs=2 * told["sigma_stops"])
    assert told["sigma_stops"] < 0.08
    assert told["gradient_stops"] == pytest.approx(0.2, abs=0.05)
    words = ["read", files[0], "--spot", "0.02,0.5,1", "--spot", "0.5,0.5,1", "--json"]
    edge, middle = (
        [spot["ev100"] for spot in json.loads(run(*words, *more).stdout)["spots"]]
        for more in (["--no-profile"], ["--profile", profile])
    )
    assert abs(middle[0] - middle[1]) < 0.35 * abs(edge[0] - edge[1])


def test_an_uneven_surface_is_refused_and_nothing_is_written(shots, tmp_path):
    result = run("calibrate", "flat", shots / "moor.jpg", "-p", tmp_path / "p.toml")
    assert result.exit_code == 2
    assert not (tmp_path / "p.toml").exists()


def test_list_and_show(shelf, tmp_path):
    assert run("calibrate", "list", "--shelf", shelf).output.splitlines()[-1] == (
        f"{NAME}  Harbour Works HW 3, 26 mm  response, offset"
    )
    (one,) = json.loads(run("calibrate", "list", "--shelf", shelf, "--json").stdout)
    assert one["name"] == NAME and one["measured"] == ["response", "offset"]
    shown = run("calibrate", "show", "hw-3", "--shelf", shelf, "--plot", tmp_path / "p.png").output
    assert "Tones    10 photos of 2 still scenes, 20" in shown
    assert re.search(r"Scale    [+-]0\.", shown) and "1 known spot: a luminance meter" in shown
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")
    assert run("calibrate", "show", "hw-3", "--shelf", shelf, "--plot", tmp_path / "p.svg").exit_code == 0
    assert (tmp_path / "p.svg").read_text("utf-8").startswith("<svg")


def test_no_profile_yet():
    assert run("calibrate", "list").output == "No phone is calibrated yet: stopgap calibrate response PHOTO...\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["response"], "three or more photos"),
        (["response", "{quay}/0.jpg", "{quay}/1.jpg"], "3 to 30"),
        (["response", "{quay}/0.jpg", "{quay}/0.jpg", "{quay}/0.jpg"], "same exposure"),
        (["response", "{quay}/0.jpg", "{quay}/1.jpg", "{tele}"], "mixed lenses"),
        (["response", "{empty}"], "holds no photos"),
        (["response", "{parent}"], "its folders do"),
        (["offset"], "name the photo"),
        (["offset", "{moor}"], "--known"),
        (["offset", "{moor}", "--known", "noon"], "does not say what is known"),
        (["offset", "{moor}", "{quay}/2.jpg", "--known", "0.5,0.5=EV12"], "which of the 2 photos"),
        (["offset", "{moor}", "--known", "2:0.5,0.5=EV12"], "there is no photo 2"),
        (["offset", "{moor}", "--known", "guide:gloom"], "gloom"),
        (["offset", "{blown}", "--known", "0.5,0.1=EV15"], "blown"),
        (["flat"], "even surface"),
        (["flat", "{quay}/2.jpg", "{tele}"], "mixed lenses"),
        (["show", "nobody"], "profile 'nobody' is not on the shelf"),
        (["show", "{broken}"], "format: this version reads 1"),
    ],
)
def test_what_cannot_calibrate_is_one_sentence(words, says, shots, tmp_path):
    places = {
        "quay": shots / "quay",
        "moor": shots / "moor.jpg",
        "tele": retagged(tmp_path / "tele.jpg", shots / "moor.jpg", FocalLengthIn35mmFilm=52),
        "blown": photo(tmp_path / "blown.jpg", "quay", PHONE, bias=5) if "{blown}" in words else "",
        "empty": tmp_path / "empty",
        "parent": tmp_path / "parent",
        "broken": tmp_path / "broken.toml",
    }
    places["empty"].mkdir()
    (places["parent"] / "inside").mkdir(parents=True)
    places["broken"].write_text("format = 9\n", "utf-8")
    own = tmp_path / "own"
    result = run(
        "calibrate", *(word.format(**places) for word in words), *([] if words[0] == "show" else ["--shelf", own])
    )
    assert result.exit_code == 2, result.output
    assert says in " ".join(result.output.split())
    assert not own.exists()
