"""Small simulated cameras whose light is known: enough to try a fit, made in milliseconds, no file written.

A scene is linear light, (rows, columns, 3), mean luminance about 1. A camera turns light times 2^stops into codes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.exposure_series import Frame

ROWS, COLUMNS = 120, 160
LUMA = np.array([0.2126, 0.7152, 0.0722])


def scene(seed: int, spread: float = 2.2, colour: float = 0.25) -> np.ndarray:
    """Light of an invented place: broad patches, shading, texture. spread: sd of patches [stops]."""
    rng = np.random.default_rng(seed)
    shape = (ROWS, COLUMNS)
    stops = np.zeros(shape)
    tint = np.zeros((*shape, 3))
    for _ in range(45):
        r, c = rng.integers(0, ROWS), rng.integers(0, COLUMNS)
        h, w = rng.integers(8, 60, 2)
        box = (slice(r, r + h), slice(c, c + w))
        stops[box] = rng.normal(0, spread)
        tint[box] = rng.normal(0, colour, 3)
    shade = cv2.resize(rng.normal(0, 1, (4, 5)), (COLUMNS, ROWS), interpolation=cv2.INTER_CUBIC)
    stops = stops + 0.8 * shade + 0.12 * rng.standard_normal(shape)
    light = 2.0 ** (stops[..., None] + tint)
    return light / np.exp(np.log(light @ LUMA).mean())


def encode(linear: np.ndarray) -> np.ndarray:
    """Linear 0 to 1 -> sRGB 0 to 1. Source: IEC 61966-2-1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055)


@dataclass(frozen=True)
class Camera:
    """curve: linear level (0.18 mid-tone) -> code 0 to 1. adapt: 0 for none, 1 for a phone that adapts a lot."""

    name: str
    curve: Callable[[np.ndarray], np.ndarray]
    adapt: float = 0.0
    saturation: float = 1.0
    noise: float = 0.6
    exposure_jitter: float = 0.0

    def codes(self, light: np.ndarray, stops: float, rng: np.random.Generator) -> np.ndarray:
        """uint8 codes of linear light exposed by 2^stops."""
        level = light * 0.12 * 2.0 ** (stops + self.exposure_jitter * rng.standard_normal())
        level = np.maximum(level + rng.normal(0, 0.01, level.shape) * np.sqrt(level * 0.05), 1e-6)
        luminance = (level @ LUMA)[..., None]
        level = np.maximum(luminance + self.saturation * (level - luminance), 1e-6)
        if self.adapt:
            level = _adapted(level, self.adapt)
        code = self.curve(level) * 255 + rng.normal(0, self.noise, level.shape)
        return np.clip(np.rint(code), 0, 255).astype(np.uint8)

    def response(self) -> np.ndarray:
        """Levels by code of the curve without adaptation, scaled as in meter/response.py. (256,)"""
        levels = 2.0 ** np.linspace(-16, 6, 40_000)
        table = np.interp(np.arange(256), self.curve(levels) * 255, levels)
        return table / table[118] * 0.18116


def _adapted(level: np.ndarray, amount: float) -> np.ndarray:
    """Lift a dark picture's shadows, hold a bright one's highlights, and flatten its large shapes."""
    log = np.log2(level @ LUMA)
    base = cv2.GaussianBlur(np.clip(log, -10, 1.5), (0, 0), 14)
    local = -0.18 * amount * (base - base.mean())
    key = np.clip(np.log2(0.18) - np.clip(log, -10, 2).mean(), -2.5, 2.5)
    shadows = 1 / (1 + 2.0 ** (log + 4.0))
    bright = 1 / (1 + 2.0 ** (-(log + 1.0)))
    tone = amount * (0.22 * key + 0.30 * max(key, 0) * shadows + 0.22 * min(key, 0) * bright)
    return level * 2.0 ** (local + tone)[..., None]


def srgb(level: np.ndarray) -> np.ndarray:
    """sRGB with a soft shoulder."""
    return encode(np.clip(np.where(level < 0.7, level, 0.7 + 0.3 * np.tanh((level - 0.7) / 0.3)), 0, 1))


def steep(level: np.ndarray) -> np.ndarray:
    """More contrast than sRGB: an S in log exposure."""
    x = (level / 0.18) ** 1.45
    return encode(np.clip(1.12 * x / (x + 5.2), 0, 1))


def lifted(level: np.ndarray) -> np.ndarray:
    """Shadows lifted by about a stop, rounded highlights."""
    x = level * (1 + 1.0 / (1 + (level / 0.035) ** 1.2))
    return encode(np.clip(1.15 * x / (x + 0.55) * 0.75, 0, 1))


def gamma(level: np.ndarray) -> np.ndarray:
    """A plain power, gain included."""
    return np.clip(1.1 * level, 0, 1) ** (1 / 2.6)


STILL = (
    Camera("srgb", srgb),
    Camera("steep", steep),
    Camera("lifted", lifted),
    Camera("gamma", gamma, noise=1.0),
    Camera("vivid", steep, saturation=1.25),
)
ADAPTIVE = (
    Camera("adaptive lifted", lifted, adapt=0.7, exposure_jitter=0.03),
    Camera("adaptive steep", steep, adapt=0.7, saturation=1.15, exposure_jitter=0.03),
)
THIRTEEN = tuple(k / 3 for k in range(-6, 7))


def series(light: np.ndarray, camera: Camera, stops: Sequence[float] = THIRTEEN, seed: int = 0) -> list[Frame]:
    """Frames of one scene."""
    rng = np.random.default_rng(seed)
    return [Frame(camera.codes(light, e, rng), e, name=f"{e:+.2f}", camera=camera.name) for e in stops]
