"""Hear a shutter: the time between the click of opening and the click of closing, for each release in a recording.

How: a band-pass leaves out rumble and voice; a click is where the energy of the next millisecond rises far above what
went before (adaptive threshold: what went before includes the ringing and the gear train of slow speeds, so that the
gears' steady buzz is no event); its onset is found to a fraction of a sample by the two-variance change point of
Maeda (1985, the "AIC picker" of seismology; memory). Of all pairs of clicks, those that fit the marked time, agree with
each other over the releases and are loud win; the two clicks of cocking, whose gap follows the hand, lose.

What sound cannot tell: see open_time.SYSTEMATIC_S. Sources: [1] common practice: sound alone is trusted to about
1/60 s. [2] N. Maeda (1985), Zisin 38, 365-379 (memory; the formula is checked by test on signals with known onsets).
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, log, log2

import numpy as np
from scipy.signal import butter, find_peaks, sosfilt

from calibration.open_time import SYSTEMATIC_S, OpenTime
from calibration.recording import Recording
from meter.errors import BadInput

BAND_HZ = (1_500.0, 16_000.0)
STEP_S = 0.000125  # the grid on which energy is compared
AHEAD_S = 0.001
RISE_DB = 7.0  # how far the next millisecond must stand above what went before
QUIETEST_DB = 26.0  # clicks further than this below the loudest are not heard as part of a release
WIDEST_RATIO = 3.0  # the open time may be a third to three times the marked one
LOUDNESS_POWER = 0.3  # a pair twice as loud (in amplitude) is believed 1.23 times as much
GEARS_FROM_S = 1 / 24  # slower marks run a gear train (assumed);
GEARS_DB = 3.0  # heard this far above the floor between the clicks, a pair is believed GEARS_WORTH times as much
GEARS_WORTH = 3.0
PRIOR_STOPS = 0.8  # how far old shutters stray from their marks, standard deviation (assumed)
SAME_STOPS = 0.06  # releases of one speed agree this well in time,
SAME_CLICK_DB = 3.0  # this well in the loudness of each click,
SAME_BETWEEN_DB = 2.0  # this well in the loudness of what is heard between them,
SAME_TIMBRE_DB = 3.0  # and this well, rms over the bands, in the timbre of each click (assumed, all four);
KEPT_STOPS = 0.12  # once their kind is known, they may differ this much more in time,
FARTHEST = 3.0  # and are kept up to this many standard deviations of all together
TIMBRE_BANDS = 6
TIMBRE_S = 0.004
ATTACK_S = 0.0001  # a click's attack, within which its onset is a matter of definition (assumed)


@dataclass(frozen=True)
class _Click:
    at_s: float
    sigma_s: float
    level_db: float
    timbre_db: tuple[float, ...]  # level in each band, less their mean


def open_times(recording: Recording, marked_s: float) -> tuple[OpenTime, ...]:
    """The open time of each release heard in a recording of one marked speed.

    marked_s: exact marked time, which says how far apart to look for the clicks. [s]
    Raises BadInput when no pair of clicks fits.
    """
    heard = _loudest_channel(recording)
    clicks = _clicks(heard, recording.rate_hz, marked_s)
    pairs = _releases(clicks, marked_s, _loudness_between(heard, recording.rate_hz))
    if not pairs:
        raise BadInput(
            f"no opening and closing clicks between {1000 * marked_s / WIDEST_RATIO:.3g} and "
            f"{1000 * marked_s * WIDEST_RATIO:.3g} ms apart stand out in {recording.name}: record in a quiet room with "
            "the microphone a few centimetres from the shutter, and check the marked time"
        )
    return tuple(
        OpenTime(a.at_s, b.at_s - a.at_s, hypot(a.sigma_s, b.sigma_s, SYSTEMATIC_S["sound"]), "sound") for a, b in pairs
    )


def _loudest_channel(recording: Recording) -> np.ndarray:
    """The channel whose clicks stand highest above its own noise, band-passed."""
    top = min(BAND_HZ[1], 0.45 * recording.rate_hz)
    band = butter(4, (BAND_HZ[0], top), "bandpass", fs=recording.rate_hz, output="sos")
    heard = sosfilt(band, recording.samples, axis=0)
    contrast = np.abs(heard).max(axis=0) / (np.median(np.abs(heard), axis=0) + 1e-9)
    return heard[:, int(np.argmax(contrast))]


def _loudness_between(heard: np.ndarray, rate_hz: float) -> Callable[[float, float], float]:
    """A function of two clicks' times: the mean power in the middle of the time between them. [dB]"""

    def between_db(opened_s: float, closed_s: float) -> float:
        edge = (closed_s - opened_s) / 4
        part = heard[int((opened_s + edge) * rate_hz) : int((closed_s - edge) * rate_hz) + 1]
        return 10 * float(np.log10(np.mean(np.square(part)) + 1e-14))

    return between_db


def _clicks(heard: np.ndarray, rate_hz: float, marked_s: float) -> list[_Click]:
    step = max(round(STEP_S * rate_hz), 2)
    energy = np.square(heard[: len(heard) // step * step]).reshape(-1, step).mean(axis=1)
    ahead = max(round(AHEAD_S * rate_hz / step), 1)
    behind = max(round(_clip(marked_s / 4, 0.001, 0.015) * rate_hz / step), 4)
    if len(energy) < 2 * (ahead + behind):
        return []
    floor = np.median(energy) + 1e-12
    after = _mean_of_next(energy, ahead)
    before = np.concatenate([np.full(behind, floor), _mean_of_next(energy, behind)[: len(energy) - behind]])
    rise_db = 10 * np.log10(np.maximum(after, floor) / np.maximum(before, floor))
    level_db = 10 * np.log10(np.maximum(after, floor))
    rise_db[level_db < level_db.max() - QUIETEST_DB] = 0
    apart = max(round(_clip(marked_s / 4, 0.0005, 0.002) * rate_hz / step), 1)
    peaks, _ = find_peaks(rise_db, height=RISE_DB, distance=apart)
    return [_click(heard, p * step, rate_hz, marked_s, float(level_db[p])) for p in peaks]


def _mean_of_next(energy: np.ndarray, count: int) -> np.ndarray:
    total = np.concatenate([[0.0], np.cumsum(energy), np.full(count, energy.sum())])
    return np.maximum(total[count : count + len(energy)] - total[: len(energy)], 0) / count


def _click(heard: np.ndarray, near: int, rate_hz: float, marked_s: float, level_db: float) -> _Click:
    at, sigma = _onset(heard, near, rate_hz, marked_s)
    timbre_db = _timbre(heard[int(at) : int(at) + round(TIMBRE_S * rate_hz)], rate_hz)
    return _Click(at / rate_hz, hypot(sigma / rate_hz, ATTACK_S), level_db, timbre_db)


def _timbre(sound: np.ndarray, rate_hz: float) -> tuple[float, ...]:
    power = np.abs(np.fft.rfft(sound * np.hanning(2 * len(sound))[len(sound) :], 2 * len(sound))) ** 2
    pitch = np.fft.rfftfreq(2 * len(sound), 1 / rate_hz)
    bounds = np.geomspace(BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz), TIMBRE_BANDS + 1)
    bands = [power[(pitch >= low) & (pitch < high)].sum() for low, high in itertools.pairwise(bounds)]
    db = 10 * np.log10(np.maximum(bands, 0.003 * max(bands) + 1e-14))
    return tuple(float(level) for level in db - db.mean())


def _onset(heard: np.ndarray, near: int, rate_hz: float, marked_s: float) -> tuple[float, float]:
    """Where the variance changes: mean and spread of Maeda's AIC taken as a likelihood, exp(-AIC / 2). [samples]"""
    lead = round(_clip(marked_s / 4, 0.001, 0.004) * rate_hz)
    first, last = max(near - lead, 0), min(near + round(1.5 * AHEAD_S * rate_hz), len(heard))
    power = np.square(heard[first:last]) + 1e-14
    count, k = len(power), np.arange(4, len(power) - 4)
    sums = np.cumsum(power)
    aic = k * np.log(sums[k - 1] / k) + (count - k) * np.log((sums[-1] - sums[k - 1]) / (count - k))
    weight = np.exp(-0.5 * (aic - aic.min()))
    weight /= weight.sum()
    at = float(weight @ k)
    spread = float(np.sqrt(weight @ np.square(k - at)))
    return first + at, max(spread, 0.5)


def _releases(
    clicks: list[_Click], marked_s: float, between_db: Callable[[float, float], float]
) -> list[tuple[_Click, _Click]]:
    """The pairs that are releases, in order of time and without overlap."""
    pairs = _candidates(clicks, marked_s)
    if not pairs:
        return []
    loudest = max(_level(p) for p in pairs)
    kind = np.array([_kind(p, between_db) for p in pairs])
    worth = np.array([_worth(p, marked_s, loudest) for p in pairs]) * _gears(kind[:, 2] * SAME_BETWEEN_DB, marked_s)
    gap = np.log2([b.at_s - a.at_s for a, b in pairs])
    jitter = SYSTEMATIC_S["sound"] / 2 / marked_s / log(2)
    unlike = np.square(kind[:, None, :] - kind[None, :, :]).sum(axis=2)
    late = np.square(gap[:, None] - gap[None, :])
    support = np.exp(-0.5 * (unlike + late / hypot(SAME_STOPS, jitter) ** 2)) @ worth
    best = int(np.argmax(support))
    apart = np.sqrt(unlike[best] + late[best] / hypot(KEPT_STOPS, jitter) ** 2)
    kept: list[tuple[_Click, _Click]] = []
    for i in np.argsort(apart):
        a, b = pairs[i]
        if apart[i] < FARTHEST and all(b.at_s < c.at_s or a.at_s > d.at_s for c, d in kept):
            kept.append((a, b))
    return sorted(kept, key=lambda pair: pair[0].at_s)


def _kind(pair: tuple[_Click, _Click], between_db: Callable[[float, float], float]) -> tuple[float, ...]:
    """What releases of one speed have in common besides their time, each in units of how well they agree."""
    a, b = pair
    levels = (a.level_db / SAME_CLICK_DB, b.level_db / SAME_CLICK_DB, between_db(a.at_s, b.at_s) / SAME_BETWEEN_DB)
    timbre = np.array(a.timbre_db + b.timbre_db) / SAME_TIMBRE_DB / TIMBRE_BANDS**0.5
    return (*levels, *timbre)


def _candidates(clicks: list[_Click], marked_s: float) -> list[tuple[_Click, _Click]]:
    """Pairs of a plausible distance with nothing between them that is louder than the fainter of the two."""
    pairs = []
    for i, a in enumerate(clicks):
        loudest_between = -np.inf
        for b in clicks[i + 1 :]:
            gap = b.at_s - a.at_s
            if gap > WIDEST_RATIO * marked_s:
                break
            if gap >= marked_s / WIDEST_RATIO and loudest_between < min(a.level_db, b.level_db):
                pairs.append((a, b))
            loudest_between = max(loudest_between, b.level_db)
    return pairs


def _worth(pair: tuple[_Click, _Click], marked_s: float, loudest_db: float) -> float:
    """Weight of a pair: its loudness, times how likely such a distance is at this mark."""
    stray = log2((pair[1].at_s - pair[0].at_s) / marked_s) / PRIOR_STOPS
    return 10 ** (LOUDNESS_POWER * (_level(pair) - loudest_db) / 20) * exp(-0.5 * stray**2)


def _gears(between_db: np.ndarray, marked_s: float) -> np.ndarray:
    """More weight where gears are heard between the clicks, as they should be at slow speeds."""
    if marked_s < GEARS_FROM_S:
        return np.ones_like(between_db)
    return 1 + (GEARS_WORTH - 1) * np.clip((between_db - between_db.min()) / GEARS_DB, 0, 1)


def _level(pair: tuple[_Click, _Click]) -> float:
    return min(pair[0].level_db, pair[1].level_db)


def _clip(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
