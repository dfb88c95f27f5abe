"""How far a response can be trusted, by code: what the photos it came from still disagree about.

Four parts, added in quadrature: what the fit leaves open (large where no photo showed a code); what single samples
scatter around it; what scenes disagree about; and what an exposure series cannot show at all. The last needs a word. A
phone that answers a darker frame with a brighter rendering looks, from frame to frame, just like one with another tone
curve. It gives itself away by the rest of its wander, so sigma grows with that, the more the further a code is from
mid-tone, though never beyond what is assumed of a phone that was not calibrated.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration import tone_curve as curve
from calibration.exposure_series import Samples
from calibration.fit import Solution
from meter.response import CODES, DEFAULT_RESPONSE, LUMA_256THS, LUMINANCE_WEIGHTS, MID_CODE

WEIGHTS = np.array(LUMINANCE_WEIGHTS["srgb"])
BIN = 16  # codes [by encoded luma]
FEW = 20  # samples below which a bin says nothing
LEAST_SIGMA = 0.005  # no response is surer than this [stops]
STILL_WANDER = 0.015  # what noise alone makes of the wander of a camera that does not adapt [stops]
HIDDEN_SLOPE = 5.0  # hidden slope for a stop of wander beyond that; simulated cameras that adapt: 0.4 to 8 [1/stops]
ANY_SLOPE = 0.03  # of a camera that shows no wander at all: one simulated so had 0.04 [stops per stop]
MOST_SLOPE = 0.3  # [stops per stop]


@dataclass(frozen=True)
class CodeBin:
    """rms: of a sample's log2 luminance around that of the same place in the other frames. [stops]"""

    first_code: int
    last_code: int
    rms_stops: float
    samples: int


def log2_luminance(codes: np.ndarray, tables: np.ndarray) -> np.ndarray:
    """log2 of relative luminance. codes: (..., 3), tables: log2 response (3, 256). Returns (...)."""
    channels = [np.interp(codes[..., c], np.arange(CODES), 2.0 ** tables[c]) for c in range(3)]
    return np.log2(np.einsum("c,c...->...", WEIGHTS, np.stack(channels)))


def residuals(samples: Samples, tables: np.ndarray, strays: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Each sample against the same place in all frames that saw it, and its encoded luma. Both (kept,). [stops, codes]

    Grown by n/(n - 1) in variance, because the mean of n frames holds the sample itself.
    strays: exposures to correct by, (frames,); None takes EXIF at its word. [stops]
    """
    exposure = samples.stops if strays is None else samples.stops + strays
    light = log2_luminance(samples.codes, tables) - exposure[:, None]
    seen = samples.seen.all(axis=2)
    count = seen.sum(axis=0)
    mean = np.where(seen, light, 0).sum(axis=0) / np.maximum(count, 1)
    off = (light - mean) * np.sqrt(count / np.maximum(count - 1, 1))
    kept = seen & (count >= 2)
    luma = samples.codes @ np.array(LUMA_256THS, float) / 256
    return off[kept], luma[kept]


def spread(scenes: Sequence[Samples], tables: np.ndarray) -> float:
    """rms by which one place's luminance differs from frame to frame, exposures by EXIF. [stops]"""
    off = np.concatenate([residuals(samples, tables)[0] for samples in scenes])
    return float(np.sqrt(np.mean(off**2)))


def code_bins(scenes: Sequence[Samples], solution: Solution) -> tuple[CodeBin, ...]:
    """rms of the residuals by encoded luma (wild ones held in). Bins with too few are left out."""
    parts = [residuals(one, solution.stops) for one in scenes]
    off, luma = (np.concatenate(column) for column in zip(*parts, strict=True))
    bins = []
    for first in range(0, CODES, BIN):
        here = off[(luma >= first) & (luma < first + BIN)]
        if len(here) >= FEW:
            limit = 6 * np.median(np.abs(here)) + 1e-9
            rms = float(np.sqrt(np.mean(np.clip(here, -limit, limit) ** 2)))
            bins.append(CodeBin(first, first + BIN - 1, rms, len(here)))
    return tuple(bins)


def sigma(solution: Solution, bins: Sequence[CodeBin]) -> np.ndarray:
    """Standard uncertainty of log2 luminance by encoded luma, all parts. (256,) [stops]"""
    return np.hypot(shown_sigma(solution, bins), _hidden(solution))


def shown_sigma(solution: Solution, bins: Sequence[CodeBin]) -> np.ndarray:
    """The parts of sigma that the photos themselves show. (256,) [stops]"""
    parts = (open_sigma(solution), _scatter(bins), _between_scenes(solution))
    return np.sqrt(sum(part**2 for part in parts) + LEAST_SIGMA**2)


def open_sigma(solution: Solution) -> np.ndarray:
    """What the fit leaves open, of a grey. (256,) [stops]"""
    to_grey = np.kron(WEIGHTS[None, :], curve.free_hats())
    return np.sqrt(np.maximum(np.einsum("zi,ij,zj->z", to_grey, solution.cov, to_grey), 0))


def _scatter(bins: Sequence[CodeBin]) -> np.ndarray:
    centers = [(one.first_code + one.last_code) / 2 for one in bins]
    return np.interp(np.arange(CODES), centers, [one.rms_stops for one in bins])


def _between_scenes(solution: Solution) -> np.ndarray:
    scenes = len(solution.apart)
    if scenes < 2:
        return np.zeros(CODES)
    grey = np.einsum("c,scz->sz", WEIGHTS, solution.apart)
    return np.sqrt((grey**2).sum(axis=0) / (scenes - 1))


def _hidden(solution: Solution) -> np.ndarray:
    slope = min(np.hypot(ANY_SLOPE, HIDDEN_SLOPE * max(solution.wander - STILL_WANDER, 0)), MOST_SLOPE)
    grey = WEIGHTS @ solution.stops
    return np.minimum(slope * np.abs(grey - grey[MID_CODE]), DEFAULT_RESPONSE.sigma)
