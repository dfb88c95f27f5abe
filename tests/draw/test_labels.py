"""Numerals on contour lines: apart, inside, on their line, and with a gap in every line under them."""

from itertools import pairwise
from math import cos, hypot, pi, sin

from hypothesis import given
from hypothesis import strategies as st

from meter.draw.labels import APART_SAME, Box, Line, cut, labelled

SIZE = (1200.0, 900.0)
HALF = {"V": (9.0, 7.0), "VI": (13.0, 7.0), "IV": (13.0, 7.0)}


def ring(x, y, radius, parts=90):
    return [(x + radius * cos(2 * pi * i / parts), y + radius * sin(2 * pi * i / parts)) for i in range(parts + 1)]


def nearest(box, points):
    return min(hypot(box.x - x, box.y - y) for x, y in points)


def test_every_zone_gets_a_numeral_on_its_own_line():
    lines = [Line("V", 1, ring(500, 450, 300)), Line("VI", 0, ring(500, 450, 200)), Line("IV", 0, ring(900, 200, 80))]

    boxes = labelled(lines, SIZE, HALF, [])

    assert {box.text for box in boxes} == {"V", "VI", "IV"}
    for box in boxes:
        # Corners of these rings are at most 21 units apart, so the line is within 11 of one of them.
        assert any(line.text == box.text and nearest(box, line.points) < 11 for line in lines)


def test_numerals_keep_apart_and_clear_of_other_lettering():
    lines = [Line("V", 1, [(0, 30.0 * row), (1200, 30.0 * row)]) for row in range(1, 29)]
    taken = [Box("", 600, 450, 300, 200)]

    boxes = labelled(lines, SIZE, HALF, taken)

    assert len(boxes) > 4
    for place, one in enumerate(boxes):
        assert not one.near(taken[0])
        assert one.half_width < one.x < SIZE[0] - one.half_width and one.half_height < one.y < SIZE[1] - one.half_height
        assert all(not one.near(other, APART_SAME - 0.01) for other in boxes[place + 1 :])


def test_no_numeral_on_a_line_too_short_for_it():
    assert labelled([Line("VI", 0, [(500, 500), (510, 500)])], SIZE, HALF, []) == []


points = st.tuples(st.floats(0, 100), st.floats(0, 100))


@given(
    st.lists(points, min_size=2, max_size=12),
    st.lists(
        st.builds(Box, st.just(""), st.floats(0, 100), st.floats(0, 100), st.floats(1, 30), st.floats(1, 30)),
        max_size=4,
    ),
)
def test_what_is_left_of_a_line_lies_outside_every_box(line, boxes):
    for piece in cut(line, boxes):
        for (x0, y0), (x1, y1) in pairwise(piece):
            for part in (0.25, 0.5, 0.75):
                x, y = x0 + (x1 - x0) * part, y0 + (y1 - y0) * part
                # Float noise at the cut itself.
                assert not any(
                    abs(x - box.x) < box.half_width - 1e-6 and abs(y - box.y) < box.half_height - 1e-6 for box in boxes
                )


def test_a_cut_line_keeps_its_length_outside():
    pieces = cut([(0, 0), (100, 0)], [Box("", 30, 0, 10, 5), Box("", 35, 0, 10, 5)])

    assert [(piece[0], piece[-1]) for piece in pieces] == [((0, 0), (20, 0)), ((45, 0), (100, 0))]
    assert cut([(0, 0), (50, 0), (100, 0)], [Box("", 50, 40, 10, 5)]) == [[(0, 0), (50, 0), (100, 0)]]
