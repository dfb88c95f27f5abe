"""How far simulated cameras stray from a plain sRGB decode: figures to hold against what real phones did.

Run `python -m tests.sample_scenes.spread` for the table.
"""

from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
from PIL import Image, ImageOps

from sample_scenes.camera import Card, Shot, bracket, card, cards
from sample_scenes.sensor import level_per_luminance
from sample_scenes.tone import srgb_decode
from sample_scenes.white_balance import LUMINANCE

SRGB_LEVELS = srgb_decode(np.arange(256) / 255)
BINS = ((12, 30), (30, 60), (60, 100), (100, 150), (150, 180), (180, 240))  # code values
BIASES = (-2.0, -1.0, 0.0, 1.0, 2.0)  # [stops]
SHAPE = (120, 160)


def scenes() -> dict[str, np.ndarray]:
    """Synthetic truths [cd/m²], float32 (*SHAPE, 3): textured, 6 to 12 stops, in daylight, cloud, a room and night."""
    rng = np.random.default_rng(20)
    sky = np.linspace(1, 0, SHAPE[0])[:, None] ** 4
    window = _window()
    return {
        "sun": _coloured(400 * 2.0 ** (1.9 * _texture(rng) + 3 * sky), (1, 1, 0.95), rng),
        "cloud": _coloured(150 * 2.0 ** (1.1 * _texture(rng) + 2 * sky), (0.97, 1, 1.05), rng),
        "room": _coloured(12 * 2.0 ** (1.6 * _texture(rng) + 6.5 * window), (1.05, 1, 0.9), rng),
        "night": _coloured(0.15 * 2.0 ** (1.8 * _texture(rng) + 7 * _lamps(rng)), (1.5, 1, 0.45), rng),
    }


def _texture(rng: np.random.Generator) -> np.ndarray:
    """1/f noise of mean 0 and deviation 1, a little softer than natural scenes have it. (rows, columns)"""
    fy, fx = np.fft.fftfreq(SHAPE[0])[:, None], np.fft.rfftfreq(SHAPE[1])[None, :]
    spectrum = np.fft.rfft2(rng.standard_normal(SHAPE)) / np.maximum(np.hypot(fy, fx), 1 / SHAPE[1]) ** 1.4
    texture = np.fft.irfft2(spectrum, SHAPE)
    return (texture - texture.mean()) / texture.std()


def _window() -> np.ndarray:
    window = np.zeros(SHAPE, np.float32)
    window[22:71, 93:138] = 1
    return cv2.GaussianBlur(window, (0, 0), 2)


def _lamps(rng: np.random.Generator) -> np.ndarray:
    lamps = np.zeros(SHAPE, np.float32)
    for y, x in zip(rng.integers(14, 106, 8), rng.integers(14, 146, 8), strict=True):
        cv2.circle(lamps, (int(x), int(y)), 2, 1.0, -1)
    return np.maximum(lamps, cv2.GaussianBlur(lamps, (0, 0), 11) * 4).clip(0, 1)


def _coloured(luminance: np.ndarray, light: tuple[float, float, float], rng: np.random.Generator) -> np.ndarray:
    """Give a luminance the light's colour and mildly coloured surfaces; the luminance stays."""
    hue = np.stack([0.15 * _texture(rng) for _ in range(3)], axis=-1)
    rgb = np.array(light) * 2.0**hue
    return (rgb * (luminance / (rgb @ LUMINANCE))[..., None]).astype(np.float32)


def read(shot: Shot) -> tuple[np.ndarray, np.ndarray]:
    """What a plain reader makes of a shot: code values of luminance [0-255] and luminance by sRGB and EXIF [cd/m²]."""
    pixels = np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(shot.jpeg))))
    luminance = SRGB_LEVELS[pixels] @ LUMINANCE
    codes = pixels @ LUMINANCE.astype(float)
    return codes, luminance / level_per_luminance(shot.f_number, shot.time_s, shot.iso)


@dataclass(frozen=True)
class Stray:
    """How a camera's brackets stray from a plain sRGB decode. [stops]

    against_truth: median of log2(true / decoded) in each bin of code values.
    against_itself: the same with the mean of the pixel's own frames for the truth, which real brackets can tell too.
    rms: of a pixel's decoded frames about their mean, for each scene; p95 likewise, of its absolute value.
    """

    against_truth: tuple[float, ...]
    against_itself: tuple[float, ...]
    rms: dict[str, float]
    p95: dict[str, float]


def stray(one: Card, truths: dict[str, np.ndarray], bins: tuple[tuple[int, int], ...] = BINS) -> Stray:
    """Photograph each truth as a bracket of BIASES; codes 12 to 243 of pixels seen so in two frames or more."""
    codes, from_truth, from_itself, rms, p95 = [], [], [], {}, {}
    for name, truth in truths.items():
        seen, decoded = (np.array(part) for part in zip(*map(read, bracket(truth, one, BIASES)), strict=True))
        usable = (seen >= 12) & (seen <= 243)
        ev = np.log2(np.maximum(decoded, 1e-9))
        counts = usable.sum(axis=0)
        mean = (ev * usable).sum(axis=0) / np.maximum(counts, 1)
        usable &= counts >= 2
        apart = (mean - ev)[usable]
        codes.append(seen[usable])
        from_itself.append(apart)
        from_truth.append((np.log2(truth @ LUMINANCE) - ev)[usable])
        rms[name] = float(np.sqrt(np.mean(apart**2)))
        p95[name] = float(np.percentile(np.abs(apart), 95))
    codes, from_truth, from_itself = map(np.concatenate, (codes, from_truth, from_itself))
    return Stray(_by_code(codes, from_truth, bins), _by_code(codes, from_itself, bins), rms, p95)


def _by_code(codes: np.ndarray, stops: np.ndarray, bins: tuple[tuple[int, int], ...]) -> tuple[float, ...]:
    return tuple(float(np.median(stops[(codes >= low) & (codes < high)])) for low, high in bins)


def table(names: tuple[Card, ...], truths: dict[str, np.ndarray]) -> str:
    """A row a camera: true over decoded, the bracket's mean over decoded, then rms and 95th percentile."""
    bins = [f"{low}-{high}" for low, high in BINS]
    lines = ["".join(f"{word:>9}" for word in ("", "", *bins, *bins, *truths, "p95"))]
    for one in names:
        found = stray(one, truths)
        figures = (*found.against_truth, *found.against_itself, *found.rms.values(), max(found.p95.values()))
        lines.append(f"{one.name:>9}{one.group:>9}" + "".join(f"{value:>+9.2f}" for value in figures))
    return "\n".join(lines)


if __name__ == "__main__":
    print(table((card("datum"), *cards()), scenes()))
