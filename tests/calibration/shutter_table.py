"""Error and bias of measured open times on recordings whose answer is known.

    python -m tests.calibration.shutter_table [RECORDINGS]

prints one row a mode, marked time and signal-to-noise ratio. The simulated shutters are those of recordings.py: each
recording is another shutter of five releases at the marked time, with its own scatter (median 3 %), clicks and noise.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calibration.from_shutter import MeasuredSpeed, from_recording, measured_speed
from meter.errors import BadInput
from tests.calibration.recordings import Truth, click_shutter, light_pulses

MARKS = (1, 1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 32, 1 / 64, 1 / 128, 1 / 256, 1 / 512)
MAKERS: dict[str, Callable[..., Truth]] = {"sound": click_shutter, "light": light_pulses}
SNRS_DB = {"sound": (40, 30, 20, 15), "light": (40, 30, 20)}


@dataclass(frozen=True)
class Row:
    """How the recordings of one kind came out.

    found: share of the releases that were found; wrong: events that were none, per release.
    refused: recordings in which nothing was found.
    bias_s, spread_s: mean and standard deviation of the error of one release. [s]
    covered: share of releases whose error is within 1.96 sigma.
    speed_bias, speed_spread: mean and standard deviation of the error of the average of a recording. [stops]
    speed_covered: share of averages within 1.96 sigma of the shutter's true mean; trusted: called trustworthy.
    """

    found: float
    wrong: float
    refused: int
    bias_s: float
    spread_s: float
    covered: float
    speed_bias: float
    speed_spread: float
    speed_covered: float
    trusted: float


def row(mode: str, marked_s: float, snr_db: float, seeds: range, **how) -> Row:
    """Make, measure and compare a recording a seed; every second one at 44.1 kHz."""
    errors, sigmas, speeds, found, wrong, releases, refused = [], [], [], 0, 0, 0, 0
    for seed in seeds:
        truth = MAKERS[mode](marked_s, seed, snr_db=snr_db, rate_hz=(44_100, 48_000)[seed % 2], **how)
        releases += len(truth.start_s)
        try:
            times = from_recording(truth.recording, marked_s, mode)
        except BadInput:
            refused += 1
            continue
        speeds.append(measured_speed(times, marked_s))
        for time in times:
            nearest = int(np.argmin(np.abs(np.array(truth.start_s) - time.start_s)))
            if abs(truth.start_s[nearest] - time.start_s) > max(0.004, 0.001 * marked_s):
                wrong += 1
                continue
            found += 1
            errors.append(time.open_s - truth.open_s[nearest])
            sigmas.append(time.sigma_s)
    return _row(np.array(errors), np.array(sigmas), speeds, found / releases, wrong / releases, refused)


def _row(errors, sigmas, speeds: list[MeasuredSpeed], found: float, wrong: float, refused: int) -> Row:
    stops = np.array([s.error_stops for s in speeds] or [np.nan])
    within = [abs(s.measured_s - s.marked_s) <= 1.96 * s.sigma_s for s in speeds] or [False]
    errors, sigmas = (errors, sigmas) if len(errors) else (np.array([np.nan]), np.array([np.nan]))
    return Row(
        found,
        wrong,
        refused,
        float(errors.mean()),
        float(errors.std()),
        float(np.mean(np.abs(errors) <= 1.96 * sigmas)),
        float(stops.mean()),
        float(stops.std()),
        float(np.mean(within)),
        float(np.mean([s.trustworthy for s in speeds] or [False])),
    )


def main(recordings: int) -> None:
    print(
        "mode   marked  SNR dB  found  wrong  refused |  one release: bias ms   sd ms  in 95 % |"
        "  average: bias stops      sd  in 95 %  trusted"
    )
    for mode, snrs in SNRS_DB.items():
        for marked_s in MARKS:
            for snr_db in snrs:
                r = row(mode, marked_s, snr_db, range(7000, 7000 + recordings))
                print(
                    f"{mode:5s}  1/{1 / marked_s:<5.0f} {snr_db:6d} {r.found:6.0%} {r.wrong:6.0%} {r.refused:8d} |"
                    f"{1000 * r.bias_s:22.3f} {1000 * r.spread_s:7.3f} {r.covered:8.0%} |"
                    f"{r.speed_bias:21.3f} {r.speed_spread:7.3f} {r.speed_covered:8.0%} {r.trusted:8.0%}",
                    flush=True,
                )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
