"""Densities from a linear scan of a negative: how much less light came through than through the bare film base."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10, sqrt
from pathlib import Path

import numpy as np

from meter.errors import PhotoError
from meter.pixels.decode import load_opencv, read_header

DEFAULT_SIZE = 0.02  # diameter of a spot in parts of the picture's short side
FLOOR_CODES = 64  # a 16-bit value below this is more the scanner's noise than the film; our assumption
CEILING = 0.995  # of full scale: lighter than this is clipped
MOST_PIXELS = 130_000_000  # 6x9 at 4000 dpi has 117 million
KINDS = ("TIFF", "PNG")


@dataclass(frozen=True)
class ScanSpot:
    """Net density of one spot and its standard error from grain and noise. bound: "exact" or "at_least"."""

    x: float
    y: float
    density: float
    sigma: float
    bound: str


def read_densities(
    scan: Path, base: tuple[float, float], spots: Sequence[tuple[float, float]], *, size: float = DEFAULT_SIZE
) -> tuple[ScanSpot, ...]:
    """Net densities -log10(v / v_base) of spots on a 16-bit linear scan, the channels averaged.

    base, spots: x, y as fractions of the picture, 0,0 top left. size: diameter of a spot, parts of the short side.
    Raises PhotoError: not 16 bit, a base that is clipped or black, a spot lighter than the base or off the picture.
    """
    values = _linear(scan)
    base_value, base_error = _mean(values, base, size, scan)
    where = f"{base[0]:g},{base[1]:g}"
    if base_value > CEILING * 65535:
        raise PhotoError(f"{scan}: the film base at {where} is clipped; densities would come out too low: scan darker")
    if base_value < FLOOR_CODES:
        raise PhotoError(f"{scan}: the film base at {where} is black: is this the rebate of a negative, not a print?")
    return tuple(_spot(values, at, size, scan, base_value, base_error) for at in spots)


def _linear(scan: Path) -> np.ndarray:
    """The scan as float32 (rows, columns), its channels averaged, codes 0 to 65535."""
    if not scan.is_file():
        raise PhotoError(f"there is no scan {scan}")
    header = read_header(scan)
    if header.kind not in KINDS:
        raise PhotoError(f"{scan} is a {header.kind} picture: save the scan as linear 16-bit TIFF or PNG")
    width, height = header.full_size
    if width * height > MOST_PIXELS:
        raise PhotoError(f"{scan} is larger than {MOST_PIXELS // 1_000_000} megapixels: scan it smaller")
    cv2 = load_opencv()
    try:
        pixels = cv2.imdecode(np.frombuffer(header.data, np.uint8), cv2.IMREAD_UNCHANGED)
    except cv2.error as error:
        raise PhotoError(f"{scan} cannot be read as a picture ({error.err or 'damaged'})") from error
    if pixels is None:
        raise PhotoError(f"{scan} cannot be read as a picture: a 16-bit linear TIFF or PNG is needed")
    if pixels.dtype != np.uint16:
        raise PhotoError(f"{scan} is not a 16-bit scan: save it as linear 16-bit TIFF or PNG, without a tone curve")
    return pixels.astype(np.float32) if pixels.ndim == 2 else pixels[:, :, :3].mean(axis=2, dtype=np.float32)


def _mean(values: np.ndarray, at: tuple[float, float], size: float, scan: Path) -> tuple[float, float]:
    """Mean of a disc and the standard error of that mean. [codes]"""
    rows, columns = values.shape
    x, y = at[0] * columns, at[1] * rows
    if not (0 <= at[0] <= 1 and 0 <= at[1] <= 1):
        raise PhotoError(f"{scan}: {at[0]:g},{at[1]:g} lies outside the picture: x and y run from 0 to 1")
    radius = max(size * min(rows, columns) / 2, 1.0)
    top, left = max(int(y - radius), 0), max(int(x - radius), 0)
    part = values[top : int(y + radius) + 1, left : int(x + radius) + 1]
    down, right = np.mgrid[0 : part.shape[0], 0 : part.shape[1]]
    inside = part[np.hypot(down + top + 0.5 - y, right + left + 0.5 - x) <= radius]
    if inside.size == 0:
        inside = part[-1:, -1:].ravel()
    return float(inside.mean()), float(inside.std() / sqrt(inside.size))


def _spot(values, at, size, scan, base_value: float, base_error: float) -> ScanSpot:
    value, error = _mean(values, at, size, scan)
    if value > base_value * 1.02:
        raise PhotoError(
            f"{scan}: {at[0]:g},{at[1]:g} is lighter than the film base: is --base on bare film of a negative?"
        )
    floored = max(value, 1.0)
    sigma = sqrt((error / floored) ** 2 + (base_error / base_value) ** 2) / np.log(10)
    density = -log10(floored / base_value)
    return ScanSpot(*at, density + 0.0, float(sigma), "at_least" if value < FLOOR_CODES else "exact")
