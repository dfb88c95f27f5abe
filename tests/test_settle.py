"""The setting that gives the exposure and keeps a range sharp, or what would."""

from dataclasses import replace
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.camera import Back, Kit, Lens, shutter_from_marks
from meter.film import Film
from meter.focus import circle_mm
from meter.ladder import prefer
from meter.order import DepthWish, Order
from meter.settle import settle

SPEEDS = [1 / d for d in (500, 250, 125, 60, 30, 15, 8, 4, 2)] + [1.0]
KIT = Kit("k", "k", Lens(90, (3.5, 5.6, 8, 11, 16, 22, 32)), shutter_from_marks(SPEEDS, {}), Back("6x7", 70, 56, 10))
ORDER = Order(KIT, Film("n", "N", 100, "negative", "bw"), 100, None)
COC = circle_mm(KIT.back.diagonal_mm)


def wanting(near, far, focus=None):
    return replace(ORDER, depth=DepthWish(COC, focus, (near, far)))


@given(st.floats(4, 16), st.floats(1.2, 8), st.floats(1.2, 20))
def test_the_preferred_rung_does_both_whenever_one_does(ev, near, times):
    settled = settle(wanting(near, near * times), ev)
    if settled.focus.both:
        assert settled.preference.index in settled.focus.both
        assert settled.rungs[settled.preference.index].usable
        assert settled.focus.depths[settled.preference.index].covers(near, near * times)
        assert settled.caution == ""
    elif settled.focus.remedy:
        assert "sharp" in settled.caution or "beyond this lens" in settled.caution


def test_without_a_wish_the_exposure_alone_decides():
    settled = settle(ORDER, 13.0)
    assert settled.focus is None
    assert settled.preference == prefer(KIT, settled.rungs)


def test_what_cannot_be_sharp_comes_as_near_as_it_can():
    """f²/(c·2d) = 90²/(0.0598·4000) = 33.9 and a little more by the exact formula: beyond f/32."""
    settled = settle(wanting(2.0, inf), 14.0)
    chosen = settled.rungs[settled.preference.index]
    assert chosen.f_number == pytest.approx(32)
    assert settled.focus.depths[settled.preference.index].far_m == inf
    assert settled.focus.depths[settled.preference.index].near_m == pytest.approx(2.16, abs=0.02)
    assert settled.preference.why.startswith("the nearest there is: sharp from 2.16 m to infinity")
    assert "tripod" in settled.preference.why
    assert "f/34.7, beyond this lens" in settled.caution


def test_a_stated_focus_shows_near_and_far_for_each_rung():
    settled = settle(replace(ORDER, depth=DepthWish(COC, 3.0)), 13.0)
    assert len(settled.focus.depths) == len(settled.rungs)
    assert all(depth.near_m < 3.0 < depth.far_m for depth in settled.focus.depths)
    assert settled.focus.depths[0].near_m == pytest.approx(settle(wanting(2, 4, 3.0), 13.0).focus.depths[0].near_m)
