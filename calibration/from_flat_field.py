"""Fall-off of a phone camera, from frames of an evenly lit surface through a diffuser.

log2 of a flat frame is modelled as
    level of the frame + light's gradient along x and y + k2 r^2 + k4 r^4 + k6 r^6 about the optical centre,
fitted to block medians (dust and hairs are narrower than half a block) with a soft L1 loss (what is wider counts less).

A gradient of the light and a shifted optical centre look nearly the same in one frame: k2 (x - c)^2 has a term linear
in x. Two things part them [1]:
  - frames taken after turning the phone by 180 degrees about the lens axis: in the picture the light's gradient changes
    its sign, the fall-off does not. All frames must then show the same surface in the same light.
  - without turned frames, each has its own gradient and the centre is taken to be within 2 % of the half-diagonal of
    the frame's middle (assumed); what that costs is in sigma_stops, by the covariance of the fit.
No frame can tell a diffuser that is brighter in the middle from fall-off: DIFFUSER_STOPS stands for it (assumed).

[1] Own derivation, checked on synthetic frames (tests/calibration/test_from_flat_field.py). The even polynomial is the
usual model of vignetting in published camera calibrations (common practice).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from meter.errors import BadInput
from meter.falloff import Falloff

BLOCKS_ALONG = 48  # of the longer side
SMALLEST_SIDE = 96
CLIPPED_FROM = 0.98  # of full scale
CLIPPED_SHARE = 0.002
DARKEST = 0.02  # median of full scale: below, black level and rounding of 8 bits bend the logarithm
CENTER_SIGMA = 0.02  # half-diagonals
LARGEST_GRADIENT = 1.5  # stops from edge to edge
LARGEST_ROUGHNESS = 0.08  # stops, robust standard deviation of the residual
LARGEST_ODD_SHARE = 0.10  # of blocks that lie ODD_STOPS from the fit
ODD_STOPS = 0.15
LARGEST_RISE = 0.5  # stops that a corner may be brighter than the centre
SOFT_STOPS = 0.03  # residuals beyond this count less
BLOCK_SIGMA = 0.01  # what a block median is good to, at least [stops]
DIFFUSER_STOPS = 0.04  # a diffuser that is even to 0.1 stop in the corners (assumed; 0.03 rms, corners weigh more)
_HOW_TO = "tape white paper or opal plastic flat over the lens, point it at an evenly lit wall or sky away from the sun"


@dataclass(frozen=True)
class FlatField:
    """A fitted fall-off and how well it fits.

    falloff: what a profile keeps.
    residual_stops: robust standard deviation of the blocks about the fit, over all frames. [stops]
    gradient_stops: largest gradient of the light that was taken out, from edge to edge of the longer side. [stops]
    turned: whether frames turned by 180 degrees helped to find the optical centre.
    """

    falloff: Falloff
    residual_stops: float
    gradient_stops: float
    turned: bool


def from_flat_frames(
    frames: Sequence[np.ndarray], turned: Sequence[bool] | None = None, names: Sequence[str] | None = None
) -> FlatField:
    """Fit the fall-off of one camera and lens.

    frames: arrays (H, W), float32, relative linear luminance of the stored picture, 1 = full scale; one or more of one
        size, at least 96 pixels a side.
    turned: for each frame, whether the phone had been turned by 180 degrees; None: no frame was.
    names: what messages call the frames.
    Raises BadInput for frames that differ in size or are not flat: clipped, dark, structured, lit from one side.
    """
    names = list(names or (f"frame {i}" for i in range(1, len(frames) + 1)))
    turned = list(turned if turned is not None else (False for _ in frames))
    _check_frames(frames, turned, names)
    blocks = np.stack([_blocks(frame, name) for frame, name in zip(frames, names, strict=True)])
    model = _Model(blocks.shape, frames[0].shape, np.array(turned))
    fit = model.fit(blocks)
    _check_flat(model, fit, blocks, names)
    return model.result(fit, blocks)


def _check_frames(frames: Sequence[np.ndarray], turned: Sequence[bool], names: Sequence[str]) -> None:
    if not len(frames):
        raise BadInput(f"no frame of an even surface was given: {_HOW_TO}, and take three or more")
    if len(turned) != len(frames) or len(names) != len(frames):
        raise BadInput(f"{len(frames)} frames need as many names and turns; got {len(names)} and {len(turned)}")
    for frame, name in zip(frames, names, strict=True):
        if frame.ndim != 2 or min(frame.shape) < SMALLEST_SIDE:
            raise BadInput(f"{name} is {frame.shape}; luminance of at least {SMALLEST_SIDE} pixels a side is needed")
        if frame.shape != frames[0].shape:
            raise BadInput(
                f"{name} has {frame.shape[1]} x {frame.shape[0]} pixels and {names[0]} {frames[0].shape[1]} x "
                f"{frames[0].shape[0]}: give frames of one camera, lens and orientation"
            )


def _blocks(frame: np.ndarray, name: str) -> np.ndarray:
    """log2 of block medians, (rows, columns), after refusing what cannot be logged."""
    if not np.isfinite(frame).all() or frame.min() < 0:
        raise BadInput(f"{name} holds pixels that are negative or not numbers; decode it again")
    if np.mean(frame >= CLIPPED_FROM) > CLIPPED_SHARE:
        raise BadInput(f"{name} is clipped in places: take it again with 1 to 2 stops less exposure")
    if np.median(frame) < DARKEST:
        raise BadInput(f"{name} is too dark: take it again with more exposure, so that it looks light grey")
    side = max(frame.shape) // BLOCKS_ALONG
    rows, columns = frame.shape[0] // side, frame.shape[1] // side
    top, left = (frame.shape[0] - rows * side) // 2, (frame.shape[1] - columns * side) // 2
    cut = frame[top : top + rows * side, left : left + columns * side]
    tiles = cut.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows, columns, -1)
    return np.log2(np.maximum(np.median(tiles, axis=2), 1e-4))


class _Model:
    """Parameters: centre x, y in half-diagonals from the middle; k2, k4, k6; a level a frame; gradients x, y."""

    def __init__(self, shape: tuple[int, int, int], pixels: tuple[int, int], turned: np.ndarray):
        self.frames, rows, columns = shape
        side = max(pixels) // BLOCKS_ALONG
        half_diagonal = 0.5 * np.hypot(*pixels)
        self.reach = 0.5 * np.array([pixels[1], pixels[0]]) / half_diagonal
        x = (np.arange(columns) - (columns - 1) / 2) * side / half_diagonal
        y = (np.arange(rows) - (rows - 1) / 2) * side / half_diagonal
        self.x, self.y = (grid.ravel() for grid in np.meshgrid(x, y))
        self.shared = bool(turned.any() and not turned.all())
        self.signs = np.where(turned, -1.0, 1.0)
        self.gradients = 1 if self.shared else self.frames

    def fit(self, blocks: np.ndarray):
        data = blocks.reshape(self.frames, -1)
        start = np.concatenate([np.zeros(5), np.median(data, axis=1), np.zeros(2 * self.gradients)])
        prior = 1.0 if self.shared else CENTER_SIGMA

        def misfit(parameters: np.ndarray) -> np.ndarray:
            apart = (self.predict(parameters) - data).ravel()
            soft = np.sign(apart) * np.sqrt(2 * (np.sqrt(1 + np.square(apart / SOFT_STOPS)) - 1)) * SOFT_STOPS
            # Blocks are not independent (diffuser texture, tone curve): a tenth of them count.
            return np.concatenate([soft / BLOCK_SIGMA * 0.1**0.5, parameters[:2] / prior])

        return least_squares(misfit, start, x_scale="jac", max_nfev=200)

    def predict(self, parameters: np.ndarray) -> np.ndarray:
        return self.falloff(parameters) + self.light(parameters)

    def falloff(self, parameters: np.ndarray) -> np.ndarray:
        cx, cy, k2, k4, k6 = parameters[:5]
        r2 = np.square(self.x - cx) + np.square(self.y - cy)
        return r2 * (k2 + r2 * (k4 + r2 * k6))

    def light(self, parameters: np.ndarray) -> np.ndarray:
        levels = parameters[5 : 5 + self.frames, None]
        gx, gy = self.slopes(parameters)
        return levels + gx[:, None] * self.x + gy[:, None] * self.y

    def slopes(self, parameters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        gx, gy = parameters[5 + self.frames :].reshape(2, -1)
        return (self.signs * gx, self.signs * gy) if self.shared else (gx, gy)

    def gradient_stops(self, parameters: np.ndarray) -> float:
        gx, gy = self.slopes(parameters)
        return float(2 * np.max(np.hypot(gx * self.reach[0], gy * self.reach[1])))

    def uncertainty(self, fit, residual: float) -> float:
        """Rms over the frame of the fitted fall-off's standard uncertainty. [stops]"""
        covariance = np.linalg.pinv(fit.jac.T @ fit.jac) * max(residual / BLOCK_SIGMA, 1) ** 2
        step = 1e-4
        slope = np.stack(
            [
                (self.falloff(fit.x + step * unit) - self.falloff(fit.x - step * unit)) / 2 / step
                for unit in np.eye(5, len(fit.x))
            ]
        )
        return float(np.sqrt(np.mean(np.einsum("ip,ij,jp->p", slope, covariance[:5, :5], slope))))

    def result(self, fit, blocks: np.ndarray) -> FlatField:
        residual = _robust_sigma(self.predict(fit.x) - blocks.reshape(self.frames, -1))
        center = 0.5 + 0.5 * fit.x[:2] / self.reach
        sigma = float(np.sqrt(residual**2 + self.uncertainty(fit, residual) ** 2 + DIFFUSER_STOPS**2))
        falloff = Falloff(*(float(c) for c in center), *(float(k) for k in fit.x[2:5]), sigma)
        return FlatField(falloff, residual, self.gradient_stops(fit.x), self.shared)


def _robust_sigma(residual: np.ndarray) -> float:
    return float(1.4826 * np.median(np.abs(residual - np.median(residual))))


def _check_flat(model: _Model, fit, blocks: np.ndarray, names: Sequence[str]) -> None:
    residual = blocks.reshape(model.frames, -1) - model.predict(fit.x)
    for apart, name in zip(residual, names, strict=True):
        odd = float(np.mean(np.abs(apart) > ODD_STOPS))
        if _robust_sigma(apart) > LARGEST_ROUGHNESS or odd > LARGEST_ODD_SHARE:
            raise BadInput(
                f"{name} is not an even surface ({odd:.0%} of it is over {ODD_STOPS} stop off a smooth fall-off): "
                f"{_HOW_TO}, and leave this frame out if the others are good"
            )
    if (gradient := model.gradient_stops(fit.x)) > LARGEST_GRADIENT:
        raise BadInput(f"the light falls off by {gradient:.1f} stops from one side to the other: {_HOW_TO}")
    if (rise := float(model.falloff(fit.x).max())) > LARGEST_RISE or np.abs(fit.x[:2]).max() > 0.5:
        raise BadInput(
            f"the edges come out {rise:.1f} stops brighter than the middle, so a shadow lies there: {_HOW_TO}"
        )
