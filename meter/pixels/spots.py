"""Patches of a light map as plain numbers: discs of a stated angle, and the whole frame."""

from dataclasses import replace
from math import hypot, log, radians, sqrt, tan

import numpy as np

from meter.camera import FULL_FRAME_DIAGONAL_MM
from meter.errors import BadInput
from meter.patch import Patch
from meter.pixels.light_map import BLACK, BLOWN, LightMap

GRAIN = 4.0  # neighbouring pixels share their noise: this many count as one when a mean is taken (judgement)
CENTRE_SHARE = 0.2  # the centre weighting falls to 61 % at this share of the diagonal from the middle


def spot_radius(degrees: float, focal_35mm: float, size: tuple[int, int]) -> float:
    """Radius of a disc of this angular diameter in the middle of the frame, tan(d/2) times the focal length. [pixels]

    focal_35mm: by the diagonal. Off the axis the same disc covers a little less angle: cos² of the angle from the axis.
    """
    diagonal = hypot(*size)
    return max(0.5, tan(radians(degrees) / 2) * focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal)


def disc_patch(light: LightMap, x: float, y: float, radius: float) -> Patch:
    """The disc at fractions x, y of the upright picture; radius in pixels. Raises BadInput outside the picture."""
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise BadInput(
            f"spot {x:g},{y:g} lies outside the picture: x and y run from 0 (left, top) to 1 (right, bottom)"
        )
    if not radius > 0:
        raise BadInput("a spot needs a size above 0 degrees")
    width, height = light.size
    cx, cy = x * width - 0.5, y * height - 0.5
    left, right = _span(cx, radius, width)
    top, bottom = _span(cy, radius, height)
    dx = np.arange(left, right)[None, :] - cx
    dy = np.arange(top, bottom)[:, None] - cy
    inside = np.clip(radius + 0.5 - np.sqrt(dx * dx + dy * dy), 0, 1).astype(np.float32)  # rim pixels count in part
    if not inside.any():
        inside.ravel()[np.argmin(dx * dx + dy * dy)] = 1
    patch = _patch(light, np.s_[top:bottom, left:right], inside)
    r2 = ((2 * x - 1) ** 2 * width**2 + (2 * y - 1) ** 2 * height**2) / (width**2 + height**2)
    return replace(patch, sigma=hypot(patch.sigma, light.edge_sigma * r2))


def _span(centre: float, radius: float, end: int) -> tuple[int, int]:
    first = min(max(int(np.ceil(centre - radius - 0.5)), 0), end - 1)
    return first, max(min(int(np.floor(centre + radius + 0.5)) + 1, end), first + 1)


def frame_patch(light: LightMap) -> Patch:
    """The whole frame, every pixel alike."""
    return _patch(light, np.s_[:, :], np.ones(light.luminance.shape, np.float32))


def centre_patch(light: LightMap) -> Patch:
    """The whole frame, weighted by a Gaussian around its middle whose sigma is CENTRE_SHARE of the diagonal."""
    width, height = light.size
    sigma = CENTRE_SHARE * hypot(width, height)
    dx = (np.arange(width, dtype=np.float32) - (width - 1) / 2) / sigma
    dy = (np.arange(height, dtype=np.float32) - (height - 1) / 2) / sigma
    return _patch(light, np.s_[:, :], np.exp(-(dx[None, :] ** 2 + dy[:, None] ** 2) / 2))


def _patch(light: LightMap, window: tuple[slice, slice], weights: np.ndarray) -> Patch:
    luminance = light.luminance[window]
    extremes = light.extremes[window]
    total = float(weights.sum())
    bright = luminance * weights
    mean = float(bright.sum()) / total
    spread = sqrt(max(float((bright * luminance).sum()) / total - mean * mean, 0.0))
    sigma = light.sigma_by_code[light.luma[window]]
    return Patch(
        luminance=mean,
        sigma=float((bright * sigma).sum()) / (mean * total) if mean > 0 else float(light.sigma_by_code[0]),
        noise=spread / mean / log(2) / sqrt(max(total / GRAIN, 1.0)) if mean > 0 else 0.0,
        blown=float(bright[extremes == BLOWN].sum()) / (mean * total) if mean > 0 else 0.0,
        black=float(weights[extremes == BLACK].sum()) / total,
    )
