"""Several photos of one still scene: put them in register, and choose the places that can be compared."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meter.errors import BadInput
from meter.pixels.decode import load_opencv

LONGEST_SIDE_CELLS = 250  # of the sampling grid
PIXELS_A_CELL = 4  # each way, that a large picture is brought down to first
ALIGNED_SIDE = 1600  # alignment works on pictures no longer than this [pixels]
SHIFT_BITS = 6  # and looks for shifts up to 2^6 of their pixels
LEAST_LEFT = 0.5  # of a picture's width and height after alignment
EDGE_CODES, EDGE_SHARE = 5.0, 0.06  # a cell is smooth when its sd of luma stays under codes + share × mean
SPOILED_FROM, SPOILED_TO = 253, 0  # codes of single pixels that spoil a cell
BLACK_SHARE = 0.05  # of a cell's pixels that may be black
MOVED_CODES, MOVED_SPREADS = 6.0, 6.0  # a cell moved when it is off the pair's usual rendering by codes + spreads × MAD
LEAST_PAIR = 50  # cells that a pair of frames needs before anything is called moving


@dataclass(frozen=True)
class Grid:
    """A frame brought down to cells. rgb: mean codes, float32, red-green-blue (rows, columns, 3). usable: bool."""

    rgb: np.ndarray
    usable: np.ndarray


def shifts_of(frames: Sequence[np.ndarray], stops: Sequence[float]) -> list[tuple[int, int]]:
    """(right, down) by which each photo must move to lie on the one of middle exposure. [pixels]

    Median threshold bitmaps, each photo against its neighbour in exposure, where least is blown or black in but one.
    frames: uint8, blue-green-red (H, W, 3) or grey (H, W), one size. stops: exposure of each, any common zero. [stops]
    Raises BadInput for different sizes. Source: Ward 2003, OpenCV's AlignMTB.
    """
    cv2 = load_opencv()
    _check_sizes(frames)
    step = -(-max(frames[0].shape[:2]) // ALIGNED_SIDE)
    greys = [_grey(frame, step) for frame in frames]
    finder = cv2.createAlignMTB(max_bits=max(1, min(SHIFT_BITS, int(np.log2(min(greys[0].shape))) - 2)))
    order = [int(index) for index in np.argsort(stops, kind="stable")]
    middle = len(order) // 2
    shifts = {order[middle]: (0, 0)}
    for a, b in [*pairwise(order[middle:]), *pairwise(order[middle::-1])]:
        right, down = finder.calculateShift(greys[a], greys[b])
        shifts[b] = (shifts[a][0] + step * int(right), shifts[a][1] + step * int(down))
    return [shifts[index] for index in range(len(frames))]


def shared(arrays: Sequence[np.ndarray], shifts: Sequence[tuple[int, int]]) -> list[np.ndarray]:
    """Views of the part that all arrays (H, W, ...) show once moved by their shifts (right, down).

    Raises BadInput when that is less than half of the width or height.
    """
    rows, columns = arrays[0].shape[:2]
    rights, downs = zip(*shifts, strict=True)
    left, right = max(0, *rights), columns + min(0, *rights)
    top, bottom = max(0, *downs), rows + min(0, *downs)
    if right - left < LEAST_LEFT * columns or bottom - top < LEAST_LEFT * rows:
        raise BadInput("these photos lie too far apart to be put in register; support the phone and take them again")
    return [
        array[top - down : bottom - down, left - over : right - over]
        for array, (over, down) in zip(arrays, shifts, strict=True)
    ]


def sample_grids(frames: Sequence[np.ndarray], stops: Sequence[float]) -> list[Grid]:
    """Photos as grids of cell means, with the cells marked that cannot be compared.

    Those are edges, cells with blown or black pixels, and places that moved between neighbours in exposure.
    frames: uint8 blue-green-red (H, W, 3), one size, in register. stops: exposure of each, any common zero. [stops]
    Raises BadInput for different sizes.
    """
    _check_sizes(frames)
    grids = [_grid(frame) for frame in frames]
    for a, b in pairwise(np.argsort(stops, kind="stable")):
        still = ~_moved(grids[a], grids[b])
        grids[a].usable[:] &= still
        grids[b].usable[:] &= still
    return grids


def _grey(frame: np.ndarray, step: int) -> np.ndarray:
    """A photo in grey, smaller by step. uint8"""
    cv2 = load_opencv()
    grey = cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY) if frame.ndim == 3 else frame
    size = (grey.shape[1] // step, grey.shape[0] // step)
    return grey if step == 1 else cv2.resize(grey, size, interpolation=cv2.INTER_AREA)


def _check_sizes(frames: Sequence[np.ndarray]) -> None:
    sizes = {frame.shape[:2] for frame in frames}
    if len(sizes) != 1:
        found = " and ".join(f"{columns} x {rows}" for rows, columns in sorted(sizes))
        raise BadInput(f"the photos of one scene need one size and one way up; these are {found or 'none'}")


def _grid(frame: np.ndarray) -> Grid:
    cv2 = load_opencv()
    rows, columns = frame.shape[:2]
    side = max(1, -(-max(rows, columns) // LONGEST_SIDE_CELLS))
    size = (columns // side, rows // side)
    frame = frame[: size[1] * side, : size[0] * side]
    if side >= 2 * PIXELS_A_CELL:  # fewer pixels are plenty; rounded here, they still make means finer than a code
        side = PIXELS_A_CELL
        frame = cv2.resize(frame, (size[0] * side, size[1] * side), interpolation=cv2.INTER_AREA)
    luma = cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)
    rough = _sd_in_cells(luma, side, size)
    rgb = np.ascontiguousarray(_means(frame, size)[:, :, ::-1])
    black = _means((luma <= SPOILED_TO).astype(np.uint8) * 255, size) > 255 * BLACK_SHARE
    blown = _means((frame.max(axis=2) >= SPOILED_FROM).astype(np.uint8) * 255, size) > 0
    smooth = rough <= EDGE_CODES + EDGE_SHARE * rgb.mean(axis=2)
    return Grid(rgb, smooth & ~black & ~blown)


def _means(picture: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Means of uint8 cells, finer than a code. float32"""
    cv2 = load_opencv()
    return cv2.resize(picture.astype(np.float32), size, interpolation=cv2.INTER_AREA)


def _sd_in_cells(luma: np.ndarray, side: int, size: tuple[int, int]) -> np.ndarray:
    """Standard deviation of luma in each cell; of a cell and its neighbours where cells are smaller than 3 pixels."""
    cv2 = load_opencv()
    values = luma.astype(np.float32)
    if side < 3:
        values = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        mean, square = cv2.blur(values, (3, 3)), cv2.blur(values * values, (3, 3))
    else:
        mean = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        square = cv2.resize(values * values, size, interpolation=cv2.INTER_AREA)
    return np.sqrt(np.maximum(square - mean * mean, 0))


def _moved(a: Grid, b: Grid) -> np.ndarray:
    """Cells of a pair that are not rendered as others of the same code are, seen from either. (rows, columns) bool"""
    both = a.usable & b.usable
    moved = np.zeros(both.shape, bool)
    if both.sum() >= LEAST_PAIR:
        luma_a, luma_b = a.rgb.mean(axis=2)[both], b.rgb.mean(axis=2)[both]
        moved[both] = _unlike(luma_a, luma_b) | _unlike(luma_b, luma_a)
    return moved


def _unlike(given: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Cells whose code in the other photo is not what cells of about the same given code mostly have there."""
    order = np.argsort(given, kind="stable")
    expected, spread = _running_median(other[order])
    unlike = np.empty(order.size, bool)
    unlike[order] = np.abs(other[order] - expected) - MOVED_SPREADS * spread > MOVED_CODES
    return unlike


def _running_median(values: np.ndarray, parts: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Median and median absolute deviation of values in order, by parts of equal count, straight lines between."""
    chunks = np.array_split(values, min(parts, max(len(values) // 10, 1)))
    middles = np.cumsum([len(chunk) for chunk in chunks]) - [len(chunk) / 2 for chunk in chunks]
    medians = np.array([np.median(chunk) for chunk in chunks])
    place = np.arange(len(values))
    expected = np.interp(place, middles, medians)
    edges = np.cumsum([0] + [len(chunk) for chunk in chunks])
    spreads = [np.median(np.abs(values[s:e] - expected[s:e])) for s, e in pairwise(edges)]
    return expected, np.interp(place, middles, spreads)
