"""Estimated widths never fall short of what the fonts really take."""

import json
import random

import pytest

from meter.draw.lettering import FAMILY, broken, fitted, width_of

typst = pytest.importorskip("typst")
FACES = (("regular", "normal"), ("semibold", "normal"), ("regular", "italic"))
LETTERS = [chr(code) for code in range(0x20, 0x250) if chr(code).isprintable()] + list("–—‘’“”…−×→½⅓⅔∞≥≤°ΑΩαωЖяШщ")


def measured(texts: list[str], weight: str, style: str) -> list[float]:
    """Widths that typst measures for its embedded face. [em]"""
    sizes = ",".join(f"measure({json.dumps(text, ensure_ascii=False)}).width.pt()" for text in texts)
    source = (
        "#set page(width: 5000pt)\n"
        f'#set text(font: "Libertinus Serif", weight: "{weight}", style: "{style}", size: 1pt)\n'
        f"#context [#metadata(({sizes},)) <sizes>]"
    )
    return json.loads(typst.query(source.encode(), "<sizes>", field="value", one=True, ignore_system_fonts=True))


def test_the_family_is_one_that_the_library_carries_inside():
    first = FAMILY.split(",")[0].strip("'")

    assert first in typst.Fonts(include_system_fonts=False).families()


@pytest.mark.parametrize(("weight", "style"), FACES)
def test_estimates_are_never_below_the_measured_width_and_not_far_above(weight, style):
    chance = random.Random(11)  # any seed will do: it only has to stay
    texts = [*LETTERS, *("".join(chance.choices(LETTERS, k=chance.randint(2, 30))) for _ in range(300))]
    prose = ["4/10 of the way from 11 to 16", "heavy overcast, open shade", "Breakwater 6x7", "VIII"]

    for text, width in zip(texts, measured(texts, weight, style), strict=True):
        # The table is in steps of 0.05 em, and a letter may exceed its step by 0.006 em.
        assert width_of(text, 1.0) >= width - 0.006 * len(text), text
    for text, width in zip(prose, measured(prose, weight, style), strict=True):
        assert width <= width_of(text, 1.0) <= 1.3 * width, text  # generous, yet not so that room is wasted


def test_what_does_not_fit_shrinks_and_then_ends_in_an_ellipsis():
    assert fitted("lane", 10, 100, 6) == ("lane", 10)
    assert 6 <= fitted("boat shed", 10, 30, 6)[1] < 10
    text, size = fitted("the long quay by the boat shed", 10, 60, 6)
    assert text.endswith("…") and size == 6
    assert width_of(text, size) <= 60
    assert fitted("quay", 10, 0, 6) == ("…", 6)


def test_lines_break_at_spaces_and_stay_within_the_room():
    lines = broken("front-lit; side light one stop more, back light two", 6, 80)

    assert " ".join(lines) == "front-lit; side light one stop more, back light two"
    assert all(width_of(line, 6) <= 80 for line in lines)
    assert broken("", 6, 80) == []
