"""The fall-off polynomial: its geometry, its limits, and the natural law that it must be able to follow."""

from math import cos, hypot, inf, log2, nan, radians, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.falloff import Falloff

PLAIN = Falloff(0.5, 0.5, -1.0, -0.25, -0.5, 0.05)
FRACTION = st.floats(0, 1)
ASPECT = st.floats(0.3, 3)


@given(ASPECT)
def test_a_corner_is_one_half_diagonal_from_the_middle(aspect):
    assert PLAIN.radius_squared(0, 0, aspect) == pytest.approx(1)
    assert PLAIN.stops_at(1, 1, aspect) == pytest.approx(-1.75)
    assert PLAIN.stops_at(0.5, 0.5, aspect) == 0


def test_the_edges_of_a_4_to_3_frame_lie_at_4_and_3_fifths():
    assert PLAIN.radius_squared(1, 0.5, 4 / 3) == pytest.approx(0.8**2)
    assert PLAIN.radius_squared(0.5, 0, 4 / 3) == pytest.approx(0.6**2)


@given(FRACTION, FRACTION, ASPECT)
def test_opposite_places_are_alike(x, y, aspect):
    assert PLAIN.stops_at(x, y, aspect) == pytest.approx(PLAIN.stops_at(1 - x, 1 - y, aspect))


@given(FRACTION, FRACTION, FRACTION, FRACTION, ASPECT)
def test_turning_the_frame_upright_turns_the_fall_off_with_it(cx, cy, x, y, aspect):
    lying, standing = Falloff(cx, cy, -1, 0.2, -0.3, 0), Falloff(1 - cy, cx, -1, 0.2, -0.3, 0)

    assert standing.stops_at(1 - y, x, 1 / aspect) == pytest.approx(lying.stops_at(x, y, aspect))


@pytest.mark.parametrize(("focal_35", "angle", "corner_ev"), [(26, 39.8, -1.52), (35, 31.7, -0.93), (50, 23.4, -0.50)])
def test_three_even_powers_follow_the_fourth_power_of_the_cosine(focal_35, angle, corner_ev):
    """Natural fall-off cos^4 at the corner of a 36 x 24 mm frame; table of reference values, computed there."""
    r = np.linspace(0, 1, 200)
    edge = tan(radians(angle))
    law = -2 * np.log2(1 + (edge * r) ** 2)
    fitted = np.linalg.lstsq(np.stack([r**2, r**4, r**6], axis=1), law, rcond=None)[0]

    natural = Falloff(0.5, 0.5, *fitted, 0.0)

    assert hypot(36, 24) / 2 / focal_35 == pytest.approx(edge, abs=0.002)  # the angle is printed to 0.1 degree
    assert natural.stops_at(0, 0, 1.5) == pytest.approx(corner_ev, abs=0.015)  # last digit, and 0.01 of the polynomial
    assert natural.stops_at(0, 0, 1.5) == pytest.approx(4 * log2(cos(radians(angle))), abs=0.01)
    assert np.abs(np.stack([r**2, r**4, r**6], axis=1) @ fitted - law).max() < 0.01


@pytest.mark.parametrize(
    "numbers",
    [
        (1.2, 0.5, 0, 0, 0, 0),
        (0.5, -0.1, 0, 0, 0, 0),
        (0.5, 0.5, nan, 0, 0, 0),
        (0.5, 0.5, 0, inf, 0, 0),
        (0.5, 0.5, 0, 0, 0, -1),
    ],
)
def test_impossible_numbers_are_refused(numbers):
    with pytest.raises(BadInput):
        Falloff(*numbers)


@pytest.mark.parametrize("place", [(nan, 0, 1), (0, inf, 1), (0, 0, 0), (0, 0, -1.5), (0, 0, nan)])
def test_impossible_places_are_refused(place):
    with pytest.raises(BadInput, match="aspect is above 0"):
        PLAIN.stops_at(*place)
