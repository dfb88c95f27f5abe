"""Photos made for tests: a JPEG with the pixels and EXIF values asked for."""

from fractions import Fraction
from pathlib import Path

import numpy as np
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

TAGS = {  # EXIF names to tag numbers, Exif 2.3
    "Make": 0x010F, "Model": 0x0110, "Orientation": 0x0112, "ExposureTime": 0x829A, "FNumber": 0x829D,
    "PhotographicSensitivity": 0x8827, "DateTimeOriginal": 0x9003, "ShutterSpeedValue": 0x9201,
    "ApertureValue": 0x9202, "BrightnessValue": 0x9203, "ExposureBiasValue": 0x9204, "MeteringMode": 0x9207,
    "Flash": 0x9209, "FocalLength": 0x920A, "FocalLengthIn35mmFilm": 0xA405,
}  # fmt: skip
EXIF_IFD = 0x8769
PHONE = {"Make": "Harbour Works", "Model": "Slate 3", "ExposureTime": 1 / 60, "FNumber": 2.0,
         "PhotographicSensitivity": 100, "FocalLength": 4.2, "FocalLengthIn35mmFilm": 26}  # fmt: skip
RAMP = np.dstack([np.tile(np.arange(256, dtype=np.uint8), (64, 1))] * 3)


def exif_block(tags: dict) -> Image.Exif:
    """EXIF with these values by name."""
    exif = Image.Exif()
    for name, value in tags.items():
        number = TAGS[name]
        whole = IFDRational(Fraction(value).limit_denominator(10_000)) if isinstance(value, float) else value
        (exif.get_ifd(EXIF_IFD) if number >= 0x8000 else exif)[number] = whole
    return exif


def write_jpeg(path: Path, rgb: np.ndarray = RAMP, tags: dict | None = None, mode: str = "RGB", **how) -> Path:
    """Save pixels (H, W, 3) uint8, by default a grey ramp, with EXIF values by name. Returns the path."""
    Image.fromarray(rgb).convert(mode).save(path, "JPEG", exif=exif_block(tags or {}), quality=95, **how)
    return path


def wall_and_hedge(size: tuple[int, int] = (640, 480)) -> np.ndarray:
    """A light textured wall (left) and a dark textured hedge (right), uint8 (H, W, 3)."""
    width, height = size
    rng = np.random.default_rng(7)
    grain = np.kron(rng.normal(0, 1, (height // 8, width // 8)), np.ones((8, 8)))
    codes = np.where(np.arange(width) < width // 2, 170 + 10 * grain, 60 + 5 * grain)
    return np.repeat(np.clip(codes, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
