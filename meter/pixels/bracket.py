"""Several photos of one still scene: put them in register, choose what to compare, merge their light into one map."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from meter.errors import BadInput

LONGEST_SIDE_CELLS = 250  # of the sampling grid
SHIFT_BITS = 6  # the alignment looks for shifts up to 2^6 pixels
LEAST_LEFT = 0.5  # of a picture's width and height after alignment
EDGE_CODES, EDGE_SHARE = 5.0, 0.06  # a cell is smooth when its sd of luma stays under codes + share × mean
BLOWN_CODE, BLACK_CODE = 253, 0  # codes of single pixels that spoil a cell
BLACK_SHARE = 0.05  # of a cell's pixels that may be black
MOVED_CODES, MOVED_SPREADS = 6.0, 6.0  # a cell moved when it is off the pair's usual rendering by codes + spreads × MAD
LEAST_PAIR = 50  # cells that a pair of frames needs before anything is called moving
GHOST_SIGMAS, GHOST_STOPS = 3.0, 0.15  # two maps show different things when they differ by more than these together


@dataclass(frozen=True)
class Aligned:
    """frames: uint8 RGB (rows, columns, 3), all cut to what they share. shifts: (right, down) that each was moved by."""

    frames: tuple[np.ndarray, ...]
    shifts: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Grid:
    """A frame brought down to cells. rgb: mean codes, float32 (rows, columns, 3). usable: bool (rows, columns)."""

    rgb: np.ndarray
    usable: np.ndarray


@dataclass(frozen=True)
class Exposed:
    """One photo's light map. All (rows, columns).

    log2_luminance: float. [log2 cd/m²] sigma: float. [stops] blown, black: bool, where the value is only a bound.
    """

    log2_luminance: np.ndarray
    sigma: np.ndarray
    blown: np.ndarray
    black: np.ndarray


@dataclass(frozen=True)
class Merged:
    """One map out of several, fields as in Exposed; blown and black where every photo was.

    came_from: uint8, the number of the photo that counts most at each pixel.
    """

    log2_luminance: np.ndarray
    sigma: np.ndarray
    blown: np.ndarray
    black: np.ndarray
    came_from: np.ndarray


def align(frames: Sequence[np.ndarray], stops: Sequence[float]) -> Aligned:
    """Undo small shifts between photos by median threshold bitmaps, each against its neighbour in exposure.

    frames: uint8 RGB (rows, columns, 3), one size. stops: exposure of each, any common zero. [stops]
    Raises BadInput for different sizes or shifts that leave less than half. Source: Ward 2003, OpenCV's AlignMTB.
    """
    _check_sizes(frames)
    order = [int(index) for index in np.argsort(stops)]
    greys = [cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY) for frame in frames]
    finder = cv2.createAlignMTB(max_bits=min(SHIFT_BITS, int(np.log2(min(greys[0].shape))) - 2))
    shifts = {order[len(order) // 2]: (0, 0)}
    middle = len(order) // 2
    for a, b in [*zip(order[middle:], order[middle + 1 :], strict=False), *zip(order[middle::-1], order[middle - 1 :: -1] if middle else [], strict=False)]:
        right, down = finder.calculateShift(greys[a], greys[b])
        shifts[b] = (shifts[a][0] + int(right), shifts[a][1] + int(down))
    moved = [shifts[index] for index in range(len(frames))]
    return Aligned(tuple(_cut(frames, moved)), tuple(moved))


def sample_grids(frames: Sequence[np.ndarray], stops: Sequence[float]) -> list[Grid]:
    """Aligned frames as grids of cell means, with the cells that cannot be compared marked.

    Unusable: edges, blown or black pixels inside, and places that moved between neighbours in exposure.
    frames: uint8 RGB (rows, columns, 3), one size. stops: exposure of each. [stops]
    """
    _check_sizes(frames)
    grids = [_grid(frame) for frame in frames]
    order = np.argsort(stops)
    for a, b in zip(order, order[1:], strict=False):
        still = ~_moved(grids[a], grids[b])
        grids[a].usable[:] &= still
        grids[b].usable[:] &= still
    return grids


def merge(maps: Sequence[Exposed]) -> Merged:
    """One light map from several aligned ones: a mean weighted by 1/sigma², best-exposed photo first.

    A photo that contradicts the best-exposed one at a pixel (something moved) is left out there. Errors of one phone's
    response are common to all its photos, so sigma is the weighted mean, never less than the best photo's.
    Where all were blown the highest "at least" stands, where all were black the lowest "at most".
    Raises BadInput for no maps, more than 255, or different sizes.
    """
    if not 1 <= len(maps) <= 255 or len({one.log2_luminance.shape for one in maps}) != 1:
        raise BadInput(f"1 to 255 light maps of one size can be merged; got {[m.log2_luminance.shape for m in maps]}")
    best, best_sigma, came_from = _best(maps)
    total, weights, sigmas = (np.zeros(best.shape, np.float32) for _ in range(3))
    for one in maps:
        apart = np.abs(one.log2_luminance - best)
        agrees = apart <= GHOST_SIGMAS * np.hypot(one.sigma, best_sigma) + GHOST_STOPS
        weight = np.where(agrees & ~one.blown & ~one.black, one.sigma.astype(np.float32) ** -2, 0)
        total += weight * one.log2_luminance
        sigmas += weight * one.sigma
        weights += weight
    known = weights > 0
    weights[~known] = 1
    return Merged(
        np.where(known, total / weights, best),
        np.where(known, sigmas / weights, best_sigma),
        np.logical_and.reduce([one.blown for one in maps]),
        np.logical_and.reduce([one.black for one in maps]),
        came_from,
    )


def _best(maps: Sequence[Exposed]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Value, sigma and number of the best-exposed photo at each pixel; among bounds, of the tightest one."""
    first = maps[0]
    value, sigma = first.log2_luminance.astype(np.float32), first.sigma.astype(np.float32)
    blown, bound = first.blown.copy(), first.blown | first.black
    came_from = np.zeros(value.shape, np.uint8)
    for number, one in enumerate(maps[1:], start=1):
        one_bound = one.blown | one.black
        tighter = np.where(blown, one.blown & (one.log2_luminance > value), one.black & (one.log2_luminance < value))
        better = np.where(bound, ~one_bound | tighter, ~one_bound & (one.sigma < sigma))
        value[better], sigma[better] = one.log2_luminance[better], one.sigma[better]
        blown[better], bound[better] = one.blown[better], one_bound[better]
        came_from[better] = number
    return value, sigma, came_from


def _check_sizes(frames: Sequence[np.ndarray]) -> None:
    sizes = {frame.shape[:2] for frame in frames}
    if len(sizes) != 1:
        found = " and ".join(f"{columns} x {rows}" for rows, columns in sorted(sizes))
        raise BadInput(f"the photos of one scene need one size and one way up; these are {found or 'none'}")


def _cut(frames: Sequence[np.ndarray], shifts: Sequence[tuple[int, int]]) -> list[np.ndarray]:
    rows, columns = frames[0].shape[:2]
    rights, downs = [s[0] for s in shifts], [s[1] for s in shifts]
    left, right = max(*rights, 0), columns + min(*rights, 0)
    top, bottom = max(*downs, 0), rows + min(*downs, 0)
    if right - left < LEAST_LEFT * columns or bottom - top < LEAST_LEFT * rows:
        raise BadInput("these photos lie too far apart to be put in register; support the phone and take them again")
    return [
        frame[top - down : bottom - down, left - over : right - over]
        for frame, (over, down) in zip(frames, shifts, strict=True)
    ]


def _grid(frame: np.ndarray) -> Grid:
    rows, columns = frame.shape[:2]
    side = max(1, -(-max(rows, columns) // LONGEST_SIDE_CELLS))
    size = (columns // side, rows // side)
    frame = frame[: size[1] * side, : size[0] * side]
    luma = cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY)
    rough = _sd_in_cells(luma, side, size)
    rgb = _means(frame, size)
    black = _means((luma <= BLACK_CODE).astype(np.uint8) * 255, size) > 255 * BLACK_SHARE
    blown = _means((frame.max(axis=2) >= BLOWN_CODE).astype(np.uint8) * 255, size) > 0
    smooth = rough <= EDGE_CODES + EDGE_SHARE * rgb.mean(axis=2)
    return Grid(rgb, smooth & ~black & ~blown)


def _means(picture: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Means of uint8 cells, finer than a code. float32"""
    return cv2.resize(picture.astype(np.float32), size, interpolation=cv2.INTER_AREA)


def _sd_in_cells(luma: np.ndarray, side: int, size: tuple[int, int]) -> np.ndarray:
    """Standard deviation of luma in each cell; of a cell and its neighbours where cells are smaller than 3 pixels."""
    values = luma.astype(np.float32)
    if side < 3:
        values = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        mean, square = cv2.blur(values, (3, 3)), cv2.blur(values * values, (3, 3))
    else:
        mean = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        square = cv2.resize(values * values, size, interpolation=cv2.INTER_AREA)
    return np.sqrt(np.maximum(square - mean * mean, 0))


def _moved(a: Grid, b: Grid) -> np.ndarray:
    """Cells of a pair that are not rendered as others of the same code are. (rows, columns) bool"""
    both = a.usable & b.usable
    if both.sum() < LEAST_PAIR:
        return np.zeros(both.shape, bool)
    luma_a, luma_b = a.rgb.mean(axis=2), b.rgb.mean(axis=2)
    off = np.zeros(both.shape)
    order = np.argsort(luma_a[both], kind="stable")
    expected, spread = _running_median(luma_b[both][order])
    line_up = np.empty(order.size)
    line_up[order] = np.abs(luma_b[both][order] - expected) - MOVED_SPREADS * spread
    off[both] = line_up
    return off > MOVED_CODES


def _running_median(values: np.ndarray, parts: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Median and median absolute deviation of values in order, by parts of equal count, straight lines between."""
    chunks = np.array_split(values, min(parts, max(len(values) // 10, 1)))
    middles = np.cumsum([len(chunk) for chunk in chunks]) - [len(chunk) / 2 for chunk in chunks]
    medians = np.array([np.median(chunk) for chunk in chunks])
    place = np.arange(len(values))
    expected = np.interp(place, middles, medians)
    edges = np.cumsum([0] + [len(chunk) for chunk in chunks])
    spreads = [np.median(np.abs(values[s:e] - expected[s:e])) for s, e in zip(edges, edges[1:], strict=False)]
    return expected, np.interp(place, middles, spreads)
