"""The field sheet: everything on the page, nothing over anything else, nothing too small to read."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meter.draw.field_sheet import PAGES_MM, SMALLEST_TYPE_PT, Sheet, field_sheet_svg
from meter.errors import BadInput
from meter.stops import exact_f_number, mark_text
from tests.draw.reading import lettering, overlapping

SHEET = Sheet(
    kit="Breakwater 6x7",
    film="Harbour 400",
    ei="EI 200",
    marks=tuple((mark_text(mark), exact_f_number(mark)) for mark in (6.3, 8, 11, 16, 22, 32)),
    speeds=("1", "2", "4", "8", "15", "30", "60", "125", "250", "500", "B"),
    daylight=(
        ("sand or snow in sun", "16", "32 + 0.5"),
        ("sun, clear shadows", "15", "22 + 0.5"),
        ("heavy overcast, open shade", "12", "8 + 0.5"),
    ),
    daylight_shutter="1/125",
    daylight_note="front-lit; side light 1 stop more, back light 2",
    reciprocity=(("1 s", "1 s"), ("2 s", "2.5 s"), ("1 min", "3 min 30 s")),
    reciprocity_note="hold = metered^1.31",
    hyperfocal=(("6.3", "21 m", "10.5 m"), ("32", "4.1 m", "2.1 m")),
    hyperfocal_note="c 0.058 mm",
    notes=("Measure your own shutter.",),
)
name = st.text(min_size=1, max_size=120)


def check_page(svg, size):
    root = ElementTree.fromstring(svg)
    width, height = (float(side) for side in root.get("viewBox").split()[2:])
    seen = lettering(svg)
    assert (root.get("width"), root.get("height")) == tuple(f"{side:g}mm" for side in PAGES_MM[size])
    for one in seen:
        assert one.left >= 0 and one.right <= width + 0.5 and one.size < one.y < height - 0.2 * one.size, one
        assert one.size >= SMALLEST_TYPE_PT - 0.01, one  # sizes are written to hundredths of a point
    assert overlapping(seen) == []
    return seen


@pytest.mark.parametrize("size", ["A6", "A5"])
def test_every_figure_is_on_the_page_and_readable(size):
    seen = {one.text for one in check_page(field_sheet_svg(SHEET, size), size)}

    rows = [*SHEET.daylight, *SHEET.reciprocity, *SHEET.hyperfocal, *SHEET.zones]
    assert {cell for row in rows for cell in row} <= seen
    assert {SHEET.kit, SHEET.film, SHEET.ei, *SHEET.speeds, *(label for label, _ in SHEET.marks)} <= seen


def test_a_speed_beside_the_aperture_has_room():
    sheet = replace(SHEET, daylight=(("landscape full moon", "9–10", "2.8 + 0.5, 1/125"),))

    for size in ("A6", "A5"):
        seen = {one.text for one in check_page(field_sheet_svg(sheet, size), size)}
        assert set(sheet.daylight[0]) <= seen


@settings(max_examples=40)
@given(name, name, name, name, name, st.sampled_from(["A6", "A5"]))
def test_names_of_any_length_neither_overflow_nor_overlap(kit, film, ei, scene, note, size):
    daylight = (*SHEET.daylight, (scene, note, ei))
    sheet = replace(
        SHEET, kit=kit, film=film, ei=ei, daylight=daylight, daylight_note=note, reciprocity_note=scene, notes=(note,)
    )

    check_page(field_sheet_svg(sheet, size), size)


@pytest.mark.parametrize("rows", range(1, 15))
def test_as_many_rows_as_the_page_holds(rows):
    sheet = replace(SHEET, reciprocity=tuple((f"{i} s", f"{i} min") for i in range(rows)))

    check_page(field_sheet_svg(sheet), "A6")


def test_too_many_rows_are_refused_and_fit_the_larger_page():
    sheet = replace(SHEET, reciprocity=tuple((f"{i} s", f"{i} min") for i in range(28)))

    with pytest.raises(BadInput, match="take A5, or fewer rows"):
        field_sheet_svg(sheet)
    check_page(field_sheet_svg(sheet, "A5"), "A5")


def test_a_film_without_figures_says_so_and_empty_tables_vanish():
    sheet = replace(SHEET, reciprocity=(), reciprocity_note="no figures known", hyperfocal=(), hyperfocal_note="")

    seen = [one.text for one in check_page(field_sheet_svg(sheet), "A6")]
    assert "no figures known" in seen and "Hyperfocal" not in seen


def test_another_paper_size_is_refused():
    with pytest.raises(BadInput, match="A6 or A5, not 'A4'"):
        field_sheet_svg(SHEET, "A4")
