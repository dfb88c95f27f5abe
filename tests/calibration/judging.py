"""How good a response is, on frames it was not made from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration import scatter
from calibration.exposure_series import Frame, pick
from meter.response import LUMA_256THS
from tests.calibration.simulated import LUMA

CODES_JUDGED = (15, 240)  # of every channel
MID_CODES = (90, 150)  # where the offset is taken, as a reading of a grey card would


@dataclass(frozen=True)
class Errors:
    """log2 luminance minus truth, the offset removed, by pixel. [stops] luma: their encoded luma."""

    stops: np.ndarray
    luma: np.ndarray

    @property
    def median(self) -> float:
        return float(np.median(np.abs(self.stops)))

    @property
    def p95(self) -> float:
        return float(np.percentile(np.abs(self.stops), 95))

    def over_sigma(self, sigma: Sequence[float]) -> np.ndarray:
        return self.stops / np.interp(self.luma, np.arange(256), sigma)


def errors(frames: Sequence[Frame], light: np.ndarray, tables: np.ndarray) -> Errors:
    """Errors of frames of known light (rows, columns, 3) under log2 tables (3, 256)."""
    codes = np.stack([frame.rgb for frame in frames]).astype(float)
    exposure = np.array([frame.stops for frame in frames])[:, None, None]
    off = scatter.log2_luminance(codes, tables) - exposure - np.log2(light @ LUMA)
    kept = (codes.min(axis=3) >= CODES_JUDGED[0]) & (codes.max(axis=3) <= CODES_JUDGED[1])
    luma = (codes @ np.array(LUMA_256THS, float) / 256)[kept]
    off = off[kept]
    return Errors(off - np.median(off[(luma > MID_CODES[0]) & (luma < MID_CODES[1])]), luma)


def spread(frames: Sequence[Frame], tables: np.ndarray) -> float:
    """rms by which one place's luminance differs over frames. [stops]"""
    return scatter.spread([pick(frames)], tables)
