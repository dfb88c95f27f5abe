"""The field sheet's figures, and a file that is written whole or not at all."""

from dataclasses import replace
from math import log2

import pytest

from meter.errors import BadInput
from meter.jobs.make_sheet import daylight_row, daylight_speed, guide_rows, make_sheet
from meter.shelf.reader import Shelf
from meter.stops import aperture_stops, parse_f_number
from tests.draw.reading import lettering

SHELF = Shelf()


def test_full_sun_is_sunny_sixteen_on_the_sheet():
    # ANSI PH2.7 (secondary): full sun EV 15 at ISO 100, so f/16 at 1/125 with EI 100 (sunny 16, common practice)
    made = daylight_row(SHELF.daylight()["full-sun"], SHELF.kit("breakwater"), 100, _speed("1/125"))
    assert made == ("full sun", "15", "16")


def test_a_click_stopped_iris_shows_where_it_clicks():
    # EV 15.32 at 1/200 is 7.68 stops from f/1, by hand: the half-stop click at 7.5, which is f/11 + 0.5
    kit = SHELF.kit("harbour-light")
    row = daylight_row(SHELF.daylight()["full-sun"], kit, 125, daylight_speed(kit, 125))
    assert kit.lens.iris == "half" and row[2] == "11 + 0.5"


def test_daylight_speed_brings_full_sun_inside_the_iris():
    for name in SHELF.kit_names():
        for ei in (25, 100, 400):
            kit = SHELF.kit(name)
            stops = 15 + log2(ei / 100) + log2(daylight_speed(kit, ei).time_s)
            low, high = kit.lens.stops_range
            assert low - 0.02 <= stops <= high + 0.02, (name, ei)


def test_a_scene_past_the_iris_takes_another_speed_bulb_or_is_too_bright():
    kit, guide = SHELF.kit("breakwater"), SHELF.daylight()
    assert daylight_row(guide["home"], kit, 400, _speed("1/500"))[2] == "5.6, 1/8"  # EV 6 + 2 is 5 + 3 stops, by hand
    assert daylight_row(guide["landscape-full-moon"], kit, 100, _speed("1/500"))[2].startswith("3.5, B ")
    assert daylight_row(guide["snow-or-sand"], kit, 25600, _speed("1/500"))[2] == "too bright"


def test_a_scene_past_the_iris_takes_the_next_speed_exactly():
    # EV 10 at EI 125 is 10.32; the 1/125 that measures 0.0093 s asks for 10.32 - 6.75 = 3.57 stops: the click at 3.5
    kit = SHELF.kit("harbour-light")
    row = daylight_row(SHELF.daylight()["after-sunset"], kit, 125, daylight_speed(kit, 125))
    assert row[2] == "2.8 + 0.5, 1/125"


def test_another_speed_exposes_as_the_scene_asks_as_near_as_the_iris_stands():
    for name in SHELF.kit_names():
        kit = SHELF.kit(name)
        times = {speed.label: speed.time_s for speed in kit.shutter.speeds}
        for ei in (25, 125, 400, 3200):
            for scene in SHELF.daylight().values():
                aperture, comma, label = daylight_row(scene, kit, ei, daylight_speed(kit, ei))[2].partition(", ")
                if comma and label in times:
                    off = aperture_stops(parse_f_number(aperture)) - log2(times[label]) - scene.ev100 - log2(ei / 100)
                    limit = {"continuous": 0.05, "half": 0.25}[kit.lens.iris]  # half a tenth, half a click
                    assert abs(off) <= limit + 0.021, (name, ei, scene.slug)  # and the slack at the iris's ends


def test_a_shutter_without_bulb_says_too_dark():
    kit = SHELF.kit("breakwater")
    kit = replace(kit, shutter=replace(kit.shutter, bulb=False))
    assert daylight_row(SHELF.daylight()["landscape-full-moon"], kit, 100, _speed("1/500"))[2] == "too dark"


def test_no_figure_of_a_shipped_kit_is_cut_short(tmp_path):
    for kit in SHELF.kit_names():
        for size in ("A6", "A5"):
            sheet = make_sheet(kit, "fp4-plus", tmp_path / "sheet.svg", size=size, force=True).sheet
            drawn = {one.text for one in lettering((tmp_path / "sheet.svg").read_text("utf-8"))}
            assert {cell for row in sheet.daylight for cell in row} <= drawn, (kit, size)


def test_the_page_shows_the_most_useful_scenes_brightest_first():
    rows = guide_rows(tuple(SHELF.daylight().values()), 8)
    assert [row.ev100 for row in rows] == sorted((row.ev100 for row in rows), reverse=True)
    assert {"full-sun", "open-shade", "heavy-overcast"} <= {row.slug for row in rows}


@pytest.mark.parametrize(("ending", "begins"), [(".svg", b"<svg"), (".pdf", b"%PDF"), (".PNG", b"\x89PNG")])
@pytest.mark.parametrize("size", ["A6", "A5"])
def test_a_sheet_is_written_as_its_name_ends(tmp_path, ending, begins, size):
    made = make_sheet("breakwater", "hp5-plus", tmp_path / f"sheet{ending}", size=size)
    assert made.path.read_bytes().startswith(begins)
    assert [p.name for p in tmp_path.iterdir()] == [f"sheet{ending}"]
    assert made.sheet.ei == "EI 400" and made.sheet.speeds[-1] == "B"


def test_every_shipped_kit_and_film_fits_a_page(tmp_path):
    pairs = {(kit, "hp5-plus") for kit in SHELF.kit_names()} | {("breakwater", film) for film in SHELF.film_names()}
    for kit, film in sorted(pairs):
        for size in ("A6", "A5"):
            make_sheet(kit, film, tmp_path / "sheet.svg", size=size, force=True)


def test_a_film_without_figures_says_so_and_starred_times_are_explained(tmp_path):
    assert make_sheet("breakwater", "iso-400", tmp_path / "a.svg").sheet.reciprocity_note == "no published figure"
    starred = make_sheet("breakwater", "tri-x-400", tmp_path / "b.svg", size="A5", reciprocity="measured").sheet
    assert any(hold.endswith("*") for _, hold in starred.reciprocity)
    assert any(note.startswith("* beyond the 240 s") for note in starred.notes)


@pytest.mark.parametrize("how", [{"ei": 0.0}, {"size": "A4"}, {"reciprocity": "tarot"}, {"coc_mm": 50.0}])
def test_what_makes_no_sheet_is_refused_and_writes_nothing(tmp_path, how):
    with pytest.raises(BadInput):
        make_sheet("breakwater", "hp5-plus", tmp_path / "sheet.svg", **how)
    assert list(tmp_path.iterdir()) == []


def test_another_ending_is_refused_before_anything_else(tmp_path):
    with pytest.raises(BadInput, match="does not end in"):
        make_sheet("no-such-kit", "no-such-film", tmp_path / "sheet.gif")


def _speed(label):
    return next(speed for speed in SHELF.kit("breakwater").shutter.speeds if speed.label == label)
