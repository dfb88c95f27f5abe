"""The fit of a response to exposure series whose light is unknown.

A well-exposed sample i of frame j in one channel says: base(z) + s(z) + t_j(z) = E_i + e_j + d_j + noise, in stops.
s is the curve that is wanted, E_i the unknown light, e_j the exposure by EXIF, d_j what the frame strays from that, and
t_j how this frame's tone curve strays from the camera's usual one (phones adapt it to the picture). All are found
together: s has the prior of tone_curve.py, d and t are random with mean 0, the size of t is estimated from the frames.
With several scenes each also has curves a little of its own. So a phone that adapts is averaged over scenes and frames
rather than over pixels, which is what carries over to the next scene.

After Debevec & Malik 1997 (unknown light, smooth log response), made robust by reweighting with Student's t. Noise is
taken where it arises, in the code: rows are evaluated at the code that the fit expects (Gauss-Newton), because rows
at observed codes put the same noise on both sides of the equation, and the curve flattens.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import lsq_linear
from threadpoolctl import threadpool_limits

from calibration import tone_curve as curve
from calibration.exposure_series import Samples
from meter.response import CODES, MID_CODE

EXIF_ROUNDS = 2  # first the frames are believed: exposures as EXIF says, one tone curve
STILL_ROUNDS = 2  # then exposures may stray, and tone curves wander
FREE_ROUNDS = 4  # then a frame may also stray far
CODE_NOISE = 0.6  # of a cell's code: rounding, compression, noise [codes]
STOP_NOISE = 0.03  # of a cell's light beside that [stops]
TAIL = 4.0  # degrees of freedom of Student's t: the fewer, the less an outlier counts
EXPOSURE_SIGMA = 0.05  # of a frame against its EXIF [stops]
BALANCE_SIGMA = 0.02  # of its channels against each other [stops]
EXPOSURE_TAIL = 2.0  # a frame whose EXIF is plainly wrong may go its own way
COLOUR_HALF = 0.35  # saturation (max - min) / max at which a sample counts half: colour rendering mixes channels
INDEPENDENT = 600.0  # samples that a scene is worth at most: neighbours share their errors
FIRST_WANDER = 0.08  # of t before the frames have spoken [stops]
LEAST_WANDER = 0.004
FIRST_APART = 0.05  # of a scene's own curves against the common ones [stops]
LEAST_APART = 0.01
MOST_OF_ITS_OWN = 0.5  # of either: beyond it, it would not be one camera [stops]

_FREE = len(curve.KNOTS) - 1
_CURVES = 3 * _FREE
_WANDER = len(curve.WANDER_KNOTS)
_NO_TREND = 1e6  # against strays and wander with a trend or a mean [1/stops²]
_COMMON = np.array([12 <= code <= 235 for code in curve.KNOTS if code != MID_CODE])  # free knots that most photos show
_HELD = 1e9  # a precision that allows nothing [1/stops²]


@dataclass(frozen=True)
class Solution:
    """One fit.

    stops: log2 of the response by channel and code, 118 of each at base_stops()[118]. (3, 256) [stops]
    cov: posterior covariance of the free knots of the three channels. [stops²]
    strays: by scene, each frame's exposure against its EXIF, mean of the channels. [stops]
    wander: size of what changes in the tone curve from frame to frame. [stops]
    apart: how far each scene's own curves are from the common ones. (scenes, 3, 256) [stops]
    """

    stops: np.ndarray
    cov: np.ndarray
    strays: tuple[np.ndarray, ...]
    wander: float
    apart: np.ndarray


@dataclass
class _SceneState:
    """A scene's samples by channel, and what the fit believes of them at the moment.

    observed: codes. expected: the code at which the current fit puts each, which carries no noise. trust: 0 where
    unseen, less than 1 where colourful. gap: f(observed) - light - exposure [stops]. All (3, frames, samples).
    stray (frames, 3) and tone (frames, wander knots): d and t. knots: free knots of this scene's own curves. [stops]
    """

    knots: np.ndarray
    exposure: np.ndarray
    observed: np.ndarray
    trust: np.ndarray
    stray: np.ndarray
    tone: np.ndarray
    expected: np.ndarray
    gap: np.ndarray
    weight: np.ndarray


def solve(scenes: Sequence[Samples]) -> Solution:
    """Fit one response to the samples of one or more scenes."""
    with threadpool_limits(1):  # matrices this small only get slower from threads, on a busy machine twenty times
        return _solve(scenes)


def _solve(scenes: Sequence[Samples]) -> Solution:
    states = [_begin(samples) for samples in scenes]
    prior, unit = curve.prior_precision(), curve.scene_covariance()
    wander, apart = FIRST_WANDER, FIRST_APART
    for turn in range(EXIF_ROUNDS + STILL_ROUNDS + FREE_ROUNDS):
        believed, far = turn < EXIF_ROUNDS, turn >= EXIF_ROUNDS + STILL_ROUNDS
        systems = [_System(state, _own_precision(state, wander, believed, far)) for state in states]
        leaves = [_Leave(system, apart**2 * unit if len(scenes) > 1 else None) for system in systems]
        precision = prior + sum(leave.precision for leave in leaves)
        knots = _rising(precision, sum(leave.pull for leave in leaves))
        tones = []
        for state, system, leave in zip(states, systems, leaves, strict=True):
            state.knots = knots + leave.taken(knots)
            tones.append(system.finish(np.linalg.inv(prior + system.precision)))
            _expect(state)
        wander = FIRST_WANDER if believed else _wander(tones)
        alone = [np.linalg.solve(prior + one.precision, one.pull - one.precision @ knots) for one in systems]
        apart = _apart(alone, unit)
    strays = tuple(state.stray.mean(axis=1) for state in states)
    own = np.stack([tables(state.knots) for state in states])
    return Solution(tables(knots), np.linalg.inv(precision), strays, wander, own - tables(knots))


def tables(knots: np.ndarray) -> np.ndarray:
    """log2 response of the three channels from the free knots. (3, 256) [stops]"""
    return curve.base_stops() + knots.reshape(3, _FREE) @ curve.free_hats().T


def _begin(samples: Samples) -> _SceneState:
    """The state before the first round: the curve is sRGB's, every code taken at its word."""
    observed = np.moveaxis(samples.codes, 2, 0).astype(float)
    frames = len(samples.stops)
    top = samples.codes.max(axis=2)
    colour = (top - samples.codes.min(axis=2)) / np.maximum(top, 1)
    seen = np.moveaxis(samples.seen, 2, 0)
    enough = seen.sum(axis=1, keepdims=True) >= 2
    share = min(1.0, INDEPENDENT / observed.shape[2])
    trust = seen * enough * share / (1 + (colour / COLOUR_HALF) ** 2)
    empty = np.zeros_like(observed)
    stray, tone = np.zeros((frames, 3)), np.zeros((frames, _WANDER))
    state = _SceneState(np.zeros(_CURVES), samples.stops, observed, trust, stray, tone, empty, empty, trust)
    _expect(state)
    state.expected = observed
    return state


class _System:
    """A scene's normal equations: light, strays and wander eliminated, the curves left."""

    def __init__(self, state: _SceneState, own_precision: np.ndarray):
        self.state = state
        frames = state.exposure.size
        own = frames * (3 + _WANDER)
        matrix, right = np.zeros((_CURVES + own,) * 2), np.zeros(_CURVES + own)
        now = np.concatenate([state.knots, state.stray.ravel(), state.tone.ravel()])
        for channel in range(3):
            where = _columns(channel, frames)
            part, pull = _channel_equations(state, channel, now[where])
            matrix[np.ix_(where, where)] += part
            right[where] += pull
        matrix[_CURVES:, _CURVES:] += own_precision
        self.own = cho_factor(matrix[_CURVES:, _CURVES:])
        self.cross, self.right = matrix[_CURVES:, :_CURVES], right[_CURVES:]
        self.bridge = cho_solve(self.own, self.cross)
        self.precision = matrix[:_CURVES, :_CURVES] - self.cross.T @ self.bridge
        self.pull = right[:_CURVES] - self.bridge.T @ self.right

    def finish(self, cov: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Set the scene's strays and wander for its curves, of this covariance; return wander and its covariances."""
        frames = self.state.exposure.size
        own = cho_solve(self.own, self.right - self.cross @ self.state.knots)
        self.state.stray = own[: 3 * frames].reshape(frames, 3)
        self.state.tone = own[3 * frames :].reshape(frames, _WANDER)
        spread = cho_solve(self.own, np.eye(own.size)) + self.bridge @ cov @ self.bridge.T
        starts = 3 * frames + _WANDER * np.arange(frames)
        return self.state.tone, np.stack([spread[a : a + _WANDER, a : a + _WANDER] for a in starts])


class _Leave:
    """A scene's say in the common curves once it may have curves of its own, apart from them with this covariance."""

    def __init__(self, system: _System, cov: np.ndarray | None):
        self.system = system
        self.precision, self.pull = system.precision, system.pull
        self.share = None
        if cov is not None:
            self.share = np.linalg.inv(system.precision + np.linalg.inv(cov))
            self.precision = system.precision - system.precision @ self.share @ system.precision
            self.pull = system.pull - system.precision @ self.share @ system.pull

    def taken(self, knots: np.ndarray) -> np.ndarray:
        """How far this scene's curves go from the common ones. Free knots [stops]"""
        if self.share is None:
            return np.zeros(_CURVES)
        return self.share @ (self.system.pull - self.system.precision @ knots)


def _columns(channel: int, frames: int) -> np.ndarray:
    """Where a channel's unknowns stand: its curve, its strays, the wander that all channels share."""
    curves = channel * _FREE + np.arange(_FREE)
    strays = _CURVES + 3 * np.arange(frames) + channel
    wander = _CURVES + 3 * frames + np.arange(frames * _WANDER)
    return np.concatenate([curves, strays, wander])


def _channel_equations(state: _SceneState, channel: int, now: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Normal equations of one channel, each sample's light taken out, linear around the unknowns `now`."""
    expected, weight = state.expected[channel], state.weight[channel]
    frames, samples = expected.shape
    total, right = np.zeros((samples, now.size)), np.zeros(now.size)
    matrix = np.zeros((now.size,) * 2)
    gap_sum = np.zeros(samples)
    for frame in range(frames):
        w = weight[frame]
        spline = curve.weigh(curve.free_hats(), expected[frame])
        wiggle = curve.weigh(curve.hats(curve.WANDER_KNOTS), expected[frame])
        rows = np.concatenate([spline, np.full((samples, 1), -1.0), wiggle], axis=1)
        start = _FREE + frames + frame * _WANDER
        where = np.concatenate([np.arange(_FREE), [_FREE + frame], np.arange(start, start + _WANDER)])
        weighted = rows * w[:, None]
        goal = rows @ now[where] - state.gap[channel, frame]
        matrix[np.ix_(where, where)] += rows.T @ weighted
        right[where] += weighted.T @ goal
        total[:, where] += weighted
        gap_sum += w * goal
    scaled = total / np.maximum(weight.sum(axis=0), 1e-30)[:, None]
    return matrix - total.T @ scaled, right - scaled.T @ gap_sum


def _own_precision(state: _SceneState, wander: float, believed: bool, far: bool) -> np.ndarray:
    """Prior precision of a scene's strays and wander.

    believed: hold both at 0. far: let a frame that is plainly off its EXIF go where it wants.
    Neither may follow the exposure itself from frame to frame: a flatter curve with exposures that lie closer together
    explains the photos as well, and EXIF alone says which is right. Nor may they have a mean over a scene: what a scene
    has in common belongs to the curve, and where scenes differ in it, to sigma.
    """
    frames = state.exposure.size
    if believed:
        return _HELD * np.eye(frames * (3 + _WANDER))
    tails = 1 + (state.stray.mean(axis=1) / EXPOSURE_SIGMA) ** 2 / EXPOSURE_TAIL if far else np.ones(frames)
    wiggle = np.linalg.inv(curve.covariance(curve.WANDER_KNOTS, curve.WANDER_SHAPE)) / wander**2
    matrix = np.zeros((frames * (3 + _WANDER),) * 2)
    for frame in range(frames):
        cov = EXPOSURE_SIGMA**2 * tails[frame] + BALANCE_SIGMA**2 * np.eye(3)
        a, b = 3 * frame, 3 * frames + _WANDER * frame
        matrix[a : a + 3, a : a + 3] = np.linalg.inv(cov)
        matrix[b : b + _WANDER, b : b + _WANDER] = wiggle
    trend = state.exposure / tails / np.linalg.norm(state.exposure / tails)
    mean = 1 / tails / np.linalg.norm(1 / tails)
    held = _NO_TREND * (np.outer(trend, trend) + np.outer(mean, mean))
    matrix[: 3 * frames, : 3 * frames] += np.kron(held, np.eye(3))
    matrix[3 * frames :, 3 * frames :] += np.kron(held, np.eye(_WANDER))
    return matrix


def _rising(precision: np.ndarray, pull: np.ndarray) -> np.ndarray:
    """The most likely free knots among those whose curves rise everywhere."""
    knots = np.linalg.solve(precision, pull)
    to_steps, from_steps = _step_maps()
    least = np.tile(curve.least_steps(), 3)
    if (to_steps @ knots >= least).all():
        return knots
    root = np.linalg.cholesky(precision).T
    found = lsq_linear(root @ from_steps, root @ knots, (least, np.inf), method="bvls")
    return from_steps @ found.x


def _step_maps() -> tuple[np.ndarray, np.ndarray]:
    """Free knots -> steps from knot to knot, and back, for three channels."""
    pinned = np.insert(np.eye(_FREE), curve.MID_KNOT, 0.0, axis=0)
    to_steps = np.diff(pinned, axis=0)
    return np.kron(np.eye(3), to_steps), np.kron(np.eye(3), np.linalg.inv(to_steps))


def _wander(parts: list[tuple[np.ndarray, np.ndarray]]) -> float:
    """Size of the wander that makes what was found most likely (one step of expectation and maximisation). [stops]"""
    unit = np.linalg.inv(curve.covariance(curve.WANDER_KNOTS, curve.WANDER_SHAPE))
    power = sum(np.einsum("fi,ij,fj->", tone, unit, tone) + np.einsum("ij,fji->", unit, cov) for tone, cov in parts)
    free = sum((len(tone) - 2) * _WANDER for tone, _ in parts)  # the mean and the trend are held
    return float(np.clip(np.sqrt(power / free), LEAST_WANDER, MOST_OF_ITS_OWN))


def _apart(alone: list[np.ndarray], unit: np.ndarray) -> float:
    """Size of what scenes have of their own: rms of where each alone would go, at codes most photos show. [stops]"""
    grey = np.mean([one.reshape(3, _FREE).mean(axis=0)[_COMMON] ** 2 for one in alone], axis=0)
    size = np.sqrt(np.mean(grey / np.diag(unit)[:_FREE][_COMMON]) * len(alone) / max(len(alone) - 1, 1))
    return float(np.clip(size, LEAST_APART, MOST_OF_ITS_OWN))


def _expect(state: _SceneState) -> None:
    """Where the scene's curves put each sample, how far off it is, and what it therefore weighs."""
    stops, codes = tables(state.knots), np.arange(CODES)
    wiggle = state.tone @ curve.hats(curve.WANDER_KNOTS).T
    fitted, expected, slope = (np.empty_like(state.observed) for _ in range(3))
    for channel, frame in np.ndindex(fitted.shape[:2]):
        curve_here = stops[channel] + wiggle[frame] - state.stray[frame, channel] - state.exposure[frame]
        fitted[channel, frame] = np.interp(state.observed[channel, frame], codes, curve_here)
    sums = np.maximum(state.weight.sum(axis=1, keepdims=True), 1e-30)
    light = (state.weight * fitted).sum(axis=1, keepdims=True) / sums
    for channel, frame in np.ndindex(fitted.shape[:2]):
        curve_here = stops[channel] + wiggle[frame] - state.stray[frame, channel] - state.exposure[frame]
        rising = np.maximum.accumulate(curve_here)
        expected[channel, frame] = np.interp(light[channel, 0], rising, codes)
        slope[channel, frame] = np.interp(expected[channel, frame], codes, np.gradient(stops[channel]))
    noise = np.sqrt((slope * CODE_NOISE) ** 2 + STOP_NOISE**2)
    state.gap, state.expected = fitted - light, expected
    odd = state.gap / noise
    scale = max(float(np.median(np.abs(odd[state.trust > 0])) / 0.6745), 0.1)
    state.weight = state.trust * (TAIL + 1) / (TAIL + (odd / scale) ** 2) / (noise * scale) ** 2


def without(samples: Samples, frame: int) -> Samples:
    """The samples with one frame left out."""
    keep = np.arange(len(samples.stops)) != frame
    names = tuple(name for name, kept in zip(samples.names, keep, strict=True) if kept)
    return replace(samples, codes=samples.codes[keep], seen=samples.seen[keep], stops=samples.stops[keep], names=names)
