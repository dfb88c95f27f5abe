"""From patches to an exposure: bounds, placement, development, cautions."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.camera import Back, Kit, Lens, shutter_from_marks
from meter.film import Film
from meter.light import luminance_from_ev100
from meter.metering import meter
from meter.order import Order
from meter.patch import Patch, Spot, reading_of

KIT = Kit(
    "k",
    "k",
    Lens(90, (3.5, 5.6, 8, 11, 16, 22, 32)),
    shutter_from_marks([1 / 500, 1 / 125, 1 / 30, 1 / 8, 1], {}),
    Back("6x7", 70, 56, 10),
)
NEGATIVE = Film("n", "Negative", 100, "negative", "bw")
REVERSAL = Film("r", "Reversal", 100, "reversal", "e6")
ORDER = Order(KIT, NEGATIVE, 100, None)
EVS = st.floats(2, 14)


def patch(ev, **how):
    return Patch(luminance_from_ev100(ev), 0.3, **how)


def spot(ev, zone=None, **how):
    return Spot(0.5, 0.5, 1.0, patch(ev, **how), zone)


def test_glare_from_a_bright_frame_widens_a_dark_reading():
    """2 % of the frame's mean adds 1.83 stops at 7 stops under it (reference values section 13, computed)."""
    dark, frame = patch(5.0), patch(12.0)
    assert reading_of(dark, frame).sigma == pytest.approx((0.3**2 + 1.83**2) ** 0.5, abs=0.01)
    assert reading_of(dark, dark).sigma < 0.31
    assert reading_of(dark, replace(frame, blown=0.5)).sigma > reading_of(dark, frame).sigma


def test_blown_and_black_patches_are_bounds():
    assert reading_of(patch(10, blown=0.06), patch(10)).bound == "at_least"
    assert reading_of(patch(10, black=0.6), patch(10)).bound == "at_most"
    assert reading_of(patch(10, blown=0.01, black=0.1), patch(10)).bound == "exact"
    assert reading_of(Patch(0.0, 1.0), Patch(0.0, 1.0)).ev100 < -10


@given(EVS, st.floats(0, 10), EVS)
def test_a_placed_spot_lies_on_its_zone_and_decides_the_exposure(ev, zone, other):
    result = meter(ORDER, patch(8), patch(8), [spot(ev, zone), spot(other)])
    placed, fallen = result.spots
    assert placed.placed and not fallen.placed
    assert placed.zone == pytest.approx(zone)
    assert fallen.zone - placed.zone == pytest.approx(other - ev)
    assert result.exposure.ev_film == pytest.approx(ev - (zone - 5))


@given(EVS, st.floats(0.5, 6))
def test_negative_film_keeps_the_shadow_on_iii(dark, range_stops):
    result = meter(ORDER, patch(dark + 1), patch(dark + 1), [], (spot(dark), spot(dark + range_stops)))
    assert result.shadow.zone == pytest.approx(3)
    assert result.highlight.zone == pytest.approx(3 + range_stops)
    assert result.range_stops == pytest.approx(range_stops)


@given(EVS, st.floats(0.1, 8))
def test_reversal_film_keeps_the_highlight_at_vii_and_a_half_or_lower(average, above):
    order = replace(ORDER, film=REVERSAL)
    result = meter(order, patch(average), patch(average), [], (spot(average - 2), spot(average + above)))
    assert result.highlight.zone <= 7.5 + 1e-6
    if above < 2.5:
        assert result.exposure.ev_film == pytest.approx(average)


def test_without_texture_the_average_goes_on_v():
    result = meter(ORDER, patch(11), patch(11))
    assert result.exposure.ev_film == pytest.approx(11)
    assert (result.shadow, result.development) == (None, None)


def test_two_placements_expose_for_the_shadow_and_develop_for_the_highlight():
    """Expose for the shadows, develop for the highlights: common practice. III and VII six stops apart ask for N-2."""
    result = meter(ORDER, patch(10), patch(10), [spot(8, 3), spot(14, 7)])
    assert result.exposure.ev_film == pytest.approx(10)
    assert [s.placed for s in result.spots] == [True, False]
    assert result.development == "N-2"
    assert meter(ORDER, patch(10), patch(10), [spot(8, 3), spot(12, 7)]).development == "N"


def test_several_spots_on_the_deciding_zone_are_averaged():
    result = meter(ORDER, patch(10), patch(10), [spot(8, 5), spot(9, 5)])
    assert result.exposure.ev_film == pytest.approx(8.5)
    assert all(s.placed for s in result.spots)
    assert result.development is None


@pytest.mark.parametrize(
    ("placed", "words"),
    [
        (spot(11, 8, blown=0.5), "is blown: it falls on VIII or higher"),
        (spot(3, 3, black=0.9), "is black: it falls on III or lower"),
    ],
)
def test_placing_what_is_blown_or_black_is_said(placed, words):
    result = meter(ORDER, patch(10), patch(10), [placed])
    assert any(words in caution for caution in result.cautions)
    assert "≥" in result.exposure.why or "≤" in result.exposure.why


def test_a_range_that_is_only_a_bound_never_asks_for_more_development():
    result = meter(ORDER, patch(10), patch(10), [], (spot(8), spot(11, blown=0.3)))
    assert (result.range_bound, result.development) == ("at_least", "N")
    assert any("less development" in caution for caution in result.cautions)
    spoiled = meter(ORDER, patch(10, blown=0.2), patch(10), [], (spot(8), spot(11)))
    assert (spoiled.range_bound, spoiled.development) == ("at_least", "N")
    assert meter(ORDER, patch(10), patch(10), [], (spot(8), spot(11))).development == "N+2"


def test_the_doubt_about_development_is_said():
    """Two readings of 0.3 stop each: a range of 5.4 ± 0.4 stops may ask for N or N-1."""
    result = meter(ORDER, patch(10), patch(10), [], (spot(8), spot(13.4)))
    assert result.range_sigma == pytest.approx(0.43, abs=0.05)
    assert result.development == "N"
    assert result.development_why == "by the textured extremes; N-1 to N within the uncertainty"


def test_the_range_that_development_came_from_is_named():
    result = meter(ORDER, patch(10), patch(10), [spot(8, 3), spot(14, 7)], (spot(7), spot(13)))
    assert result.development_why.startswith("by your placed spots")


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (meter(ORDER, patch(10, blown=0.1), patch(10)), "blown"),
        (meter(ORDER, patch(10), patch(10), [], (spot(2), spot(13))), "more than N-2 holds"),
        (
            meter(replace(ORDER, film=REVERSAL), patch(10), patch(10), [], (spot(6), spot(13))),
            "more than this film holds",
        ),
        (meter(ORDER, patch(12), patch(12), [], (spot(5), spot(13))), "above VIII"),
        (meter(ORDER, patch(12, blown=0.5), patch(12), [], (spot(5), spot(13))), "too bright"),
    ],
)
def test_cautions(result, words):
    assert any(words in caution for caution in result.cautions)
