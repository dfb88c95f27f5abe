"""Measured times of an old shutter: from a recording of its sound or its light, or from frames of a slow-motion video.

One recording holds several releases at one marked speed. The times it gives are averaged so that an odd one hardly
counts, and compared with the exact marked time (1/125 is 1/128 s; the caller passes it). Positive stops mean more
exposure on the film: the shutter is slow.

How the average is made, and what its uncertainty holds:
  - Huber's M-estimate of location, k = 1.345, on the logarithms of the times [1].
  - Scatter between releases: what was seen, drawn towards 4 % as if two releases more had been seen (assumed: few
    releases say little about scatter), so that even a single release has an honest interval; Student's t for as many
    degrees of freedom, so that value +/- 1.96 sigma is a 95 % interval [2].
  - On top, the part that repeating does not average away (open_time.SYSTEMATIC_S).

[1] P. J. Huber, Robust Statistics (1981), ch. 3 (memory). [2] JCGM 100:2008 (GUM), annex G (memory).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, isfinite, log, log2, sqrt

import numpy as np
from scipy.special import stdtrit

from calibration import shutter_light, shutter_sound
from calibration.open_time import MODES, SYSTEMATIC_S, OpenTime
from calibration.recording import Recording
from meter.errors import BadInput

TRUSTED_STOPS = 0.25  # a measured time is of use when its standard uncertainty is below this
SOUND_LIMIT_S = SYSTEMATIC_S["sound"] / log(2) / TRUSTED_STOPS  # 1/87 s: 1/60 is the last mark that sound can tell
EXPECTED_SCATTER = 0.04  # of leaf shutters from release to release, relative (assumed)
EXPECTED_WEIGHT = 2  # releases that this expectation is worth
HUBER_K = 1.345
FAR_STOPS = 1.0  # by ear, a time this far from its mark may be two other clicks
SHORTEST_S = 0.05  # of quiet that a recording must hold besides a release
ODD_SIGMAS = 4.0  # a release this far out is mentioned
MARKED_RANGE_S = (1 / 4000, 60.0)
FEW = 3  # fewer pairs of clicks than this are not trusted: noise can make two that agree
_READERS = {"sound": shutter_sound.open_times, "light": shutter_light.open_times}


@dataclass(frozen=True)
class MeasuredSpeed:
    """What a shutter really does at one of its marks.

    marked_s: exact marked time. [s]
    measured_s, sigma_s: robust mean of the open times and its standard uncertainty. [s]
    repeats: releases that were measured.
    trustworthy: whether the uncertainty is small enough to put measured_s in place of marked_s.
    note: why not, or what to improve; empty when there is nothing to say.
    """

    marked_s: float
    measured_s: float
    sigma_s: float
    repeats: int
    trustworthy: bool
    note: str

    @property
    def error_stops(self) -> float:
        """How much more exposure the film gets than the mark promises. [stops]"""
        return log2(self.measured_s / self.marked_s)

    @property
    def sigma_stops(self) -> float:
        """Standard uncertainty of error_stops. [stops]"""
        return self.sigma_s / self.measured_s / log(2)


def from_recording(recording: Recording, marked_s: float, mode: str) -> tuple[OpenTime, ...]:
    """The open time of each release in a recording made at one marked speed.

    marked_s: exact marked time. [s]
    mode: "sound" (a microphone near the shutter) or "light" (a light sensor behind it).
    Raises BadInput for an unknown mode, an impossible time, or a recording in which no release is found.
    """
    if mode not in _READERS:
        raise BadInput(f"a recording is read as one of {', '.join(_READERS)}; got {mode!r}")
    _check_marked(marked_s)
    if recording.length_s < marked_s + SHORTEST_S:
        raise BadInput(
            f"{recording.name} lasts {recording.length_s:.2g} s, too short for {marked_s:.3g} s with quiet "
            "before and after; record longer, or check the marked time"
        )
    return _READERS[mode](recording, marked_s)


def from_frame_count(frames: float, fps: float) -> OpenTime:
    """The open time of one release in a slow-motion video, by counting the frames that show the shutter open.

    frames: how many, counting a half-lit frame as half. Above 0, at most 1e6.
    fps: frames a second while it was taken, not while it is shown. From 1 to 1e6.
    The time is frames / fps; its error is taken as uniform within one frame either way, sigma = 1 / (fps sqrt 3).

    >>> round(from_frame_count(30, 240).open_s, 4)
    0.125
    """
    if not (0 < frames <= 1e6):
        raise BadInput(f"the number of frames with the shutter open must be above 0, at most a million; got {frames}")
    if not (1 <= fps <= 1e6):
        raise BadInput(f"frames a second must be between 1 and a million, as taken, not as shown; got {fps}")
    return OpenTime(0.0, frames / fps, 1 / fps / sqrt(3), "frames")


def measured_speed(times: Sequence[OpenTime], marked_s: float) -> MeasuredSpeed:
    """Average the releases of one marked speed.

    times: one or more, all of one mode; recordings of the same speed may be joined.
    marked_s: exact marked time. [s]
    Raises BadInput where there is none, where modes are mixed, or where a time is not above 0 and finite.
    """
    _check_marked(marked_s)
    mode = _mode_of(times)
    open_s = np.array([t.open_s for t in times])
    random_s = np.array([t.random_s for t in times])
    mean_s, scatter, freedom, odd = _robust_mean(open_s, random_s)
    spread_s = mean_s * scatter / sqrt(len(times)) * float(stdtrit(freedom, 0.975)) / 1.96
    sigma_s = hypot(spread_s, SYSTEMATIC_S[mode])
    doubts = [*_doubts(mode, mean_s, sigma_s, marked_s)]
    advice = [*_advice(len(times), odd)]
    trustworthy = not doubts and not (mode == "sound" and len(times) < FEW)
    return MeasuredSpeed(marked_s, mean_s, sigma_s, len(times), trustworthy, "; ".join(doubts + advice))


def _check_marked(marked_s: float) -> None:
    low, high = MARKED_RANGE_S
    if not (low <= marked_s <= high):
        raise BadInput(f"the marked time must be between 1/{1 / low:.0f} s and {high:.0f} s; got {marked_s} s")


def _mode_of(times: Sequence[OpenTime]) -> str:
    if not times:
        raise BadInput("no release to average; give at least one open time")
    modes = sorted({t.mode for t in times})
    if len(modes) > 1 or modes[0] not in MODES:
        raise BadInput(f"open times of one mode ({', '.join(MODES)}) can be averaged; got {', '.join(modes)}")
    for t in times:
        if not (t.open_s > 0 and isfinite(t.open_s) and t.sigma_s > 0 and isfinite(t.sigma_s)):
            raise BadInput(
                f"an open time and its uncertainty must be above 0 and finite; got {t.open_s} +/- {t.sigma_s}"
            )
    return modes[0]


def _robust_mean(open_s: np.ndarray, random_s: np.ndarray) -> tuple[float, float, float, int]:
    """Mean [s], scatter of one release (relative), its degrees of freedom, and how many releases are odd."""
    values = np.log(open_s)
    expected = np.hypot(EXPECTED_SCATTER, np.median(random_s) / np.median(open_s))
    center = float(np.median(values))
    scatter, freedom = expected, float(EXPECTED_WEIGHT)
    for _ in range(30):
        pull = np.abs(values - center) / (HUBER_K * scatter)
        weight = 1 / np.maximum(pull, 1)
        center = float(weight @ values / weight.sum())
        # Huber's proposal 2: clipped residuals; 0.71 is their mean square for a Gaussian, k = 1.345.
        seen = np.sum(np.minimum(np.abs(values - center), HUBER_K * scatter) ** 2) / 0.71
        freedom = EXPECTED_WEIGHT + len(values) - 1
        scatter = float(np.sqrt((EXPECTED_WEIGHT * expected**2 + seen) / freedom))
    odd = int(np.sum(np.abs(values - center) > ODD_SIGMAS * scatter))
    return float(np.exp(center)), scatter, freedom, odd


def _doubts(mode: str, mean_s: float, sigma_s: float, marked_s: float) -> Iterator[str]:
    """Why the result should not replace the marked time."""
    if mode == "sound" and mean_s < SOUND_LIMIT_S:
        yield (
            f"sound cannot tell times below about 1/{1 / SOUND_LIMIT_S:.0f} s (clicks are "
            f"{1000 * SYSTEMATIC_S['sound']:.0f} ms uncertain): use a light sensor"
        )
    elif sigma_s / mean_s / log(2) > TRUSTED_STOPS:
        cure = "film it with more frames a second" if mode == "frames" else "make more and cleaner releases"
        yield f"uncertain by more than {TRUSTED_STOPS} stop: {cure}"
    if mode == "sound" and abs(log2(mean_s / marked_s)) > FAR_STOPS:
        yield "more than a stop from its mark: other clicks may have been taken for the shutter's; use a light sensor"


def _advice(repeats: int, odd: int) -> Iterator[str]:
    if odd:
        yield f"{odd} of {repeats} releases far from the others; they hardly count"
    if repeats < FEW:
        yield f"only {repeats} {'release' if repeats == 1 else 'releases'}: make five or more"
