"""Text that comes from outside can neither break nor change a drawing."""

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.draw.svg import Fragment, document, num, path_of, words

HOSTILE = [
    '</text><script>alert("x")</script>',
    "a & b < c > 'd' \"e\"",
    "nul \x00 bell \x07 ￾",
    "\ud800 lone",
    "]]>",
    "",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text):
    svg = document(Fragment(words(0, 10, text, 12, font_family=text), 100, 20), title=text)

    root = ElementTree.fromstring(svg.encode("utf-8"))
    assert [child.tag.split("}")[1] for child in root] == ["title", "text"]
    assert "script" not in [node.tag for node in root.iter()]


@given(st.text())
def test_any_text_comes_back_as_it_was_apart_from_spaces_and_what_xml_cannot_hold(text):
    seen = ElementTree.fromstring(document(Fragment(words(0, 0, text, 9), 9, 9), title="").encode()).find(".//{*}text")

    allowed = "".join(
        c if c in "\t\n\r" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c > "\uffff" else "\ufffd"
        for c in text
    )
    assert (seen.text or "").split() == allowed.split()


def test_numbers_are_short():
    assert [num(0.0), num(-0.001), num(12.0), num(1.005), num(100), num(-2.5)] == ["0", "0", "12", "1", "100", "-2.5"]


@given(st.lists(st.tuples(st.floats(0, 1200), st.floats(0, 1200)), min_size=2, max_size=20))
def test_relative_paths_do_not_drift(points):
    data = path_of(points)
    if not data:
        return
    start, steps = data[1:].split("l")
    x, y = map(float, start.split())
    numbers = list(map(float, steps.split()))
    for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
        x, y = x + dx, y + dy

    # Half a tenth: each corner is rounded to tenths once, never added up.
    assert abs(x - points[-1][0]) <= 0.0501 and abs(y - points[-1][1]) <= 0.0501
