"""The shelf: which place wins, what is shipped, and one clear sentence for what cannot be used."""

import subprocess
import sys
import tomllib
from math import hypot, inf, log2
from pathlib import Path

import pytest

from meter.errors import ShelfError
from meter.factors import stacked_stops
from meter.shelf.reader import Shelf

HERE = Path(__file__).parent
DAYLIGHT = tomllib.loads((HERE.parent / "published" / "daylight.toml").read_text("utf-8"))
README = HERE.parents[1] / "meter" / "shelf" / "README.md"
FILM = """\
format = 1
name = "{name}"
speed_iso = 64
kind = "negative"
process = "bw"
source = "the box"
evidence = "published"
also = ["Loft"]
"""


@pytest.fixture
def config(tmp_path) -> Path:
    return tmp_path / "config"


@pytest.fixture
def shelf(config) -> Shelf:
    return Shelf(config=config)


def put(folder: Path, path: str, text: str) -> Path:
    file = folder / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, "utf-8")
    return file


def test_the_generic_films_are_there_without_figures(shelf):
    for iso in (25, 50, 64, 100, 125, 160, 200, 400, 800, 1600, 3200):
        film = shelf.film(f"iso {iso}")
        assert (film.speed_iso, film.curves, film.curve()) == (iso, (), None)
        assert "no reciprocity figure" in film.notes[0]


def test_every_other_film_has_a_default_curve_with_source_and_evidence(shelf):
    films = [shelf.film(name) for name in shelf.film_names() if not name.startswith("iso-")]

    assert len(films) == 31
    for film in films:
        assert film.curve().name == film.default_curve
        assert all(curve.source and curve.evidence for curve in film.curves)
        assert all(row.source and row.evidence for curve in film.curves for row in curve.rows)
        assert film.default_reason or len(film.curves) == 1


@pytest.mark.parametrize("name", ["HP5 Plus", "hp5plus", "hp5-plus", "HP5"])
def test_a_film_is_found_as_people_write_it(shelf, name):
    assert shelf.film(name).slug == "hp5-plus"


@pytest.mark.parametrize(("name", "slug"), [("TMX", "t-max-100"), ("400TX", "tri-x-400"), ("e100", "ektachrome-e100")])
def test_a_film_is_found_by_its_other_names(shelf, name, slug):
    assert shelf.film(name).slug == slug


def test_an_unknown_film_gets_a_likely_one_and_the_list(shelf):
    with pytest.raises(
        ShelfError, match=r"film 'fp4 pls' is not on the shelf; did you mean fp4-plus.*\? see stopgap film list"
    ):
        shelf.film("fp4 pls")


def test_the_given_folder_wins_over_the_config_folder_and_that_over_ours(tmp_path, config):
    put(config, "films/fp4-plus.toml", FILM.format(name="from config"))
    assert Shelf(config=config).film("FP4 Plus").name == "from config"

    put(tmp_path / "mine", "films/FP4_Plus.toml", FILM.format(name="from folder"))
    both = Shelf(tmp_path / "mine", config)
    assert both.film("fp4-plus").name == "from folder"
    assert both.film("hp5-plus").name == "HP5 Plus"
    assert sum(name.startswith("fp4") for name in both.film_names()) == 1


def test_the_config_folder_is_the_platforms(monkeypatch, tmp_path):
    monkeypatch.setattr("platformdirs.user_config_path", lambda name: tmp_path / name)
    put(tmp_path / "stopgap", "films/net-loft.toml", FILM.format(name="Net Loft"))

    assert Shelf().film("loft").name == "Net Loft"


def test_entries_of_a_list_replace_ours_one_by_one(config):
    put(config, "filters.toml", 'format = 1\nsource = "rim"\nevidence = "published"\n[[filter]]\nslug = "red-25"\n'
        'name = "My red"\ndaylight_factor = 16\n')  # fmt: skip
    filters = Shelf(config=config).filters()

    assert filters["red-25"].stops() == 4
    assert filters["red-25"].source == "rim"
    assert filters["nd-8"].stops() == pytest.approx(2.99, abs=0.005)


def test_a_film_of_its_own_filter_figures_is_asked_first(shelf):
    film = shelf.film("t-max-100")

    assert shelf.filter("yellow 8").stops() == 1
    assert shelf.filter("yellow 8", film).stops() == pytest.approx(2 / 3)
    assert shelf.filter("deep yellow 12", film).stops() == 1
    assert stacked_stops([shelf.filter("red-25", film), shelf.filter("nd8", film)]) == pytest.approx(5.99, abs=0.005)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"format = 1\nname = \n", r"net\.toml is not valid TOML: .*line 2"),
        (b"\xff\xfe", r"net\.toml is not UTF-8 text \(byte 0\)"),
        (b"a = " + b"[" * 5000, r"net\.toml is not valid TOML"),
        (b"#" * 1_000_001, r"net\.toml is too large"),
        (b"", r"net\.toml cannot be used\. format: missing; .*; name: missing; .*; speed_iso: missing"),
    ],
)
def test_a_file_that_cannot_be_used_is_named_with_the_reason(config, text, says):
    put(config, "films/net.toml", "").write_bytes(text)

    with pytest.raises(ShelfError, match=says):
        Shelf(config=config).film("net")


def test_a_folder_in_place_of_a_file_is_one_sentence(config):
    (config / "films" / "net.toml").mkdir(parents=True)

    with pytest.raises(ShelfError, match=r"net\.toml cannot be read: "):
        Shelf(config=config).film("net")


@pytest.mark.parametrize("make", [lambda folder: None, lambda folder: folder.mkdir(), lambda folder: folder.touch()])
def test_a_folder_that_is_no_shelf_is_refused(tmp_path, make):
    make(tmp_path / "dir")

    with pytest.raises(ShelfError, match="dir is no shelf: it has none of films, kits, profiles, filters"):
        Shelf(tmp_path / "dir")


def test_kits_of_three_kinds_are_shipped(shelf):
    kits = {name: shelf.kit(name) for name in shelf.kit_names()}

    assert list(kits) == ["breakwater", "breakwater-wide", "harbour-light", "ropewalk"]
    assert [speed.label for speed in kits["breakwater"].shutter.speeds][:2] == ["1/500", "1/250"]
    assert kits["breakwater"].shutter.speeds[0].time_s == 1 / 512  # the modern series, exact
    assert [speed.time_s for speed in kits["ropewalk"].shutter.speeds] == [1 / 250, 0.01, 0.02, 0.04, 0.1, 0.2, 0.5, 1]
    assert kits["harbour-light"].lens.iris == "half"
    assert all(speed.drift_stops > 0.15 for speed in kits["harbour-light"].shutter.speeds)
    assert kits["harbour-light"].shutter.speeds[0].measured_sigma_stops == 0.10
    assert (kits["breakwater"].back.frames, kits["breakwater-wide"].back.frames) == (10, 8)
    assert shelf.film(kits["ropewalk"].film).slug == "fp4-plus"


CIRCLES_MM = {"breakwater": 0.060, "breakwater-wide": 0.067, "ropewalk": 0.070, "harbour-light": 0.055}


@pytest.mark.parametrize("name", CIRCLES_MM)
def test_the_depth_scale_of_a_kit_comes_from_one_circle_of_confusion(shelf, name):
    # Thin lens: H = f²/(N c) + f; near s(H−f)/(H+s−2f); far s(H−f)/(H−s), infinite from s >= H (reference section 10).
    kit = shelf.kit(name)
    focal_m, circle_m = kit.lens.focal_length_mm / 1000, CIRCLES_MM[name] / 1000
    for fact in kit.lens.depth_scale:
        exact = kit.lens.exact_marks[kit.lens.marks.index(fact.f_number)]
        hyperfocal_m = focal_m**2 / (exact * circle_m) + focal_m
        near_m = fact.focus_m * (hyperfocal_m - focal_m) / (hyperfocal_m + fact.focus_m - 2 * focal_m)
        past = hyperfocal_m - fact.focus_m
        far_m = fact.focus_m * (hyperfocal_m - focal_m) / past if past > 0 else inf

        # A scale is read to two figures: half of the second one.
        assert fact.near_m == pytest.approx(near_m, abs=0.05)
        assert fact.far_m == pytest.approx(far_m, abs=0.5 if 10 <= far_m < inf else 0.05)


@pytest.mark.parametrize("row", DAYLIGHT["row"], ids=lambda row: row["slug"])
def test_the_daylight_guide_says_what_is_published(shelf, row):
    found = shelf.daylight()[row["slug"]]

    assert (found.ev100_low, found.ev100_high) == (row["low"], row["high"])


def test_the_guide_has_nothing_that_is_not_published(shelf):
    assert [row["slug"] for row in DAYLIGHT["row"]] == list(shelf.daylight())


@pytest.mark.parametrize("row", DAYLIGHT["tri_x"], ids=lambda row: row["slug"])
def test_the_guide_agrees_with_the_daylight_table_of_a_films_sheet(shelf, row):
    exact_stops = round(2 * log2(row["f_number"]))  # the sheet's f-numbers are whole-stop marks
    ev100 = exact_stops + log2(512) - log2(400 / 100)

    assert shelf.daylight_row(row["slug"]).ev100 == pytest.approx(ev100)


@pytest.mark.parametrize(
    ("typed", "slug"), [("open shade", "open-shade"), ("Overcast", "heavy-overcast"), ("dusk", "after-sunset")]
)
def test_a_row_of_the_guide_is_found_as_people_write_it(shelf, typed, slug):
    assert shelf.daylight_row(typed).slug == slug


def test_a_range_of_the_guide_widens_what_it_can_be_trusted_for(shelf):
    assert shelf.daylight_row("full-sun").sigma_stops == 0.5
    assert shelf.daylight_row("after-sunset").sigma_stops == pytest.approx(hypot(0.5, 2 / 12**0.5))
    assert shelf.daylight_row("after-sunset").ev100 == 10


@pytest.mark.parametrize(("typed", "zone"), [("18% grey card", 5), ("open palm", 6), ("sunlit snow", 7.5), ("sail", 7)])
def test_subjects_have_the_zone_of_common_practice(shelf, typed, zone):
    subject = shelf.subject("grey card" if "18" in typed else typed)

    assert (subject.zone, subject.evidence) == (zone, "memory")


def test_unknown_entries_name_the_ones_there_are(shelf):
    with pytest.raises(ShelfError, match=r"subject 'snwo' is not on the shelf; .*the nearest of \d+ are .*sunlit-snow"):
        shelf.subject("snwo")
    with pytest.raises(ShelfError, match=r"kit 'brekwater' is not on the shelf; did you mean breakwater "):
        shelf.kit("brekwater")


def test_the_examples_in_the_shelfs_readme_can_be_used(config):
    blocks = [block.partition("```")[0] for block in README.read_text("utf-8").split("```toml\n")[1:]]
    for path, block in zip(("films/net-loft-100.toml", "kits/my-folder.toml", "filters.toml"), blocks, strict=True):
        put(config, path, block)
    shelf = Shelf(config=config)

    assert shelf.film("NL100").curve().corrected_s(100) == pytest.approx(480)
    assert shelf.kit("my folder").shutter.speeds[0].time_s == 0.0055
    assert shelf.filter("amber").stops() == pytest.approx(log2(3))


def test_a_reader_loads_nothing_heavy_until_it_reads():
    probe = "import sys, meter.shelf.reader; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", probe], check=True, capture_output=True, text=True).stdout.split()

    heavy = {"numpy", "cv2", "skimage", "PIL", "exifread", "click", "sqlite3", "tomllib", "platformdirs"}
    assert not heavy & set(loaded)
