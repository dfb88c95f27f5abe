"""See a shutter: the time between the half-heights of opening and closing, from a light sensor on a sound input.

A sound input is AC-coupled: a steady light fades away (the pulse droops) and its end throws the signal below zero
(it undershoots). With one or two high-pass poles, what was lost is a sum of the signal's own running integrals,

    light = y + c1 * integral(y) + c2 * double integral(y) + drift,

and c1, c2 follow by linear least squares from what is known of the light: it is level before, while fully open, and
after [1]. Then each edge's half-height between its own two levels, by a straight line through the middle of the ramp.
For a trapezoid that time is also the effective time at full aperture (area under the curve over its height, the
definition of ISO 516 as recalled: memory); stopped down, a leaf shutter's effective time is longer (not modelled here).

Light the sensor with a torch or a lamp on direct current, never with the sun through the lens; mains lamps flicker.

[1] Own derivation: H(s) = s^2 / ((s + a)(s + b)) gives light = y (1 + (a + b)/s + ab/s^2). Checked on pulses sent
through filters of 5 to 20 Hz, one and two poles (tests/calibration).
"""

import itertools
from dataclasses import dataclass
from math import hypot

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from calibration.open_time import OpenTime
from calibration.recording import Recording
from meter.errors import BadInput

WIDEST_RATIO = 4.0  # the open time may be a quarter to four times the marked one
EDGE_SHARE = 0.3  # an edge is at least this part of the steepest one in the recording
EDGE_SIGMAS = 10.0  # and this far above the noise
TAIL_S = 0.12  # how much of the undershoot is used: 4 time constants at 5 Hz
CLOCK_PPM = 50.0  # standard uncertainty of a sound card's clock (common practice: crystals are good to 30 to 100 ppm)
RAMP_SHARE = 0.01  # a ramp is not straight: its half-height is off by this part of its length (straight to square law)
FULL_SCALE = 0.999
CLIPPED_RUN = 4  # this many samples in a row at full scale are a clipped pulse
ROWS = 1_500  # of the least-squares fit
SECOND_POLE_GAIN = 1.1  # a second pole must shrink the residual by this factor to be believed


@dataclass(frozen=True)
class _Edge:
    at: int  # sample
    sign: int


def open_times(recording: Recording, marked_s: float) -> tuple[OpenTime, ...]:
    """The open time of each release seen in a recording of one marked speed.

    marked_s: exact marked time. [s]
    Raises BadInput when no pulse fits, or the pulses are clipped.
    """
    signal = _strongest_channel(recording, marked_s)
    _refuse_clipping(signal, recording.name)
    pairs = _pulses(_edges(signal, recording.rate_hz, marked_s), recording.rate_hz, marked_s)
    limits = [0, *((a[1].at + b[0].at) // 2 for a, b in itertools.pairwise(pairs)), len(signal)]
    found = (
        _measure(signal, pair, (limits[i], limits[i + 1]), recording.rate_hz, marked_s) for i, pair in enumerate(pairs)
    )
    times = tuple(time for time in found if time is not None)
    if not times:
        raise BadInput(
            f"no pulse of light between {1000 * marked_s / WIDEST_RATIO:.3g} and {1000 * marked_s * WIDEST_RATIO:.3g} "
            f"ms long stands out in {recording.name}: put a bright steady lamp before the lens and the sensor close "
            "behind it, and check the marked time"
        )
    return times


def _strongest_channel(recording: Recording, marked_s: float) -> np.ndarray:
    def contrast(signal: np.ndarray) -> float:
        slope = _slope(signal, _window(marked_s, recording.rate_hz))
        return float(np.abs(slope).max(initial=0) / (_noise(signal) + 1e-9))

    channels = recording.samples.T.astype(np.float64)
    return max(channels, key=contrast)


def _refuse_clipping(signal: np.ndarray, name: str) -> None:
    full = np.abs(signal) >= FULL_SCALE
    run = uniform_filter1d(full.astype(np.float64), CLIPPED_RUN, mode="constant").max(initial=0)
    if run > 1 - 0.5 / CLIPPED_RUN:
        raise BadInput(f"{name} is clipped: the pulses reach full scale; lower the input level and record it again")


def _window(marked_s: float, rate_hz: float) -> int:
    return max(round(min(max(marked_s / 5, 0.0003), 0.001) * rate_hz), 3)


def _slope(signal: np.ndarray, window: int) -> np.ndarray:
    """Mean of the next window less the mean of the previous one."""
    total = np.concatenate([[0.0], np.cumsum(signal)])
    mean = (total[window:] - total[:-window]) / window
    slope = np.zeros_like(signal)
    if len(mean) > window:
        slope[window : window + len(mean) - window] = mean[window:] - mean[:-window]
    return slope


def _noise(signal: np.ndarray) -> float:
    """Standard deviation of what differs from one sample to the next."""
    return float(np.median(np.abs(np.diff(signal)))) / 0.6745 / np.sqrt(2) + 1e-9


def _edges(signal: np.ndarray, rate_hz: float, marked_s: float) -> list[_Edge]:
    window = _window(marked_s, rate_hz)
    slope = _slope(signal, window)
    size = np.abs(slope)
    enough = max(EDGE_SHARE * size.max(initial=0), EDGE_SIGMAS * _noise(signal) * np.sqrt(2 / window))
    peaks, _ = find_peaks(size, height=enough, distance=max(window // 2, 1))
    runs: list[list[int]] = []
    for p in peaks:
        near = runs and p - runs[-1][-1] < 0.02 * rate_hz
        if near and np.sign(slope[p]) == np.sign(slope[runs[-1][-1]]):
            runs[-1].append(p)
        else:
            runs.append([p])
    return [_Edge(int(max(run, key=lambda p: size[p])), int(np.sign(slope[run[0]]))) for run in runs]


def _pulses(edges: list[_Edge], rate_hz: float, marked_s: float) -> list[tuple[_Edge, _Edge]]:
    """Neighbouring edges of opposite sign and plausible distance; the sensor's polarity is the one that gives more."""

    def with_polarity(sign: int) -> list[tuple[_Edge, _Edge]]:
        return [
            (a, b)
            for a, b in itertools.pairwise(edges)
            if a.sign == sign
            and b.sign == -sign
            and 1 / WIDEST_RATIO <= (b.at - a.at) / rate_hz / marked_s <= WIDEST_RATIO
        ]

    up, down = with_polarity(1), with_polarity(-1)
    if len(up) == len(down) and edges:
        return up if edges[0].sign > 0 else down
    return max(up, down, key=len)


def _measure(
    signal: np.ndarray, pulse: tuple[_Edge, _Edge], limits: tuple[int, int], rate_hz: float, marked_s: float
) -> OpenTime | None:
    opened, closed = pulse
    tail = round(TAIL_S * rate_hz)
    first, last = max(limits[0], opened.at - tail), min(limits[1], closed.at + tail)
    part = opened.sign * signal[first:last]
    a, b = opened.at - first, closed.at - first
    margin = round(min(max((b - a) / 3, 0.0005 * rate_hz), 0.008 * rate_hz))
    if min(a, len(part) - b) < 4 * margin:
        return None  # no quiet before or after
    for _ in range(2):  # the second time with margins that fit the ramps
        light = _without_droop(part, (a, b), margin, rate_hz)
        wander = _wander(light, (a, b), margin)
        edges = [_half_height(light, (a, b), margin, which, wander) for which in (0, 1)]
        if None in edges:
            return None
        margin = round(min(1.0 * max(e.ramp for e in edges) + 3, 0.4 * (b - a), 0.008 * rate_hz)) + 1
    open_s = (edges[1].at - edges[0].at) / rate_hz
    sigma_s = hypot(edges[0].sigma, edges[1].sigma, 0.3) / rate_hz
    return OpenTime((first + edges[0].at) / rate_hz, open_s, hypot(sigma_s, open_s * CLOCK_PPM * 1e-6), "light")


def _without_droop(y: np.ndarray, edges: tuple[int, int], margin: int, rate_hz: float) -> np.ndarray:
    """The light, up to a factor, from the AC-coupled signal: level before, between and after the edges."""
    a, b = edges
    t = np.arange(len(y)) / rate_hz
    before, between, after = t * rate_hz < a - margin, _inside(len(y), a + margin, b - margin), t * rate_hz > b + margin
    known = before | between | after
    once = np.cumsum(y) / rate_hz - 0.5 * y / rate_hz
    twice = np.cumsum(once) / rate_hz
    t = t - t.mean()
    one = _solve(y, known, [once, np.ones_like(t), t], between)
    two = _solve(y, known, [once, twice, np.ones_like(t), t, np.square(t)], between)
    light = two if np.std(one[after]) > SECOND_POLE_GAIN * np.std(two[after]) else one
    return light


def _solve(y: np.ndarray, known: np.ndarray, columns: list[np.ndarray], between: np.ndarray) -> np.ndarray:
    """y plus the columns that make it 0 before and after, and level between."""
    design = np.stack([*columns, -between.astype(np.float64), -y], axis=1)[known]
    step = max(len(design) // ROWS, 1)  # means of neighbours say the same in fewer rows
    rows = design[: len(design) // step * step].reshape(-1, step, design.shape[1]).mean(axis=1)
    scale = np.abs(rows[:, :-1]).max(axis=0) + 1e-12
    solved, *_ = np.linalg.lstsq(rows[:, :-1] / scale, rows[:, -1], rcond=1e-10)
    return y + sum(column * factor for column, factor in zip(columns, solved / scale, strict=False))


def _inside(count: int, first: int, last: int) -> np.ndarray:
    index = np.arange(count)
    return (index >= first) & (index <= last)


@dataclass(frozen=True)
class _Crossing:
    at: float  # sample, with its fraction
    sigma: float  # samples
    ramp: float  # samples from foot to shoulder


def _wander(light: np.ndarray, edges: tuple[int, int], margin: int) -> float:
    """How far the dark level strays over times longer than an edge: hum, and what the droop correction left."""
    after = light[edges[1] + margin :]
    return float(np.std(uniform_filter1d(after, max(margin, 3)))) if len(after) > 4 * margin else 0.0


def _half_height(light: np.ndarray, edges: tuple[int, int], margin: int, which: int, wander: float) -> _Crossing | None:
    """Where an edge passes half of the way between its own two levels."""
    a, b = edges
    at = edges[which]
    inner = max(min((b - a) // 2, 8 * margin), 2)
    outer = 8 * margin
    left, right = (outer, inner) if which == 0 else (inner, outer)
    low_side = light[max(at - left, 0) : max(at - margin, 1)]
    high_side = light[at + margin : at + right]
    if min(len(low_side), len(high_side)) < 2:
        plateau = light[(a + b) // 2 - 1 : (a + b) // 2 + 2]
        low_side, high_side = (low_side, plateau) if which == 0 else (plateau, high_side)
    before, after = float(np.mean(low_side)), float(np.mean(high_side))
    noise = _noise(light)
    first = max(at - margin, 0)
    way = (light[first : at + margin + 1] - before) / (after - before)
    smooth = uniform_filter1d(way, max(margin // 6, 1))
    half = _crossing(smooth, 0.5)
    ramp = max((_crossing(smooth, 0.75) - _crossing(smooth, 0.25)) / 0.5, 1.0)
    index = np.arange(len(way))
    near = np.abs(index - half) <= max(0.25 * ramp, 1.5)
    if not np.isfinite(ramp) or near.sum() < 3:
        return None
    slope, level = np.polyfit(index[near] - half, way[near], 1)
    if slope <= 0:
        return None
    height = abs(after - before)
    ends = hypot(*(0.5 / np.sqrt(len(side)) for side in (low_side, high_side)))
    sigma = hypot(noise / np.sqrt(near.sum()), noise * ends, wander) / height / slope
    return _Crossing(first + half + (0.5 - level) / slope, hypot(sigma, RAMP_SHARE * ramp), ramp)


def _crossing(way: np.ndarray, share: float) -> float:
    """The first passage upwards through a share of the way, between samples."""
    above = np.flatnonzero(way >= share)
    if len(above) == 0 or above[0] == 0:
        return float("nan")
    i = above[0]
    return i - (way[i] - share) / (way[i] - way[i - 1])
