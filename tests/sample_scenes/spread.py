"""How far simulated cameras stray from a plain sRGB decode: figures to hold against what real phones did.

Run `python -m tests.sample_scenes.spread` for the table.
"""

from io import BytesIO

import cv2
import numpy as np
from PIL import Image, ImageOps

from sample_scenes.camera import Card, Shot, bracket, card, cards
from sample_scenes.colour import LUMINANCE
from sample_scenes.sensor import level_per_luminance
from sample_scenes.tone import srgb_decode

BINS = ((12, 30), (30, 60), (60, 100), (100, 150), (150, 180), (180, 240))  # code values
BIASES = (-2.0, -1.0, 0.0, 1.0, 2.0)  # [stops]
SHAPE = (270, 360)


def scenes() -> dict[str, np.ndarray]:
    """Synthetic truths [cd/m²], (270, 360, 3) float32: textured, of 6 to 12 stops, in daylight, cloud, a room and night."""
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
    """1/f noise of mean 0 and deviation 1, as natural scenes have it. (rows, columns)"""
    fy, fx = np.fft.fftfreq(SHAPE[0])[:, None], np.fft.rfftfreq(SHAPE[1])[None, :]
    spectrum = np.fft.rfft2(rng.standard_normal(SHAPE)) / np.maximum(np.hypot(fy, fx), 1 / SHAPE[1]) ** 1.1
    texture = np.fft.irfft2(spectrum, SHAPE)
    return (texture - texture.mean()) / texture.std()


def _window() -> np.ndarray:
    window = np.zeros(SHAPE, np.float32)
    window[50:160, 210:310] = 1
    return cv2.GaussianBlur(window, (0, 0), 2)


def _lamps(rng: np.random.Generator) -> np.ndarray:
    lamps = np.zeros(SHAPE, np.float32)
    for y, x in zip(rng.integers(30, 240, 8), rng.integers(30, 330, 8), strict=True):
        cv2.circle(lamps, (int(x), int(y)), 4, 1.0, -1)
    return np.maximum(lamps, cv2.GaussianBlur(lamps, (0, 0), 25) * 4).clip(0, 1)


def _coloured(luminance: np.ndarray, light: tuple[float, float, float], rng: np.random.Generator) -> np.ndarray:
    """Give a luminance the light's colour and mildly coloured surfaces; the luminance stays."""
    hue = np.stack([0.25 * _texture(rng) for _ in range(3)], axis=-1)
    rgb = np.array(light) * 2.0**hue
    return (rgb * (luminance / (rgb @ LUMINANCE))[..., None]).astype(np.float32)


def read(shot: Shot) -> tuple[np.ndarray, np.ndarray]:
    """What a plain reader makes of a shot: code values of luminance [0-255] and luminance by sRGB and EXIF [cd/m²]."""
    pixels = np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(shot.jpeg))), dtype=np.float64)
    luminance = srgb_decode(pixels / 255) @ LUMINANCE
    codes = pixels @ LUMINANCE
    return codes, luminance / level_per_luminance(shot.f_number, shot.time_s, shot.iso)


def corrections(one: Card, truths: dict[str, np.ndarray]) -> list[float]:
    """Median of log2(true / sRGB decode) in each of BINS, all scenes and biases together. [stops]"""
    codes, stops = [], []
    for truth in truths.values():
        for shot in bracket(truth, one, BIASES):
            seen, decoded = read(shot)
            codes.append(seen.ravel())
            stops.append(np.log2((truth @ LUMINANCE).ravel() / np.maximum(decoded.ravel(), 1e-9)))
    codes, stops = np.concatenate(codes), np.concatenate(stops)
    return [float(np.median(stops[(codes >= low) & (codes < high)])) for low, high in BINS]


def disagreement(one: Card, truth: np.ndarray) -> float:
    """How far the frames of a bracket disagree on a pixel's EV when decoded as sRGB: rms about the pixel's mean. [stops]"""
    frames = [read(shot) for shot in bracket(truth, one, BIASES)]
    usable = np.array([(codes >= 12) & (codes <= 243) for codes, _ in frames])
    ev = np.where(usable, np.log2(np.maximum([luminance for _, luminance in frames], 1e-9)), 0)
    counts = usable.sum(axis=0)
    mean = ev.sum(axis=0) / np.maximum(counts, 1)
    kept = usable & (counts >= 2)
    return float(np.sqrt(np.mean((ev - mean)[kept] ** 2)))


def table(names: tuple[Card, ...], truths: dict[str, np.ndarray]) -> str:
    """A text table: a row a camera."""
    head = ["camera", "group", *(f"{low}-{high}" for low, high in BINS), *truths]
    lines = ["".join(f"{word:>10}" for word in head)]
    for one in names:
        figures = [*corrections(one, truths), *(disagreement(one, truth) for truth in truths.values())]
        lines.append(f"{one.name:>10}{one.group:>10}" + "".join(f"{value:>+10.2f}" for value in figures))
    return "\n".join(lines)


if __name__ == "__main__":
    print(table((card("datum"), *cards()), scenes()))
