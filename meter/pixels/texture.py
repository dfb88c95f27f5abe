"""Find the darkest and the lightest areas that still show texture: what a photographer would measure by hand.

Blown, black and flat areas do not count. The small map is cut into connected regions of about the same brightness, a
stop to a band; a region has texture where its light varies by more than the coarseness of the codes explains.
(scikit-image's felzenszwalb finds much the same regions, but importing it takes as long as all the rest of a reading.)
"""

from dataclasses import dataclass

import numpy as np

from meter.pixels.decode import load_opencv
from meter.pixels.light_map import LightMap

SEARCH_SIDE = 160  # longest side of the map that is cut into regions [pixels]
LEAST_AREA = 0.003  # of the frame: 1/330, about a 4 degree disc under a 26 mm equivalent lens
EDGE = 0.02  # of the longer side, all round, that does not count: slivers of what lies outside
DIST_L2 = 2  # OpenCV's name for Euclidean distance
LEAST_DEPTH = 2.0  # from a region's middle to its rim: what is thinner is the seam between two others [pixels]
LEAST_PIXELS = 12  # of the searched map: fewer cannot show a texture
LEAST_TEXTURE_STOPS = 0.03  # local spread of log2 luminance below which an area counts as flat (judgement)
LEAST_TEXTURE_CODES = 0.8  # the same in code values: below this, rounding to 8 bits explains it
MOST_EXTREME = 0.02  # share of blown or black pixels that an area may hold


@dataclass(frozen=True)
class Area:
    """An area with texture.

    x, y: its innermost point, fractions of the upright picture. radius: of the disc that fits there, as a fraction of
    the picture's width. level: median log2 luminance. [log2 cd/m²]
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
    areas = _areas(level, luma, extreme)
    if len(areas) < 2:
        return None
    darkest, lightest = min(areas, key=lambda area: area.level), max(areas, key=lambda area: area.level)
    return (darkest, lightest) if lightest.level > darkest.level else None


def _regions(level: np.ndarray) -> list[np.ndarray]:
    """Connected pixels of the same one-stop band after smoothing, with bands from whole stops and again from halves.

    Returns two label maps (H, W) int32; 0 is the edge of the picture, which belongs to no region.
    """
    cv2 = load_opencv()
    smooth = cv2.GaussianBlur(level, (0, 0), 1.5)
    edge = max(1, round(EDGE * max(level.shape)))
    maps = []
    for offset in (0.0, 0.5):
        band = np.floor(smooth + offset).astype(np.int32)
        labels, used = np.zeros(level.shape, np.int32), 0
        for value in np.unique(band):
            inside = (band == value).astype(np.uint8)
            inside[:edge], inside[-edge:], inside[:, :edge], inside[:, -edge:] = 0, 0, 0, 0
            count, parts = cv2.connectedComponents(inside)
            labels += np.where(parts > 0, parts + used, 0)
            used += count
        maps.append(labels)
    return maps


def _areas(level: np.ndarray, luma: np.ndarray, extreme: np.ndarray) -> list[Area]:
    """Every region that is large, textured and clean enough."""
    areas = []
    for labels in _regions(level):
        counts = np.bincount(labels.ravel())
        counts[0] = 0
        spoiled = np.bincount(labels.ravel(), weights=extreme.ravel()) / np.maximum(counts, 1)
        enough = max(LEAST_PIXELS, LEAST_AREA * level.size)
        for label in np.flatnonzero((counts >= enough) & (spoiled <= MOST_EXTREME)):
            if area := _area(level, luma, labels == label):
                areas.append(area)
    return areas


def _area(level: np.ndarray, luma: np.ndarray, region: np.ndarray) -> Area | None:
    """A region by its innermost point; None where it is flat or a mere seam."""
    if _spread(level, region) < LEAST_TEXTURE_STOPS or _spread(luma, region) < LEAST_TEXTURE_CODES:
        return None
    depth = load_opencv().distanceTransform(np.pad(region.astype(np.uint8), 1), DIST_L2, 3)[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
    if depth[row, column] < LEAST_DEPTH:
        return None
    height, width = level.shape
    radius = float(depth[row, column]) / width
    return Area((int(column) + 0.5) / width, (int(row) + 0.5) / height, radius, float(np.median(level[region])))


def _spread(values: np.ndarray, region: np.ndarray) -> float:
    """Standard deviation within a region about its local mean over 9 x 9, by the median so that edges don't count."""
    cv2 = load_opencv()
    mask = region.astype(np.float32)
    local = cv2.blur(values * mask, (9, 9))[region] / cv2.blur(mask, (9, 9))[region]
    return float(1.4826 * np.median(np.abs(values[region] - local)))
