"""Find the darkest and the lightest areas that still show texture: what a photographer would measure by hand.

Blown, black and flat areas do not count. The small map is cut into even regions (Felzenszwalb & Huttenlocher 2004, as in
scikit-image); a region has texture where the light varies within it by more than the coarseness of the codes explains.
"""

from dataclasses import dataclass

import numpy as np

from meter.pixels.decode import load_opencv
from meter.pixels.light_map import LightMap

SEARCH_SIDE = 200  # longest side of the map that is cut into regions [pixels]
LEAST_AREA = 0.002  # of the frame: 1/500, about a 3 degree disc under a 26 mm equivalent lens
LEAST_TEXTURE_STOPS = 0.03  # local spread of log2 luminance below which an area counts as flat (judgement)
LEAST_TEXTURE_CODES = 0.8  # the same in code values: below this, rounding to 8 bits explains it
MOST_EXTREME = 0.02  # share of blown or black pixels that an area may hold


@dataclass(frozen=True)
class Area:
    """An area with texture. x, y: its innermost point, fractions of the upright picture; radius: of the disc that fits

    there, as a fraction of the picture's width; level: its median log2 luminance.
    """

    x: float
    y: float
    radius: float
    level: float


def textured_extremes(small: LightMap) -> tuple[Area, Area] | None:
    """The darkest and the lightest textured area of a small map; None where fewer than two stand apart."""
    cv2 = load_opencv()
    width, height = small.size
    scale = min(1.0, SEARCH_SIDE / max(width, height))
    size = (max(8, round(width * scale)), max(8, round(height * scale)))
    luminance = cv2.resize(small.luminance, size, interpolation=cv2.INTER_AREA)
    luma = cv2.resize(small.luma, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    extreme = cv2.resize((small.extremes > 0).astype(np.float32), size, interpolation=cv2.INTER_AREA)
    level = np.log2(np.maximum(luminance, 1e-6))
    usable = (
        (_local_spread(level) >= LEAST_TEXTURE_STOPS) & (_local_spread(luma) >= LEAST_TEXTURE_CODES) & (extreme < 0.5)
    )
    areas = _areas(level, luma, usable, extreme)
    if len(areas) < 2:
        return None
    darkest, lightest = min(areas, key=lambda area: area.level), max(areas, key=lambda area: area.level)
    return (darkest, lightest) if lightest.level > darkest.level else None


def _local_spread(values: np.ndarray) -> np.ndarray:
    """Standard deviation in 5 x 5 windows after the slope over 11 x 11 is taken out, (H, W) float32."""
    cv2 = load_opencv()
    detail = values - cv2.blur(values, (11, 11))
    variance = cv2.blur(detail * detail, (5, 5)) - cv2.blur(detail, (5, 5)) ** 2
    return np.sqrt(np.maximum(variance, 0))


def _areas(level: np.ndarray, luma: np.ndarray, usable: np.ndarray, extreme: np.ndarray) -> list[Area]:
    """Every region that is large, textured and clean enough."""
    from skimage.segmentation import felzenszwalb

    cv2 = load_opencv()
    height, width = level.shape
    labels = felzenszwalb(luma / 255, scale=60, sigma=1.0, min_size=max(12, int(LEAST_AREA * level.size)))
    counts = np.bincount(labels.ravel())
    textured = np.bincount(labels.ravel(), weights=usable.ravel().astype(float)) / counts
    spoiled = np.bincount(labels.ravel(), weights=extreme.ravel()) / counts
    areas = []
    for label in np.flatnonzero((counts >= LEAST_AREA * level.size) & (textured >= 0.5) & (spoiled <= MOST_EXTREME)):
        region = labels == label
        depth = cv2.distanceTransform(np.pad(region.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
        areas.append(
            Area(
                (column + 0.5) / width,
                (row + 0.5) / height,
                float(depth[row, column]) / width,
                float(np.median(level[region])),
            )
        )
    return areas
