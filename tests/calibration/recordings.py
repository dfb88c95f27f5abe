"""Recordings whose answer is known: clicks and light pulses of an invented old leaf shutter, made sample by sample.

Nothing here is taken from the code under test. Where a figure is a guess about real shutters it is large on purpose:
blades of 0.6 to 2 ms travel, clicks with 0.05 to 0.3 ms attack and 1 to 4 ms of ringing, gears 12 to 22 dB below them.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import butter, lfilter, sosfilt

from calibration.recording import Recording


@dataclass(frozen=True)
class Truth:
    """What was put into a recording: per release when it opened and for how long. [s]"""

    recording: Recording
    start_s: tuple[float, ...]
    open_s: tuple[float, ...]
    clicks_s: tuple[float, ...] = field(default=())  # sound: time between the two clicks themselves


def click_shutter(
    mean_s: float,
    seed: int,
    *,
    snr_db: float = 30.0,
    releases: int = 5,
    rate_hz: int = 48_000,
    scatter: float | None = None,
    offset_sigma_s: float = 0.0017,
    jitter_sigma_s: float = 0.001,
    cocking: bool = True,
    buzz: bool = True,
    lever: bool = True,
    channels: int = 1,
) -> Truth:
    """A shutter heard by a microphone.

    snr_db: peak of the opening click over the rms of the room noise, both wide-band.
    scatter: relative standard deviation of the open time from release to release; None draws one, 1.5 to 6 %.
    offset_sigma_s, jitter_sigma_s: how far the clicks are from the light: a part that this shutter always has, and a
        part new at every release. Together 2 ms.
    cocking: two clicks of the cocking lever before each release, 0.12 to 0.4 s apart.
    buzz: the gear train between the clicks, at marks of 1/20 s and slower.
    lever: the click of the release lever, 5 to 30 ms before the opening.
    """
    rng = np.random.default_rng(seed)
    scatter = _scatter(rng) if scatter is None else scatter
    offset = rng.normal(0, offset_sigma_s)
    voice = _Voice(rng, rate_hz)
    events, starts, opens, gaps = [], [], [], []
    clock = 0.6 + rng.uniform(0, 0.5)
    for _ in range(releases):
        if cocking:
            events += [(clock, "cock", 0), (clock + rng.uniform(0.12, 0.4), "cock", 0)]
            clock += 0.5 + rng.uniform(0.1, 0.8)
        open_s = mean_s * (1 + scatter * rng.normal())
        gap = max(open_s + offset + rng.normal(0, jitter_sigma_s), 0.25 * open_s)
        if lever:
            events.append((clock - rng.uniform(0.005, 0.03), "lever", 0))
        events += [(clock, "open", gap), (clock + gap, "close", 0)]
        starts, opens, gaps = [*starts, clock], [*opens, open_s], [*gaps, gap]
        clock += gap + 0.4 + rng.uniform(0, 0.8)
    sound = _mix(rng, rate_hz, clock + 0.3, events, voice, buzz and mean_s >= 1 / 20)
    noise = _room_noise(rng, len(sound), rate_hz) * 10 ** (-snr_db / 20)
    heard = 0.4 * (sound + noise)
    samples = np.stack([heard * (1 if c == 0 else 0.5) for c in range(channels)], axis=1)
    samples = np.clip(np.round(samples * 32767) / 32768, -1, 1).astype(np.float32)
    return Truth(Recording(samples, rate_hz), tuple(starts), tuple(opens), tuple(gaps))


def _scatter(rng: np.random.Generator) -> float:
    """Of leaf shutters from release to release: median 3 %, nearly all between 1.5 and 6 % (assumed)."""
    return 0.03 * float(np.exp(0.35 * rng.normal()))


class _Voice:
    """The sound of one shutter: each part rings at its own pitches, the same at every release."""

    def __init__(self, rng: np.random.Generator, rate_hz: int):
        self.rate_hz = rate_hz
        level = {"cock": rng.uniform(0.3, 1.0), "open": 1.0, "close": rng.uniform(0.4, 1.2), "tick": 1.0}
        level["lever"] = rng.uniform(0.1, 0.5)
        self.sound = {part: level[part] * self._ring(rng) for part in level}
        self.buzz_level = 10 ** (-rng.uniform(12, 22) / 20)
        self.ticks_hz = rng.uniform(90, 250)

    def _ring(self, rng: np.random.Generator) -> np.ndarray:
        t = np.arange(int(0.03 * self.rate_hz)) / self.rate_hz
        decay, attack = rng.uniform(0.001, 0.004), rng.uniform(0.00005, 0.0003)
        pitches = rng.uniform(1_500, 9_000, size=4)
        tone = sum(np.sin(2 * np.pi * f * t + rng.uniform(0, 6)) * rng.uniform(0.3, 1) for f in pitches)
        crack = rng.normal(size=len(t)) * np.exp(-t / 0.0007)
        ring = (tone + crack) * np.exp(-t / decay) * (1 - np.exp(-t / attack))
        return ring / np.abs(ring).max()


def _mix(rng, rate_hz, length_s, events, voice: _Voice, buzz: bool) -> np.ndarray:
    sound = np.zeros(int(length_s * rate_hz) + 4_096)
    for when, part, gap in events:
        _add(sound, voice.sound[part] * rng.uniform(0.8, 1.2), when * rate_hz)
        if part == "open" and buzz:
            tick = when + 0.004
            while tick < when + gap - 0.004:
                _add(sound, voice.sound["tick"] * voice.buzz_level * rng.uniform(0.5, 1.0), tick * rate_hz)
                tick += rng.normal(1, 0.08) / voice.ticks_hz
    return sound


def _add(sound: np.ndarray, part: np.ndarray, position: float) -> None:
    """Add at a fraction of a sample, by linear interpolation."""
    i, rest = int(position), position % 1
    sound[i : i + len(part)] += (1 - rest) * part
    sound[i + 1 : i + 1 + len(part)] += rest * part


def _room_noise(rng, count, rate_hz) -> np.ndarray:
    """Wide-band noise and a deeper rumble, together rms 1."""
    rumble = sosfilt(butter(1, 300, fs=rate_hz, output="sos"), rng.normal(size=count))
    return 0.7 * rng.normal(size=count) + 0.7 * rumble / rumble.std()


def light_pulses(
    mean_s: float,
    seed: int,
    *,
    snr_db: float = 40.0,
    releases: int = 5,
    rate_hz: int = 48_000,
    scatter: float | None = None,
    coupling_hz: tuple[float, ...] | None = None,
    polarity: int = 1,
    hum: float | None = None,
    curve: float | None = None,
    clock_ppm: float = 50.0,
) -> Truth:
    """A shutter seen by a light sensor on a sound input.

    snr_db: full-open level over the rms of the noise.
    coupling_hz: corner of each high-pass in the input; None draws one of 5 to 20 Hz.
    hum: amplitude of 50 Hz hum as a fraction of the full-open level; None draws one up to 0.005.
    curve: power of the ramps, 1 for a trapezoid, 2 for blades that open in diameter at a steady rate; None draws one.
    clock_ppm: standard deviation of the sound card's clock.
    """
    rng = np.random.default_rng(seed)
    scatter = _scatter(rng) if scatter is None else scatter
    coupling_hz = coupling_hz or (rng.uniform(5, 20),)
    hum = rng.uniform(0, 0.005) if hum is None else hum
    curve = rng.uniform(1, 2) if curve is None else curve
    pace = 1 + clock_ppm * 1e-6 * rng.normal()
    rise, fall = (min(rng.uniform(0.0006, 0.002), 0.45 * mean_s) for _ in range(2))
    clock, starts, opens = 0.3 + rng.uniform(0, 0.3), [], []
    for _ in range(releases):
        starts, opens = [*starts, clock], [*opens, mean_s * (1 + scatter * rng.normal())]
        clock += opens[-1] + 0.35 + rng.uniform(0, 0.3)
    fine = 2
    t = np.arange(int((clock + 0.3) * rate_hz) * fine) / (rate_hz * fine)
    light = np.zeros_like(t)
    for start, open_s in zip(starts, opens, strict=True):
        opening = np.clip((t - start) / rise + 0.5 ** (1 / curve), 0, 1) ** curve
        closing = np.clip((start + open_s - t) / fall + 0.5 ** (1 / curve), 0, 1) ** curve
        light += np.minimum(opening, closing)
    for corner in coupling_hz:
        light = _high_pass(light, corner, rate_hz * fine)
    light = light.reshape(-1, fine).mean(axis=1) + hum * np.sin(2 * np.pi * 50 * t[::fine] + rng.uniform(0, 6))
    seen = polarity * 0.4 * (light + rng.normal(size=len(light)) * 10 ** (-snr_db / 20)) + 0.01
    samples = np.clip(np.round(seen * 32767) / 32768, -1, 1).astype(np.float32)[:, None]
    shift = 0.5 * (fine - 1) / (rate_hz * fine)  # a sample is the mean of its two fine ones
    return Truth(Recording(samples, rate_hz), tuple(s - shift for s in starts), tuple(o * pace for o in opens))


def _high_pass(x: np.ndarray, corner_hz: float, rate_hz: float) -> np.ndarray:
    """One pole, exact for a signal that is straight between samples (bilinear transform)."""
    k = np.pi * corner_hz / rate_hz
    return lfilter([1 / (1 + k), -1 / (1 + k)], [1, -(1 - k) / (1 + k)], x)
