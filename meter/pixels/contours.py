"""A luminance map as contour lines, and masks as outlines: arrays in, plain lists out, ready to be drawn."""

import cv2
import numpy as np
from skimage.measure import find_contours

from meter.errors import BadInput

MAP_SIDE = 640  # the map is worked on at this long side: finer lines than this cannot be told apart in a picture
EDGE_STOPS = 0.5  # differences above this stay sharp, those below are texture and are evened out
ZONES = range(11)

Points = list[tuple[float, float]]


def contours(
    log2_luminance: np.ndarray, zone_five: float, *, smooth: float = 1.5, smallest: float = 0.05
) -> list[tuple[int, Points]]:
    """The lines where a scene lies exactly on Zone 0, I … X, one stop apart.

    log2_luminance: ndarray (H, W), log2 of cd/m², upright; what is not finite counts as the darkest or lightest value.
    zone_five: log2 of the luminance that falls on Zone V. [log2 cd/m²]
    smooth: standard deviation of the smoothing, of a map whose long side has MAP_SIDE pixels. [pixels]
    smallest: closed lines whose box is smaller than this part of the long side, and open ones shorter, are left out.
    Returns (zone, points), points as (x, y) fractions of the upright picture; a closed line ends where it begins.
    """
    level_map = _generalised(log2_luminance, smooth) - zone_five + 5
    found = []
    for zone in ZONES:
        for path in find_contours(np.pad(level_map, 1, mode="edge"), float(zone)):
            if np.ptp(path, axis=0).max() >= smallest * max(level_map.shape):
                found.append((zone, _points(_simple(path) - 1, level_map.shape)))
    return found


def outlines(mask: np.ndarray, *, smallest: float = 0.02) -> list[Points]:
    """Rings around the true areas of a mask, holes as rings of their own (fill by the even-odd rule).

    mask: ndarray (H, W) bool, upright. smallest: rings whose box is smaller than this part of the long side are left
    out. Returns rings as (x, y) fractions of the upright picture, each ending where it begins.
    """
    part = _resized(_image(mask).astype(np.float32), MAP_SIDE)
    part = cv2.GaussianBlur(part, (0, 0), 2, borderType=cv2.BORDER_REPLICATE)
    rings = []
    for path in find_contours(np.pad(part, 2, mode="constant"), 0.5):
        if np.ptp(path, axis=0).max() >= smallest * max(part.shape):
            rings.append(_points(_simple(path) - 2, part.shape))
    return rings


def _image(array: np.ndarray) -> np.ndarray:
    if array.ndim != 2 or 0 in array.shape:
        raise BadInput(f"a map or mask has rows and columns; got an array of shape {array.shape}")
    return array


def _generalised(log2_luminance: np.ndarray, smooth: float) -> np.ndarray:
    """The map with the detail removed that a line cannot follow, edges kept: what a map maker calls generalising."""
    finite = np.isfinite(_image(log2_luminance))
    if not finite.any():
        raise BadInput("the light map holds no finite luminance, so it has no contour lines")
    low, high = float(log2_luminance[finite].min()), float(log2_luminance[finite].max())
    whole = np.nan_to_num(log2_luminance.astype(np.float32), nan=low, posinf=high, neginf=low)
    small = cv2.medianBlur(_resized(whole, MAP_SIDE), 5)
    for _ in range(2):
        small = cv2.bilateralFilter(small, -1, EDGE_STOPS, 5)
    return cv2.GaussianBlur(small, (0, 0), smooth, borderType=cv2.BORDER_REPLICATE)


def _resized(image: np.ndarray, long_side: int) -> np.ndarray:
    height, width = image.shape
    factor = long_side / max(height, width)
    if factor >= 1:
        return image
    size = max(round(width * factor), 1), max(round(height * factor), 1)
    return cv2.resize(image, size, interpolation=cv2.INTER_AREA)


def _simple(path: np.ndarray, tolerance: float = 0.22) -> np.ndarray:
    """Fewer points (Douglas-Peucker) after evening out the pixel steps; a closed line stays closed.

    path: (n, 2) rows and columns. [pixels]
    """
    if (path[0] == path[-1]).all():
        ring = _thinned(_evened(np.vstack([path[-3:-1], path, path[1:3]]))[2:-3], tolerance, closed=True)
        return np.vstack([ring, ring[:1]])
    return _thinned(_evened(path), tolerance, closed=False)


def _evened(path: np.ndarray) -> np.ndarray:
    """Each point moved towards the mean of its neighbours, twice; the ends stay."""
    for _ in range(2):
        path = np.vstack([path[:1], (path[:-2] + 2 * path[1:-1] + path[2:]) / 4, path[-1:]])
    return path


def _thinned(path: np.ndarray, tolerance: float, closed: bool) -> np.ndarray:
    return cv2.approxPolyDP(path.astype(np.float32)[:, None], tolerance, closed)[:, 0].astype(float)


def _points(path: np.ndarray, shape: tuple[int, ...]) -> Points:
    """Rows and columns of pixel centres as (x, y) fractions, kept inside the picture."""
    fractions = np.clip((path + 0.5) / np.array(shape), 0, 1)
    return [(round(float(x), 5), round(float(y), 5)) for y, x in fractions]
