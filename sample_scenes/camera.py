"""Simulated cameras: from a scene's true luminance to the JPEG that a phone would have written.

The order is a phone's own: glare and fall-off in the lens, the meter, the sensor with its noise and its clipping,
fall-off correction, white balance and colour matrix, tone, sharpening, JPEG with EXIF. Every number is the card's
(`cards/`), and the same truth, card and seed make the same file.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite
from zlib import crc32

import cv2
import numpy as np

from meter.errors import BadInput
from sample_scenes import autoexposure, jpeg_file, optics, sensor, tone, white_balance
from sample_scenes.autoexposure import Setting
from sample_scenes.card import Card, card, cards

__all__ = ["Card", "Shot", "bracket", "card", "cards", "photograph"]

DAY = "2024:05:18"  # the day on which all simulated photographs were taken
SECONDS_IN_DAY = 86_400


@dataclass(frozen=True)
class Shot:
    """A simulated photograph. f_number, time_s, iso and bias are as EXIF states them; the rest is what really was."""

    jpeg: bytes
    f_number: float
    time_s: float  # [s]
    iso: int
    bias: float  # [stops]
    real_f_number: float
    real_time_s: float  # [s]
    real_iso: float

    @property
    def level_per_luminance(self) -> float:
        """The linear level, 0.18 being ISO 12232's mid-tone, that 1 cd/m² really got in the centre. [1/(cd/m²)]"""
        return sensor.level_per_luminance(self.real_f_number, self.real_time_s, self.real_iso)


def photograph(
    truth_rgb: np.ndarray,
    card: Card,
    *,
    bias: float = 0.0,
    seed: int = 0,
    size: tuple[int, int] | None = None,
    exposure: tuple[float, float] | None = None,
) -> Shot:
    """Photograph a scene.

    truth_rgb: linear, sRGB primaries, scaled so that the luminance is in cd/m²; float, (rows, columns, 3), upright.
    bias: exposure bias; plus is more exposure. [stops]
    size: width and height of the file's upright picture; the truth's own without it. [pixels]
    exposure: stated time and ISO that override the camera's own choice (it makes the nearest that it can); bias is then
    only written down. [s, ISO]
    seed: of the noise, from 0; it also sets the second in the EXIF date.
    Raises BadInput for a truth that is no such array, or an option out of range.
    """
    if not (isfinite(bias) and abs(bias) <= 10):
        raise BadInput(f"bias must be within 10 stops of 0; got {bias}")
    if seed < 0:
        raise BadInput(f"a seed is a whole number from 0; got {seed}")
    light = _checked(truth_rgb, size)
    lens = card.lens
    light = optics.veil(light, lens.glare_wide, lens.glare_local, lens.glare_local_width)
    metered = autoexposure.meter(light @ white_balance.LUMINANCE, card)
    setting = _setting(metered.gain * 2.0**bias, exposure, card)
    codes = _develop(light, card, setting, _rng(card, seed))
    brightness = autoexposure.brightness_value(metered, card.exposure)
    jpeg = jpeg_file.encode(codes, card, setting, bias, brightness, _taken(seed))
    stated = (lens.stated_f_number, setting.stated_time_s, setting.stated_iso, bias)
    return Shot(jpeg, *stated, lens.f_number, setting.time_s, setting.iso)


def bracket(
    truth_rgb: np.ndarray, card: Card, biases: Iterable[float], seed: int = 0, size: tuple[int, int] | None = None
) -> tuple[Shot, ...]:
    """One photograph a bias, with the same metering and noise of its own each. Arguments as in `photograph`."""
    return tuple(
        photograph(truth_rgb, card, bias=bias, seed=seed + frame, size=size) for frame, bias in enumerate(biases)
    )


def _checked(truth_rgb: np.ndarray, size: tuple[int, int] | None) -> np.ndarray:
    light = np.asarray(truth_rgb, dtype=np.float32)
    if light.ndim != 3 or light.shape[2] != 3 or 0 in light.shape:
        raise BadInput(f"a truth has the shape (rows, columns, 3); got {light.shape}")
    if not np.isfinite(light).all() or light.min() < 0:
        raise BadInput("a truth holds luminance: every value must be finite and not below 0")
    if size is None or size == (light.shape[1], light.shape[0]):
        return light
    if min(size) < 1:
        raise BadInput(f"size is a width and a height of 1 pixel or more; got {size[0]} x {size[1]}")
    shrink = size[0] < light.shape[1]
    return cv2.resize(light, size, interpolation=cv2.INTER_AREA if shrink else cv2.INTER_LINEAR)


def _setting(gain: float, exposure: tuple[float, float] | None, card: Card) -> Setting:
    if exposure is None:
        return autoexposure.choose(gain, card)
    time_s, iso = exposure
    if not (isfinite(time_s) and 1e-6 <= time_s <= 3600 and isfinite(iso) and 1 <= iso <= 65535):
        raise BadInput(f"exposure is a time from 1e-6 to 3600 s and an ISO from 1 to 65535; got {time_s} and {iso}")
    return autoexposure.state(time_s, iso, card)


def _develop(light: np.ndarray, card: Card, setting: Setting, rng: np.random.Generator) -> np.ndarray:
    """Light in the lens to code values, uint8."""
    jitter = 2.0 ** (card.sensor.time_jitter * rng.standard_normal())
    gain = sensor.level_per_luminance(card.lens.f_number, setting.time_s, setting.iso) * jitter
    falloff = optics.cos4(light.shape[:2], card.lens.focal_35mm)[..., None]
    raw = sensor.expose(light * (falloff * np.float32(gain)), card.sensor, setting.iso, rng)
    raw *= falloff**-card.lens.falloff_corrected
    return tone.develop(white_balance.render(raw, card.sensor, card.colour), card.tone, card.sensor.headroom)


def _rng(card: Card, seed: int) -> np.random.Generator:
    """Noise that differs from camera to camera and seed to seed, and is the same on every machine."""
    return np.random.default_rng([crc32(card.name.encode()), seed])


def _taken(seed: int) -> str:
    """EXIF date of a photograph: one second a seed, from ten in the morning."""
    second = (36_000 + seed) % SECONDS_IN_DAY
    return f"{DAY} {second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
