"""Fall-off from flat frames whose fall-off is known: recovery, dirt, gradients, turned frames, coverage, refusals."""

import numpy as np
import pytest

from calibration.from_flat_field import from_flat_frames
from meter.errors import BadInput
from meter.falloff import Falloff

SHAPE = (180, 240)
TRUE = Falloff(0.51, 0.485, -0.9, -0.5, 0.2, 0.0)


def grid(shape=SHAPE):
    rows, columns = shape
    return np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)


def stops_of(falloff: Falloff, shape=SHAPE) -> np.ndarray:
    """The definition on arrays, written anew: r = 1 at half of the diagonal."""
    x, y = grid(shape)
    rows, columns = shape
    r2 = (((x - falloff.center_x) * columns) ** 2 + ((y - falloff.center_y) * rows) ** 2) / (rows**2 + columns**2) * 4
    return falloff.k2 * r2 + falloff.k4 * r2**2 + falloff.k6 * r2**3


TRUE_STOPS = stops_of(TRUE)


def flat(seed: int, *, stops=TRUE_STOPS, level=0.4, gradient=(0.0, 0.0), noise=0.01, dirt=0) -> np.ndarray:
    """A frame; gradient in stops from edge to edge; noise relative; dirt: dark specks of 2 to 6 pixels."""
    rng = np.random.default_rng(seed)
    x, y = grid(stops.shape)
    light = level * 2.0 ** (stops + gradient[0] * (x - 0.5) + gradient[1] * (y - 0.5))
    light *= 1 + noise * rng.normal(size=stops.shape)
    for _ in range(dirt):
        row, column, size = rng.integers(0, stops.shape[0]), rng.integers(0, stops.shape[1]), rng.integers(2, 7)
        light[row : row + size, column : column + size] *= rng.uniform(0.2, 0.8)
    return np.clip(light, 0, 1).astype(np.float32)


def error_stops(found: Falloff) -> np.ndarray:
    return stops_of(found)[::6, ::6] - TRUE_STOPS[::6, ::6]


def test_one_place_equals_the_array():
    x, y = grid()
    for row, column in ((0, 0), (10, 200), (179, 239), (90, 120)):
        assert TRUE.stops_at(x[row, column], y[row, column], 4 / 3) == pytest.approx(TRUE_STOPS[row, column])


def test_a_clean_frame_gives_back_its_fall_off():
    found = from_flat_frames([flat(1)])

    # Without turned frames a shifted centre passes for a gradient: that is what sigma is for.
    assert np.sqrt(np.mean(error_stops(found.falloff) ** 2)) < 0.05
    assert found.falloff.sigma_stops < 0.08
    assert found.residual_stops < 0.01
    assert not found.turned


def test_turned_frames_find_the_optical_centre_and_take_out_the_gradient():
    frames = [flat(1, gradient=(0.4, -0.2)), flat(2, gradient=(-0.4, 0.2)), flat(3, gradient=(0.4, -0.2))]

    found = from_flat_frames(frames, turned=[False, True, False])

    assert (found.falloff.center_x, found.falloff.center_y) == pytest.approx((0.51, 0.485), abs=0.005)
    assert np.abs(error_stops(found.falloff)).max() < 0.02
    assert found.gradient_stops == pytest.approx(np.hypot(0.4, 0.2), abs=0.03)
    assert found.turned


def test_a_gradient_of_the_light_does_not_pass_for_fall_off():
    found = from_flat_frames([flat(4, gradient=(0.5, 0.3))]).falloff

    assert np.sqrt(np.mean(error_stops(found) ** 2)) < 0.05


def test_dirt_hardly_counts():
    clean, dirty = (from_flat_frames([flat(5, dirt=n)]).falloff for n in (0, 60))

    assert np.abs(stops_of(clean)[::6, ::6] - stops_of(dirty)[::6, ::6]).max() < 0.02


def test_frames_of_other_exposures_are_averaged():
    frames = [flat(i, level=level) for i, level in enumerate((0.15, 0.3, 0.6))]

    assert from_flat_frames(frames).falloff.k2 == pytest.approx(from_flat_frames(frames[1:2]).falloff.k2, abs=0.1)


def test_a_picture_that_is_already_corrected_has_next_to_no_fall_off():
    found = from_flat_frames([flat(6, stops=np.zeros(SHAPE))]).falloff

    assert np.abs(stops_of(found)).max() < 0.02


@pytest.mark.parametrize("turned", [False, True])
def test_the_stated_interval_holds_the_truth(turned):
    """Random lenses, centres, gradients, noise, and diffusers brighter in the middle by 0.1 stop (1 sigma)."""
    rng = np.random.default_rng(11)
    within = []
    small = (96, 128)
    for seed in range(24):
        center = np.clip(0.5 + 0.01 * rng.normal(size=2), 0, 1)
        truth = Falloff(*center, rng.uniform(-1.5, 0), rng.uniform(-0.5, 0.5), rng.uniform(-0.3, 0.1), 0.0)
        middle = Falloff(0.5, 0.5, 0.1 * rng.normal(), 0, 0, 0)
        stops, gradient = stops_of(truth, small), rng.normal(0, 0.2, size=2)
        seen = stops + stops_of(middle, small)
        ways = (1, -1, 1) if turned else (1, 1, 1)
        frames = [flat(100 * seed + i, stops=seen, gradient=way * gradient, dirt=5) for i, way in enumerate(ways)]
        found = from_flat_frames(frames, turned=[way < 0 for way in ways]).falloff
        apart = (stops_of(found, small) - stops)[::8, ::8]
        within.append(np.mean(np.abs(apart) <= 1.96 * found.sigma_stops))

    assert 0.90 <= np.mean(within) <= 0.99


def stripes() -> np.ndarray:
    x, _ = grid()
    return flat(7, stops=TRUE_STOPS + 0.5 * np.sign(np.sin(30 * x)))


def shadow() -> np.ndarray:
    x, y = grid()
    return flat(8, stops=1.2 * ((x - 0.5) ** 2 + (y - 0.5) ** 2) / 0.5, level=0.2)


def with_a_hole() -> np.ndarray:
    frame = flat(9)
    frame[3, 4] = np.nan
    return frame


BAD = {
    "none": ([], "no frame"),
    "clipped": ([flat(1, level=1.2)], "frame 1 is clipped in places: take it again with 1 to 2 stops less"),
    "dark": ([flat(1, level=0.01)], "frame 1 is too dark"),
    "stripes": ([flat(1), stripes()], "frame 2 is not an even surface"),
    "a shadow in the middle": ([shadow()], "brighter than the middle"),
    "light from one side": ([flat(1, gradient=(2.0, 0), level=0.3)], "from one side to the other"),
    "two sizes": ([flat(1), flat(1)[:150]], "frame 2 has 240 x 150 pixels"),
    "colour": ([np.ones((180, 240, 3), np.float32)], "luminance of at least"),
    "tiny": ([np.full((20, 20), 0.4, np.float32)], "at least 96 pixels"),
    "not numbers": ([with_a_hole()], "negative or not numbers"),
    "negative": ([flat(1) - 0.5], "negative or not numbers"),
}


@pytest.mark.parametrize("case", BAD)
def test_frames_that_are_not_flat_are_refused_in_one_sentence(case):
    frames, said = BAD[case]

    with pytest.raises(BadInput, match=said) as refused:
        from_flat_frames(frames)

    assert "\n" not in str(refused.value)


def test_messages_use_the_names_that_were_given():
    with pytest.raises(BadInput, match=r"quay\.jpg is too dark"):
        from_flat_frames([flat(1, level=0.01)], names=["quay.jpg"])


def test_as_many_turns_as_frames():
    with pytest.raises(BadInput, match="as many names and turns"):
        from_flat_frames([flat(1)], turned=[True, False])
