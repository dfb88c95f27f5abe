"""Zones: placing, falling, writing, and what development a range asks for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter import zones
from meter.errors import BadInput

EVS = st.floats(-10, 20)


@given(EVS, st.floats(0, 10), EVS)
def test_a_stop_brighter_falls_a_zone_higher(ev, zone, other):
    placement = zones.Placement(ev, zone)
    assert placement.zone_of(ev) == zone
    assert placement.zone_of(other + 1) - placement.zone_of(other) == pytest.approx(1)
    assert placement.zone_of(placement.middle_ev100) == pytest.approx(zones.MIDDLE)


def test_a_shadow_on_iii_closes_down_two_stops():
    """To place a reading on a zone, camera EV = meter EV - (zone - 5): after Adams, The Negative (memory)."""
    assert zones.Placement(10.0, 3.0).middle_ev100 == 12.0


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("III", 3),
        ("iii", 3),
        ("0", 0),
        ("X", 10),
        ("VII½", 7.5),
        ("7.5", 7.5),
        ("III+1/3", 3 + 1 / 3),
        ("IV-1/2", 3.5),
        ("zone v", 5),
        ("VI⅔", 6 + 2 / 3),
    ],
)
def test_zones_as_written(text, zone):
    assert zones.parse_zone(text) == pytest.approx(zone)


@pytest.mark.parametrize("text", ["", "XI", "11", "-1", "IIII", "X+1", "grey", "nan", "inf", "V+", "1/0", "1e99999999"])
def test_what_is_no_zone_is_refused(text):
    with pytest.raises(BadInput, match="not readable"):
        zones.parse_zone(text)


@given(st.integers(0, 30))
def test_a_zone_in_thirds_can_be_read_back(thirds):
    assert zones.parse_zone(zones.zone_text(thirds / 3)) == pytest.approx(thirds / 3)


@pytest.mark.parametrize(
    ("highlight_falls_on", "n"),
    [(8, 0), (9, -1), (10, -2), (7, 1), (6, 2)],
)
def test_development_brings_the_highlight_to_viii(highlight_falls_on, n):
    """N+1 lifts a value placed on VII to VIII; N-1 drops IX to VIII (memory, after Adams)."""
    assert zones.development_for(highlight_falls_on - zones.TEXTURED_SHADOW) == n


@given(st.floats(0, 20), st.floats(0, 5))
def test_more_range_never_asks_for_more_development(range_stops, more):
    assert zones.development_for(range_stops + more) <= zones.development_for(range_stops)


def test_what_n_minus_2_cannot_hold_is_said():
    assert zones.range_left_over(7.4) == 0
    assert zones.range_left_over(9.0) == pytest.approx(1.5)
