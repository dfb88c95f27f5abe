"""The light map as a file: well formed, small, true to where things are."""

import re
from math import cos, pi, sin
from xml.etree import ElementTree

import pytest

from meter.draw.light_map import LONG_SIDE, Contour, SpotMark, light_map_svg
from meter.draw.strip import Strip
from meter.draw.svg import INK, PAPER
from meter.errors import BadInput
from meter.stops import f_number_at
from tests.draw.reading import SVG, lettering, overlapping

JPEG = b"\xff\xd8" + bytes(1000) + b"\xff\xd9"  # the drawing embeds bytes, it does not look into them
NUMERALS = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
STRIP = Strip(
    (("8", 8.0), ("11", f_number_at(7)), ("16", 16.0)), f_number_at(7.4), "f/11 + 0.4", "4/10 of the way", "1/60"
)


def rings(zones=range(11)):
    """Hills around the middle, one ring a zone."""
    turns = [2 * pi * i / 60 for i in range(61)]
    return [
        Contour(zone, NUMERALS[zone], [(0.5 + r * cos(t), 0.5 + r * sin(t)) for t in turns])
        for zone in zones
        for r in [0.48 - 0.04 * zone]
    ]


def test_a_full_map_parses_and_holds_each_part():
    square = [(0.1, 0.1), (0.2, 0.1), (0.2, 0.2), (0.1, 0.1)]
    svg = light_map_svg(
        JPEG, (1200, 900), rings(), [SpotMark(0.5, 0.5, 0.01, "card V")], [square], [square], STRIP, title="Quay"
    )

    root = ElementTree.fromstring(svg)
    seen = {one.text for one in lettering(svg)}
    assert set(NUMERALS) <= seen
    assert {"Quay", "card V", "f/11 + 0.4", "1/60", "8", "11", "16", "one line a stop", "spot"} <= seen
    assert [node.get("id") for node in root.iter(f"{SVG}pattern")] == ["blown", "black"]
    assert svg.count("data:image/jpeg;base64,") == 1


def test_the_two_hatchings_run_in_different_directions():
    square = [(0.1, 0.1), (0.2, 0.1), (0.2, 0.2), (0.1, 0.1)]
    svg = light_map_svg(JPEG, (400, 300), blown=[square], black=[square])

    assert sorted(re.findall(r'patternTransform="rotate\((-?\d+)\)"', svg)) == ["-45", "45"]


def test_a_spot_is_drawn_at_its_place_in_its_true_size():
    root = ElementTree.fromstring(light_map_svg(JPEG, (400, 300), spots=[SpotMark(0.25, 0.5, 0.02, "")]))
    circle = next(node for node in root.iter(f"{SVG}circle") if node.get("stroke") == INK)

    # Drawn 1200 wide and 900 high.
    assert [float(circle.get(key)) for key in ("cx", "cy", "r")] == [0.25 * LONG_SIDE, 450, 0.02 * LONG_SIDE]


def test_zone_five_is_the_strong_line_and_lower_zones_are_light_on_dark():
    root = ElementTree.fromstring(light_map_svg(JPEG, (1200, 900), rings([3, 5, 7])))
    top = {}
    for group in root.iter(f"{SVG}g"):
        for use in group.findall(f"{SVG}use"):
            top[use.get("href")] = (group.get("stroke"), float(use.get("stroke-width")))

    assert top["#zone3"][0] == PAPER and top["#zone5"][0] == top["#zone7"][0] == INK
    assert top["#zone5"][1] > 1.5 * top["#zone7"][1]


def test_spot_words_keep_apart_where_spots_are_neighbours():
    spots = [SpotMark(0.5 + 0.03 * i, 0.5, 0.01, f"spot {i} IV½") for i in range(3)] + [
        SpotMark(0.99, 0.01, 0.01, "tip")
    ]

    seen = [one for one in lettering(light_map_svg(JPEG, (1200, 900), spots=spots)) if one.text != "spot"]
    assert overlapping(seen) == []
    assert all(one.left >= 36 and one.right <= 1236 for one in seen)


def test_numerals_keep_out_of_spots():
    line = Contour(5, "V", [(0.0, 0.5), (1.0, 0.5)])
    svg = light_map_svg(JPEG, (1200, 900), [line], [SpotMark(0.5, 0.5, 0.3, "wide")])

    left, right = 36 + 0.2 * LONG_SIDE, 36 + 0.8 * LONG_SIDE
    numerals = [one for one in lettering(svg) if one.text == "V"]
    assert numerals and all(one.right < left or one.left > right for one in numerals)


@pytest.mark.parametrize("size", [(1, 1), (3000, 10), (10, 3000), (200, 113)])
@pytest.mark.parametrize("words", ["</svg>&\x00", "a very long name " * 12])
def test_odd_pictures_and_hostile_names_still_give_a_sound_page(size, words):
    spots = [SpotMark(0.0, 1.0, 0.01, words)]
    svg = light_map_svg(JPEG, size, rings(), spots, strip=STRIP, title=words, subtitle=words)

    root = ElementTree.fromstring(svg)
    width = float(root.get("width"))
    heading = [one for one in lettering(svg) if one.y == 41]
    assert all(one.left >= 0 and one.right <= width for one in heading)
    assert heading[0].right <= heading[1].left


def test_a_map_of_a_busy_scene_stays_small():
    photo = b"\xff\xd8" + bytes(400_000)
    turns = [2 * pi * i / 150 for i in range(151)]
    busy = [
        Contour(zone, NUMERALS[zone], [(0.07 * k + 0.03 * cos(t), 0.08 * zone + 0.03 * sin(t)) for t in turns])
        for zone in range(11)
        for k in range(12)
    ]

    # 20 000 points is three times what a leafy garden gives.
    assert sum(len(contour.points) for contour in busy) > 19_000
    assert len(light_map_svg(photo, (1200, 900), busy)) < 1_500_000


def test_bytes_that_are_no_jpeg_are_refused():
    with pytest.raises(BadInput, match="needs a JPEG"):
        light_map_svg(b"GIF89a", (10, 10))
    with pytest.raises(BadInput, match="at least one pixel"):
        light_map_svg(JPEG, (0, 10))
