"""What a tone curve may look like before a photo has been seen: stops from sRGB decoding, as a smooth random function.

A curve is s(z), the stops by which code z stands for more light than sRGB decoding says, with s(118) = 0. It is carried
by its values at KNOTS, straight lines between them. Its prior is a Gaussian process on an axis on which tone curves are
about equally lively everywhere; near mid-tones it is narrow, towards both ends it opens to what real phones were seen
to do (the default sigma of meter/response.py). So codes that no photo shows fall back to an honest guess by themselves.
"""

from functools import cache
from itertools import pairwise
from math import log2

import numpy as np

from meter.response import CODES, MID_CODE, srgb_to_linear

KNOTS = (0, 4, 7, 11, 16, 22, 30, 40, 51, 63, 76, 90, 104, 118, 132, 146, 160, 175, 190, 205, 219, 231, 241, 249, 255)
WANDER_KNOTS = (0, 40, 118, 195, 255)  # of what changes from frame to frame: coarser
MID_KNOT = KNOTS.index(MID_CODE)

COMMON_SHAPE = ((1.0, 4.5), (0.12, 1.5))  # (sd [stops], length on the axis): a sweeping part, and a part of small waves
CHANNEL_SHAPE = ((0.08, 4.5),)  # how far the three channels stray from each other: cameras share one curve
SCENE_SHAPE = ((1.0, 4.5), (0.12, 1.5))  # how far scenes stray from each other, of unit size, channels together ...
SCENE_CHANNEL_SHAPE = ((0.1, 4.5),)  # ... and apart
WANDER_SHAPE = ((1.0, 4.5),)  # of unit size; scaled by what the frames show
LEAST_SLOPE = 0.12  # of a curve, as a share of sRGB's own: no tone curve is flatter than that over a knot's span

_TINY = 1e-6  # keeps covariances invertible [stops²]


def axis(code: np.ndarray) -> np.ndarray:
    """The axis of the prior: square root of the code, stretched towards white where shoulders bend. [unitless]"""
    code = np.asarray(code, float)
    return np.sqrt(code) - 0.8 * np.log2(1 - code / 262)


@cache
def base_stops() -> np.ndarray:
    """log2 of sRGB decoding by code; code 0 is taken as half of code 1. (256,) [stops]"""
    linear = [srgb_to_linear(max(code, 0.5) / 255) for code in range(CODES)]
    return np.array([log2(value) for value in linear])


@cache
def hats(knots: tuple[int, ...]) -> np.ndarray:
    """Straight-line interpolation from values at knots to all codes. (256, knots)"""
    codes = np.arange(CODES)
    return np.stack([np.interp(codes, knots, row) for row in np.eye(len(knots))], axis=1)


def weigh(basis: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """Rows of a (256, n) basis at codes that need not be whole. codes (m,) from 0 to 255 -> (m, n)."""
    below = np.minimum(codes.astype(np.intp), CODES - 2)
    part = (codes - below)[:, None]
    return basis[below] * (1 - part) + basis[below + 1] * part


def covariance(knots: tuple[int, ...], shape: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Prior covariance at knots of a sum of smooth parts, each (sd, length). (knots, knots) [stops²]"""
    u = axis(np.array(knots))
    apart = (u[:, None] - u[None, :]) ** 2
    return sum(sd**2 * np.exp(-apart / (2 * length**2)) for sd, length in shape) + _TINY * np.eye(len(knots))


def _pinned(cov: np.ndarray) -> np.ndarray:
    """The covariance given that the curve is 0 at code 118, without that knot."""
    others = np.delete(np.arange(len(cov)), MID_KNOT)
    cross = cov[others, MID_KNOT]
    return cov[np.ix_(others, others)] - np.outer(cross, cross) / cov[MID_KNOT, MID_KNOT] + _TINY * np.eye(len(others))


@cache
def prior_precision() -> np.ndarray:
    """Inverse prior covariance of the free knots of red, green and blue, one after the other. [1/stops²]"""
    return np.linalg.inv(_of_channels(COMMON_SHAPE, CHANNEL_SHAPE))


@cache
def scene_covariance() -> np.ndarray:
    """Covariance, of unit size, of what a scene's curves have of their own; knots as in `prior_precision`. [stops²]"""
    return _of_channels(SCENE_SHAPE, SCENE_CHANNEL_SHAPE)


def _of_channels(together: tuple, apart: tuple) -> np.ndarray:
    common = np.kron(np.ones((3, 3)), _pinned(covariance(KNOTS, together)))
    return common + np.kron(np.eye(3), _pinned(covariance(KNOTS, apart)))


@cache
def free_hats() -> np.ndarray:
    """`hats(KNOTS)` without the pinned knot. (256, knots - 1)"""
    return np.delete(hats(KNOTS), MID_KNOT, axis=1)


@cache
def least_steps() -> np.ndarray:
    """The least that s may gain from each knot to the next for the curve to keep rising. (knots - 1,) [stops]"""
    rises = np.diff(base_stops())
    steps = [rises[a:b].min() * (b - a) * (LEAST_SLOPE - 1) for a, b in pairwise(KNOTS)]
    return np.array(steps)
