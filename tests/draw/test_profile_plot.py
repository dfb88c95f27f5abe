"""The picture of a profile: well-formed, complete, and never out of its frame."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from meter.draw.profile_plot import HEIGHT, WIDTH, profile_plot
from meter.profile_file import ProfileFile
from meter.response import DEFAULT_RESPONSE, Profile, Response
from tests.test_profile_file import CONDITIONS, ORIGINS, WHOLE

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    return [one.text for one in ET.fromstring(svg).iter(f"{SVG}text")]


def test_it_says_whose_profile_it_is_and_what_it_came_from():
    shown = texts(profile_plot(WHOLE))

    assert "Slate 3, wide" in shown
    assert 'Harbour Works Slate "3", 26 mm; offset -0.31 ± 0.12 stops' in shown
    assert "13 photos of 2 scenes over 4.0 stops; one place differed by 0.62 stops, now by 0.11" in shown


def test_mid_tone_is_marked_where_both_curves_cross():
    root = ET.fromstring(profile_plot(WHOLE))
    mid = next(one for one in root.iter(f"{SVG}circle") if one.get("r") == "4.2")
    zone_v = next(one for one in root.iter(f"{SVG}text") if one.text == "V")

    assert float(mid.get("cy")) == pytest.approx(float(zone_v.get("y")) - 5, abs=0.1)  # lettering hangs 5 units below


def test_a_dot_a_bin():
    root = ET.fromstring(profile_plot(WHOLE))

    assert len([one for one in root.iter(f"{SVG}circle") if one.get("r") == "4"]) == len(CONDITIONS.residuals)


def test_a_profile_without_conditions_says_that_it_was_not_measured():
    bare = ProfileFile(Profile("Slate 3", "Harbour Works", "Slate 3", DEFAULT_RESPONSE), ORIGINS)

    assert "response not measured here" in texts(profile_plot(bare))


def test_names_cannot_break_the_picture():
    hostile = replace(WHOLE, profile=replace(WHOLE.profile, name="<script>&\x00" * 40))

    assert not any("script>" in text and "<" in text and len(text) > 400 for text in texts(profile_plot(hostile)))
    assert "<script>" not in profile_plot(hostile)


def test_wild_tables_stay_inside_the_frame():
    rising = tuple(10.0 ** (code / 16 - 12) for code in range(256))
    wild = Response(rising, rising, rising, tuple([9.0] * 256))
    svg = profile_plot(replace(WHOLE, profile=replace(WHOLE.profile, response=wild)))

    for circle in ET.fromstring(svg).iter(f"{SVG}circle"):
        assert 0 <= float(circle.get("cx")) <= WIDTH and 0 <= float(circle.get("cy")) <= HEIGHT
    assert "nan" not in svg and "inf" not in svg
