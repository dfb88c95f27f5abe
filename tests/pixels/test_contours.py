"""Contour lines land where the light has the luminance they stand for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.pixels.contours import MAP_SIDE, contours, outlines


def ramp(height=300, width=400, stops=10.0):
    """log2 luminance that rises evenly from 0 at the left edge to `stops` at the right edge, pixel centres apart."""
    return np.tile(((np.arange(width) + 0.5) / width * stops).astype(np.float32), (height, 1))


def area(ring):
    points = np.array(ring)
    return 0.5 * float(np.sum(points[:-1, 0] * points[1:, 1] - points[1:, 0] * points[:-1, 1]))


@pytest.mark.parametrize("shape", [(300, 400), (900, 1200), (1500, 2000)])
def test_on_an_even_gradient_each_line_stands_where_its_zone_is(shape):
    found = contours(ramp(*shape), zone_five=5.0)

    assert [zone for zone, _ in found] == list(range(1, 10))
    for zone, points in found:
        # Half a pixel of the map that is worked on (or of the picture, where that is smaller).
        assert {abs(x - zone / 10) < 0.5 / min(MAP_SIDE, shape[1]) for x, _ in points} == {True}
        assert (min(y for _, y in points), max(y for _, y in points)) == (0.0, 1.0)


def test_a_round_hill_gives_closed_rings_of_the_right_size():
    rows, columns = np.mgrid[:480, :640] + 0.5
    level = 9 - np.hypot(columns - 320, rows - 240) / 40  # one stop every 40 pixels

    rings = {zone: points for zone, points in contours(level.astype(np.float32), zone_five=5.0)}
    for zone in (4, 5, 6, 7):
        assert rings[zone][0] == rings[zone][-1]
        radii = np.hypot(*((np.array(rings[zone]) - 0.5) * (640, 480)).T)
        # Smoothing lowers a cone's flank by well under a tenth of a stop (4 pixels).
        assert radii == pytest.approx((9 - zone) * 40, abs=4)


def test_an_edge_of_many_stops_stays_in_its_place():
    step = np.where(np.arange(640) < 256, 1.4, 8.6).astype(np.float32) * np.ones((480, 1), np.float32)

    found = contours(step, zone_five=5.0)
    assert {zone for zone, _ in found} == set(range(2, 9))
    for _, points in found:
        # Three pixels of the map: the lines of a cliff lie side by side.
        assert np.array(points)[:, 0] * 640 == pytest.approx(256, abs=3)


@given(st.integers(-3, 3))
def test_moving_zone_five_by_whole_stops_renames_the_lines_and_moves_none(shift):
    here = contours(ramp(90, 120), zone_five=5.0)
    there = {zone: points for zone, points in contours(ramp(90, 120), zone_five=5.0 + shift)}

    for zone, points in here:
        if 0 <= zone - shift <= 10:
            # Float noise of the shifted map, in fractions of the picture.
            assert np.array(there[zone - shift]) == pytest.approx(np.array(points), abs=1e-4)


def test_fine_texture_and_tiny_islands_are_left_out():
    noise = np.random.default_rng(5).normal(0, 0.25, (480, 640))  # a fixed seed: the picture must not change
    scene = ramp(480, 640, 3.0) + noise.astype(np.float32)
    scene[200:206, 300:306] += 4

    assert [zone for zone, _ in contours(scene, zone_five=4.5)] == [1, 2, 3]


def test_black_and_burnt_values_count_as_the_ends_of_the_range():
    level = ramp()
    level[:20, :20], level[:20, -20:], level[-20:, :20] = -np.inf, np.inf, np.nan

    assert [zone for zone, _ in contours(level, zone_five=5.0)] == list(range(1, 10))


@pytest.mark.parametrize("bad", [np.zeros((0, 4)), np.zeros((4, 4, 3)), np.full((4, 4), np.nan)])
def test_what_is_no_map_is_refused(bad):
    with pytest.raises(BadInput):
        contours(bad.astype(np.float32), 5.0)


@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (2, 2)])
def test_the_smallest_pictures_do_not_fail(shape):
    assert isinstance(contours(ramp(*shape), 5.0), list)
    assert isinstance(outlines(np.ones(shape, bool)), list)


def test_an_outline_holds_the_area_of_its_mask_with_its_hole():
    mask = np.zeros((480, 640), bool)
    mask[100:300, 200:500] = True
    mask[150:250, 300:400] = False

    rings = outlines(mask)
    assert len(rings) == 2 and all(ring[0] == ring[-1] for ring in rings)
    held = abs(sum(area(ring) for ring in rings))  # a hole runs the other way round
    # 1 % for the rounded corners.
    assert held == pytest.approx(mask.mean(), rel=0.01)


def test_a_wholly_blown_picture_is_one_ring_around_it():
    (ring,) = outlines(np.ones((480, 640), bool))

    assert abs(area(ring)) == pytest.approx(1, rel=0.01)  # rounded corners
    assert outlines(np.zeros((480, 640), bool)) == []


def test_specks_are_left_out():
    mask = np.zeros((480, 640), bool)
    mask[50:54, 50:54] = True

    assert outlines(mask) == []
