"""Averaging releases: laws, robustness, and what a person is told."""

from math import log2, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.from_shutter import SOUND_LIMIT_S, from_frame_count, from_recording, measured_speed
from calibration.open_time import OpenTime
from calibration.recording import Recording
from meter.errors import BadInput


def seen(*open_s: float, sigma_s: float = 1e-5, mode: str = "light") -> list[OpenTime]:
    return [OpenTime(float(i), t, sigma_s, mode) for i, t in enumerate(open_s)]


def test_half_the_marked_speed_is_one_stop_more_exposure():
    speed = measured_speed(seen(1 / 64, 1 / 64, 1 / 64), 1 / 128)

    assert speed.error_stops == pytest.approx(1.0)
    assert speed.measured_s == pytest.approx(1 / 64)
    assert (speed.repeats, speed.trustworthy, speed.note) == (3, True, "")


def test_one_odd_release_hardly_moves_the_mean_and_is_mentioned():
    times = np.array([0.125, 0.127, 0.124, 0.126, 0.125, 0.400])

    speed = measured_speed(seen(*times), 1 / 8)

    # A tenth of a stop; the plain mean of these six is 0.44 stop off.
    assert abs(log2(speed.measured_s / 0.1255)) < 0.1
    assert log2(times.mean() / 0.1255) > 0.4
    assert "1 of 6 releases far from the others" in speed.note


def test_more_releases_narrow_the_interval_but_not_below_what_they_share():
    few = measured_speed(seen(*[1 / 64] * 3, sigma_s=0.0021, mode="sound"), 1 / 64)
    many = measured_speed(seen(*[1 / 64] * 50, sigma_s=0.0021, mode="sound"), 1 / 64)

    assert 0.002 < many.sigma_s < few.sigma_s


def test_sound_is_trusted_to_a_sixtieth_and_not_to_a_hundred_and_twenty_fifth():
    """Common practice: sound alone is trusted to about 1/60 s."""
    sixtieth = measured_speed(seen(*[1 / 64] * 5, sigma_s=0.00201, mode="sound"), 1 / 64)
    faster = measured_speed(seen(*[1 / 128] * 5, sigma_s=0.00201, mode="sound"), 1 / 128)

    assert sixtieth.trustworthy
    assert not faster.trustworthy
    assert faster.note == "sound cannot tell times below about 1/87 s (clicks are 2 ms uncertain): use a light sensor"
    assert 1 / 125 < SOUND_LIMIT_S < 1 / 60


@pytest.mark.parametrize(("repeats", "noun"), [(1, "release"), (2, "releases")])
def test_one_or_two_pairs_of_clicks_are_not_trusted(repeats, noun):
    speed = measured_speed(seen(*[0.5] * repeats, sigma_s=0.0021, mode="sound"), 0.5)

    assert not speed.trustworthy
    assert speed.note == f"only {repeats} {noun}: make five or more"


def test_releases_that_scatter_widely_are_not_trusted():
    speed = measured_speed(seen(0.1, 0.2, 0.4, 0.15, 0.6), 0.25)

    assert not speed.trustworthy
    assert "more and cleaner releases" in speed.note


def test_by_ear_a_time_far_from_its_mark_is_not_trusted():
    speed = measured_speed(seen(*[0.14] * 5, sigma_s=0.0021, mode="sound"), 1 / 16)

    assert not speed.trustworthy
    assert speed.note.startswith("more than a stop from its mark")
    assert measured_speed(seen(*[0.14] * 5), 1 / 16).trustworthy  # light has no other clicks to confuse


@given(
    st.lists(st.floats(0.8, 1.25), min_size=1, max_size=12),
    st.floats(0.001, 4.0),
    st.sampled_from([0.5, 2.0, 3.0]),
)
def test_the_average_scales_with_time_and_lies_within_the_releases(shares, unit_s, factor):
    open_s = np.array(shares) * unit_s

    speed = measured_speed(seen(*open_s, sigma_s=1e-4 * unit_s), 0.01)
    scaled = measured_speed(seen(*(factor * open_s), sigma_s=factor * 1e-4 * unit_s), 0.01)

    assert open_s.min() * (1 - 1e-9) <= speed.measured_s <= open_s.max() * (1 + 1e-9)
    assert scaled.measured_s == pytest.approx(factor * speed.measured_s)
    assert scaled.sigma_s == pytest.approx(factor * speed.sigma_s)


@pytest.mark.parametrize("scatter", [0.015, 0.03, 0.06])
@pytest.mark.parametrize("repeats", [2, 3, 5, 10])
def test_the_stated_interval_holds_the_true_mean(scatter, repeats):
    """Gaussian releases; the assumed scatter is 4 %, so that 1.5 % is covered too often and 6 % a little too seldom."""
    rng = np.random.default_rng(20)
    within = []
    for _ in range(250):
        speed = measured_speed(seen(*(0.1 * (1 + scatter * rng.normal(size=repeats)))), 0.1)
        within.append(abs(speed.measured_s - 0.1) <= 1.96 * speed.sigma_s)

    assert np.mean(within) >= 0.90


def test_frames_are_counted_with_an_error_uniform_within_one_frame():
    time = from_frame_count(30, 240)

    assert time.open_s == pytest.approx(1 / 8)
    assert time.sigma_s == pytest.approx(1 / 240 / sqrt(3))  # GUM 4.3.7: half-width over the root of 3
    assert time.mode == "frames"


def test_counted_frames_hold_the_truth_whatever_the_phase():
    """A shutter in each frame of a video: the frames it fills, and the two at the ends counted for half."""
    rng = np.random.default_rng(3)
    starts, open_frames, fps = rng.uniform(0, 1, 2000), 9.9, 240
    whole = np.floor(starts + open_frames) - np.floor(starts) + 1  # frames with any light

    errors = np.array([from_frame_count(n - 1, fps).open_s for n in whole]) - open_frames / fps

    assert np.abs(errors).max() <= 1 / fps
    assert abs(errors.mean()) < 0.02 / fps


def test_too_few_frames_are_not_trusted():
    speed = measured_speed([from_frame_count(1, 240)], 1 / 256)

    assert not speed.trustworthy
    assert speed.note == (
        "uncertain by more than 0.25 stop: film it with more frames a second; only 1 release: make five or more"
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: from_frame_count(0, 240), "number of frames"),
        (lambda: from_frame_count(float("nan"), 240), "number of frames"),
        (lambda: from_frame_count(10, 0), "frames a second"),
        (lambda: from_frame_count(10, float("inf")), "frames a second"),
        (lambda: measured_speed([], 1 / 8), "no release"),
        (lambda: measured_speed(seen(0.1), 0), "marked time"),
        (lambda: measured_speed(seen(0.1), float("nan")), "marked time"),
        (lambda: measured_speed(seen(0.1) + seen(0.1, mode="frames"), 1 / 8), "one mode"),
        (lambda: measured_speed(seen(-0.1), 1 / 8), "above 0"),
        (lambda: measured_speed(seen(float("nan")), 1 / 8), "above 0"),
        (lambda: from_recording(Recording(np.zeros((9, 1), np.float32), 44_100), 1 / 8, "smell"), "sound, light"),
    ],
)
def test_bad_input_gets_one_sentence(call, said):
    with pytest.raises(BadInput, match=said) as refused:
        call()

    assert "\n" not in str(refused.value)
