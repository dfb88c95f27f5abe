"""PNG and PDF of drawings: the right size, with lettering even where no font is installed, and vector."""

import re
import subprocess
import sys

import cv2
import numpy as np
import pytest

from meter.draw.field_sheet import Sheet, field_sheet_svg
from meter.draw.light_map import Contour, SpotMark, light_map_svg
from meter.draw.strip import Strip, strip_svg
from meter.draw.svg import document
from meter.errors import MeterError
from meter.pixels.plate import pdf_of, png_of

pytest.importorskip("typst")
MARKS = (("8", 8.0), ("11", 2**3.5), ("16", 16.0))
STRIP = Strip(MARKS, 2**3.7, "f/11 + 0.4", "4/10 of the way from 11 to 16", "1/60")


def strip_file():
    return document(strip_svg(STRIP, 900), title="strip")


def decoded(png):
    return cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)


def map_file():
    photo = cv2.imencode(".jpg", np.full((300, 400, 3), 128, np.uint8))[1].tobytes()
    lines = [Contour(zone, numeral, [(0.1 * zone, 0), (0.1 * zone, 1)]) for zone, numeral in ((3, "III"), (5, "V"))]
    return light_map_svg(photo, (400, 300), lines, [SpotMark(0.8, 0.5, 0.02, "card V")], strip=STRIP, title="Quay")


def test_a_png_has_a_pixel_for_each_unit_or_the_width_asked_for():
    svg = strip_file()

    assert decoded(png_of(svg)).shape == (128, 900)
    assert decoded(png_of(svg, 450)).shape == (64, 450)


def test_every_label_is_inked_with_the_fonts_that_the_library_carries():
    with_words = decoded(png_of(strip_file())).astype(int)
    without = decoded(png_of(re.sub(r"<text.*?</text>", "", strip_file()))).astype(int)

    ink = without - with_words
    for x, y, width, height in ((0, 15, 60, 25), (0, 45, 90, 35), (200, 10, 600, 30), (880 - 26, 98, 30, 20)):
        # 2 % of a label's box: a thin letter inks a fifth of it, an empty box none.
        assert (ink[y : y + height, x : x + width] > 60).mean() > 0.02
    assert (ink[120:] > 60).sum() == 0


def test_system_fonts_are_not_asked(tmp_path):
    """The same bytes in a process whose home and font settings lead nowhere."""
    (tmp_path / "strip.svg").write_text(strip_file(), "utf-8")
    code = (
        "import sys; from pathlib import Path; from meter.pixels.plate import png_of; "
        "sys.stdout.buffer.write(png_of(Path(sys.argv[1]).read_text('utf-8')))"
    )
    bare = {
        "FONTCONFIG_PATH": str(tmp_path),
        "HOME": str(tmp_path),
        "PYTHONPATH": ".",
        "TYPST_FONT_PATHS": str(tmp_path),
    }
    run = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "strip.svg"], env=bare, capture_output=True, check=True
    )

    assert run.stdout == png_of(strip_file())


def test_a_field_sheet_is_a_vector_page_of_its_size():
    pdf = pdf_of(field_sheet_svg(Sheet("Breakwater 6x7", "Harbour 400", "EI 200", MARKS)))

    box = [float(side) for side in re.search(rb"/MediaBox\s*\[([\d. ]+)\]", pdf)[1].split()]
    assert box == pytest.approx(
        [0, 0, 105 / 25.4 * 72, 148 / 25.4 * 72], abs=0.01
    )  # A6, ISO 216, to a hundredth of a point
    assert not re.search(rb"/Subtype\s*/Image", pdf)
    assert re.search(rb"/FontFile\d", pdf) and len(pdf) < 100_000


def test_only_the_photo_of_a_light_map_is_a_picture():
    pdf = pdf_of(map_file())

    assert len(re.findall(rb"/Subtype\s*/Image", pdf)) == 1
    assert b"/DCTDecode" in pdf  # the JPEG goes in as it is


def test_the_photo_of_a_light_map_is_under_its_lines():
    page = decoded(png_of(map_file()))

    assert page.shape[1] == 1272
    assert abs(int(page[400, 1000]) - 128) <= 3  # the grey photo, away from any line
    assert page[300:500, 36 + 600 - 4 : 36 + 600 + 4].min() < 90  # the line of Zone V at half the width


def test_letters_that_the_carried_fonts_lack_do_not_stop_the_plate():
    png = png_of(document(strip_svg(Strip(MARKS, setting="港 ½ → ∞"), 600), title="港"))

    assert decoded(png).shape[1] == 600


@pytest.mark.parametrize("svg", ["", "<svg></svg>", '<svg width="10" height="0"></svg>', "no drawing"])
def test_a_drawing_without_size_is_refused(svg):
    with pytest.raises(MeterError, match="width and height"):
        png_of(svg)


def test_a_broken_drawing_and_a_giant_one_are_refused():
    with pytest.raises(MeterError, match="could not be turned into a picture"):
        pdf_of('<svg xmlns="http://www.w3.org/2000/svg" width="10" height="10"><g></svg>')
    with pytest.raises(MeterError, match="too large"):
        png_of(strip_file(), 50_000)
