"""A phone's response from exposure series: photos of still scenes whose light nobody knows, only how it was exposed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration import scatter
from calibration import tone_curve as curve
from calibration.exposure_series import BLACK_CODE, Frame, Samples, check, pick
from calibration.fit import Solution, solve, without
from meter.errors import BadInput
from meter.response import CODES, Response

DISAGREES = 0.2  # a frame this far from its EXIF is named [stops]
LEAST_BRIGHTENING = 0.25  # of a picture with exposure, against what sRGB decoding promises [stops per stop]
MOST_SPREAD = 0.6  # after the fit: beyond it the photos do not show one still scene [stops]
LEAST_CODES = (60, 170)  # luma codes that the photos must show between them for a response to be worth having


@dataclass(frozen=True)
class FrameCheck:
    """How far one photo's exposure is from what its EXIF says, plus for more light. [stops]"""

    scene: int
    name: str
    stray_stops: float

    @property
    def disagrees(self) -> bool:
        """Whether the difference is too large to come from the fit."""
        return abs(self.stray_stops) > DISAGREES


@dataclass(frozen=True)
class Calibrated:
    """A response and the evidence for it.

    spread_before, spread_after: rms by which one place's luminance differs from frame to frame, exposures by EXIF,
    decoded as sRGB and by this response. [stops]
    seen_codes: darkest and brightest luma that the photos showed. range_stops: of exposure, the widest series.
    wander_stops: how much the tone curve changes from frame to frame.
    """

    response: Response
    bins: tuple[scatter.CodeBin, ...]
    frames: tuple[FrameCheck, ...]
    spread_before: float
    spread_after: float
    seen_codes: tuple[int, int]
    range_stops: float
    wander_stops: float

    @property
    def disagreeing(self) -> tuple[FrameCheck, ...]:
        """The frames whose EXIF the others contradict."""
        return tuple(frame for frame in self.frames if frame.disagrees)


def fit_response(scenes: Sequence[Sequence[Frame]], seed: int = 0) -> Calibrated:
    """One response for one phone camera from one or more still scenes, each a series of exposures.

    Raises BadInput when the series cannot give one: too few photos, too little range, several cameras, something moved.
    """
    check(scenes)
    samples = [pick(scene, seed) for scene in scenes]
    for one in samples:
        _check_brightening(one)
    solution = solve(samples)
    before = scatter.spread(samples, _srgb_tables())
    after = scatter.spread(_without_strays(samples, solution), solution.stops)
    seen = _seen_codes(samples)
    _check_outcome(after, seen)
    bins = scatter.code_bins(samples, solution)
    return Calibrated(
        response=_response(solution, scatter.sigma(solution, bins)),
        bins=bins,
        frames=_frame_checks(samples, solution),
        spread_before=before,
        spread_after=scatter.spread(samples, solution.stops),
        seen_codes=seen,
        range_stops=float(max(np.ptp(one.stops) for one in samples)),
        wander_stops=solution.wander,
    )


def spread_of(scene: Sequence[Frame], response: Response, seed: int = 0) -> float:
    """rms by which one place's luminance differs over these frames under this response, exposures by EXIF. [stops]"""
    return scatter.spread([pick(scene, seed)], _log_tables(response))


def leave_one_out(scene: Sequence[Frame], seed: int = 0) -> tuple[float, ...]:
    """Each frame's rms error when a response from the other frames predicts it. (frames,) [stops]

    The place's light is the mean of those other frames. Needs four frames or more.
    """
    check([scene])
    if len(scene) < 4:
        raise BadInput(f"leaving one photo out needs four or more; there are {len(scene)}")
    samples = pick(scene, seed)
    return tuple(_left_out(samples, frame) for frame in range(len(scene)))


def _left_out(samples: Samples, frame: int) -> float:
    tables = solve([without(samples, frame)]).stops
    light = scatter.log2_luminance(samples.codes, tables) - samples.stops[:, None]
    seen = samples.seen.all(axis=2)
    others = np.delete(seen, frame, axis=0)
    count = others.sum(axis=0)
    mean = np.where(others, np.delete(light, frame, axis=0), 0).sum(axis=0) / np.maximum(count, 1)
    off = (light[frame] - mean)[seen[frame] & (count > 0)]
    return float(np.sqrt(np.mean(off**2))) if len(off) else 0.0


def _check_brightening(samples: Samples) -> None:
    """Refuse photos that do not get brighter with the exposure they state."""
    seen = samples.seen.all(axis=2)
    light = scatter.log2_luminance(np.maximum(samples.codes, BLACK_CODE), _srgb_tables())
    count = np.maximum(seen.sum(axis=0), 1)
    exposure = samples.stops[:, None] * np.ones_like(light)
    off_exposure = exposure - np.where(seen, exposure, 0).sum(axis=0) / count
    off_light = light - np.where(seen, light, 0).sum(axis=0) / count
    power = (off_exposure[seen] ** 2).sum()
    rate = (off_exposure[seen] * off_light[seen]).sum() / max(power, 1e-9)
    if rate < LEAST_BRIGHTENING:
        raise BadInput(
            f"the series from {samples.names[0]} does not get brighter as its EXIF exposures say "
            f"({rate:.2f} stop a stop); use photos straight from the phone, not edited ones, with exposure bias or "
            "manual exposure"
        )


def _check_outcome(after: float, seen: tuple[int, int]) -> None:
    if after > MOST_SPREAD:
        raise BadInput(
            f"these photos still disagree by {after:.2f} stops after the best fit: something moved, the light "
            "changed, or the phone stacked several exposures; support it, choose steady light, and switch its HDR off"
        )
    if seen[0] > LEAST_CODES[0] or seen[1] < LEAST_CODES[1]:
        raise BadInput(
            f"these photos show only codes {seen[0]} to {seen[1]} of 0 to 255; add darker or brighter frames, or "
            "choose a scene with both shadow and light"
        )


def _seen_codes(samples: Sequence[Samples]) -> tuple[int, int]:
    luma = np.concatenate([scatter.residuals(one, _srgb_tables())[1] for one in samples])
    low, high = np.percentile(luma, (1, 99))
    return round(low), round(high)


def _without_strays(samples: Sequence[Samples], solution: Solution) -> list[Samples]:
    return [
        Samples(one.codes, one.seen, one.stops + stray, one.names)
        for one, stray in zip(samples, solution.strays, strict=True)
    ]


def _frame_checks(samples: Sequence[Samples], solution: Solution) -> tuple[FrameCheck, ...]:
    checks = []
    for number, (one, strays) in enumerate(zip(samples, solution.strays, strict=True)):
        usual = float(np.median(strays))
        checks += [FrameCheck(number, name, float(s) - usual) for name, s in zip(one.names, strays, strict=True)]
    return tuple(checks)


def _response(solution: Solution, sigma: np.ndarray) -> Response:
    red, green, blue = (tuple(float(value) for value in 2.0**row) for row in solution.stops)
    return Response(red, green, blue, tuple(float(value) for value in sigma))


def _log_tables(response: Response) -> np.ndarray:
    """log2 of a response's tables; a code that stands for no light is taken as half of the next. (3, 256)"""
    linear = np.array([response.red, response.green, response.blue])
    linear[:, 0] = np.where(linear[:, 0] > 0, linear[:, 0], linear[:, 1] / 2)
    return np.log2(linear)


def _srgb_tables() -> np.ndarray:
    return np.broadcast_to(curve.base_stops(), (3, CODES))
