"""Several light maps of one scene merged into one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import BadInput
from meter.pixels.bracket import shifts_of
from meter.pixels.light_map import BLACK, BLOWN, LightMap
from meter.pixels.merge import merge, register
from tests.calibration.simulated import encode

SIGMA = np.interp(np.arange(256), (0, 118, 255), (1.0, 0.1, 0.9)).astype(np.float32)
RAMP = np.geomspace(2.0**-8, 2.0**8, 96, dtype=np.float32)[None, :].repeat(32, axis=0)  # 16 stops from left to right


def shot(light: np.ndarray, stops: float, seed: int = 0, error: float = 0.0) -> LightMap:
    """A photo exposed 2^stops, decoded rightly but for an error in stops that grows towards black and white."""
    level = light * 0.18 * 2.0**stops
    codes = np.clip(np.rint(255 * encode(np.clip(level, 0, 1))), 0, 255).astype(np.uint8)
    extremes = np.where(level >= 1, BLOWN, np.where(codes <= 4, BLACK, np.uint8(0)))
    noise = np.random.default_rng(seed).standard_normal(light.shape) * SIGMA[codes] * error
    value = np.where(level >= 1, 1 / (0.18 * 2.0**stops), light) * 2.0**noise
    value = np.where(codes <= 4, (4 / 255 / 12.92) / (0.18 * 2.0**stops), value)
    return LightMap(value.astype(np.float32), codes, extremes, SIGMA)


def test_three_photos_meter_a_range_that_none_of_them_holds():
    maps = [shot(RAMP, stops, seed, error=1.0) for seed, stops in enumerate((-5.0, 0.0, 5.0))]

    merged = merge(maps)

    held = [np.mean(one.extremes == 0) for one in maps]
    assert max(held) < 0.6 < 0.95 < np.mean(merged.light.extremes == 0)
    off = np.log2(merged.light.luminance / RAMP)[merged.light.extremes == 0]
    alone = [np.log2(one.luminance / RAMP)[one.extremes == 0] for one in maps]
    assert np.sqrt(np.mean(off**2)) < min(np.sqrt(np.mean(one**2)) for one in alone)


def test_each_pixel_comes_from_where_it_is_best_exposed():
    merged = merge([shot(RAMP, stops) for stops in (-5.0, 0.0, 5.0)])

    assert list(np.unique(merged.came_from[:, :20])) == [2]  # the darkest, from the longest exposure
    assert list(np.unique(merged.came_from[:, -20:])) == [0]
    assert merged.came_from[0, 48] == 1
    assert sum(merged.shares(3)) == pytest.approx(1.0)
    assert np.all(np.diff(merged.came_from[0].astype(int)) <= 0)


def test_sigma_is_that_of_the_best_exposed_photo():
    maps = [shot(RAMP, stops) for stops in (-5.0, 0.0, 5.0)]

    merged = merge(maps).light

    sigmas = np.stack([np.where(one.extremes == 0, SIGMA[one.luma], np.inf) for one in maps])
    known = merged.extremes == 0
    assert np.array_equal(SIGMA[merged.luma][known], sigmas.min(axis=0)[known])


def test_blown_everywhere_keeps_the_highest_at_least_and_black_everywhere_the_lowest_at_most():
    bright, dark = np.full((4, 4), 1e4, np.float32), np.full((4, 4), 1e-6, np.float32)
    merged_bright = merge([shot(bright, stops) for stops in (0.0, -2.0, 1.0)])
    merged_dark = merge([shot(dark, stops) for stops in (0.0, 2.0, 1.0)])

    assert np.all(merged_bright.light.extremes == BLOWN) and np.all(merged_bright.came_from == 1)
    assert np.allclose(merged_bright.light.luminance, 2**2 / 0.18, rtol=1e-5)  # float32
    assert np.all(merged_dark.light.extremes == BLACK) and np.all(merged_dark.came_from == 1)


def test_what_moved_comes_from_one_photo_alone():
    other = RAMP.copy()
    other[10:20, 40:60] *= 8
    maps = [shot(RAMP, 0.0), shot(other, 0.4), shot(RAMP, -0.4)]

    merged = merge(maps)

    values = np.stack([one.luminance for one in maps])[:, 10:20, 40:60]
    ratio = np.abs(np.log2(merged.light.luminance[10:20, 40:60] / values)).min(axis=0)
    assert ratio.max() < 0.01  # nothing in between


@given(st.floats(0.5, 100), st.integers(1, 5))
def test_merging_copies_of_one_photo_changes_nothing(scale, copies):
    one = shot(RAMP * np.float32(scale), 0.0)

    merged = merge([one] * copies)

    assert np.allclose(merged.light.luminance, one.luminance, rtol=1e-5)  # float32
    assert np.array_equal(merged.light.extremes, one.extremes)
    assert not merged.came_from.any()


def test_the_maps_given_are_left_alone():
    maps = [shot(RAMP, 0.0), shot(RAMP, 2.0)]
    before = [(m.luminance.copy(), m.luma.copy(), m.extremes.copy()) for m in maps]

    merge(maps)

    for one, kept in zip(maps, before, strict=True):
        assert all(np.array_equal(a, b) for a, b in zip((one.luminance, one.luma, one.extremes), kept, strict=True))


def test_register_cuts_shifted_maps_to_what_they_share():
    rng = np.random.default_rng(3)
    light = np.kron(2.0 ** rng.normal(0, 1.5, (15, 20)), np.ones((16, 16))).astype(np.float32)
    maps = [shot(light[8:-8, 8:-8], 0.0), shot(light[5:-11, 12:-4], 1.0)]

    first, second = register(maps, shifts_of([one.luma for one in maps], (0.0, 1.0)))

    assert first.size == second.size == (light.shape[1] - 16 - 4, light.shape[0] - 16 - 3)
    good = (first.extremes == 0) & (second.extremes == 0)
    assert np.allclose(first.luminance[good], second.luminance[good], rtol=1e-5)  # float32


def test_maps_of_different_sizes_are_refused():
    with pytest.raises(BadInput, match="of one size can be merged; got 96 x 32, 95 x 32"):
        merge([shot(RAMP, 0.0), shot(RAMP[:, 1:], 0.0)])
