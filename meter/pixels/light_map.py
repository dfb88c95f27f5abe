"""Encoded pixels -> luminance in cd/m², upright, with what is blown, what is black and how sure each code is."""

from dataclasses import dataclass

import numpy as np

from meter.falloff import Falloff
from meter.pixels.decode import Photo, load_opencv, upright
from meter.response import LUMA_256THS, Tables

BLOWN_CODE = 250  # red or green from here on is taken as clipped: tone curves and halving can pull it this far down
BLACK_CODE = 4  # a pixel whose encoded luma is here or below is taken as black
EDGE_SIGMA = 0.25  # fall-off that a phone leaves uncorrected: a sixth of the 1.5 stops of cos⁴ at 26 mm (judgement)
SMALL_SIDE = 320  # longest side of the small map that averages and searches use [pixels]


@dataclass(frozen=True)
class LightMap:
    """One photo as light, turned upright.

    luminance: ndarray (H, W) float32, linear. [cd/m²]
    luma: ndarray (H, W) uint8, encoded luma, by which sigma_by_code (256,) float32 is looked up. [stops]
    extremes: ndarray (H, W) uint8, 1 where blown, 2 where black, else 0.
    edge_sigma: how unsure the corners are against the middle, growing with the square of the radius. [stops]
    """

    luminance: np.ndarray
    luma: np.ndarray
    extremes: np.ndarray
    sigma_by_code: np.ndarray
    edge_sigma: float = EDGE_SIGMA

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in pixels."""
        return self.luminance.shape[1], self.luminance.shape[0]


BLOWN, BLACK = np.uint8(1), np.uint8(2)


def light_map(photo: Photo, tables: Tables, falloff: Falloff | None = None) -> LightMap:
    """Look every pixel up in the tables. 16-bit pixels look up between the codes; falloff gives the corners back.

    Nothing is taken as darker than BLACK_CODE stands for, so that the mean of a black patch is an upper bound.
    """
    if photo.pixels.dtype == np.uint8:
        luminance = _look_up_8(photo.pixels, tables)
        eight = photo.pixels
    else:
        luminance = _look_up_16(photo.pixels, tables)
        eight = (photo.pixels >> 8).astype(np.uint8)
    black = tables.red[BLACK_CODE] + tables.green[BLACK_CODE] + tables.blue[BLACK_CODE]
    np.maximum(luminance, black, out=luminance)
    if falloff is not None:
        luminance *= _gain(falloff, luminance.shape)
    luma = _luma(eight)
    turn = photo.orientation
    return LightMap(
        luminance=np.ascontiguousarray(upright(luminance, turn)),
        luma=np.ascontiguousarray(upright(luma, turn)),
        extremes=np.ascontiguousarray(upright(_extremes(eight, luma), turn)),
        sigma_by_code=np.asarray(tables.sigma, np.float32),
        edge_sigma=EDGE_SIGMA if falloff is None else 0.0,
    )


def _look_up_8(pixels: np.ndarray, tables: Tables) -> np.ndarray:
    cv2 = load_opencv()
    lut = np.stack([tables.blue, tables.green, tables.red], axis=-1).astype(np.float32).reshape(256, 1, 3)
    return cv2.transform(cv2.LUT(pixels, lut), np.ones((1, 3), np.float32)).reshape(pixels.shape[:2])


def _look_up_16(pixels: np.ndarray, tables: Tables) -> np.ndarray:
    codes = np.arange(256) * 257.0  # 255 becomes 65535
    luminance = np.zeros(pixels.shape[:2], np.float32)
    for channel, table in enumerate((tables.blue, tables.green, tables.red)):
        fine = np.interp(np.arange(65536), codes, table).astype(np.float32)
        luminance += fine[pixels[:, :, channel]]
    return luminance


def _luma(pixels: np.ndarray) -> np.ndarray:
    cv2 = load_opencv()
    weights = np.array([LUMA_256THS[::-1]], np.float32) / 256
    return cv2.transform(pixels, weights).reshape(pixels.shape[:2])


def _extremes(pixels: np.ndarray, luma: np.ndarray) -> np.ndarray:
    cv2 = load_opencv()
    clipping = cv2.bitwise_not(cv2.inRange(pixels, (0, 0, 0), (255, BLOWN_CODE - 1, BLOWN_CODE - 1)))
    black = cv2.threshold(luma, BLACK_CODE, int(BLACK), cv2.THRESH_BINARY_INV)[1]
    return cv2.bitwise_or(cv2.bitwise_and(clipping, int(BLOWN)), black)


def _gain(falloff: Falloff, shape: tuple[int, ...]) -> np.ndarray:
    """What each pixel must be multiplied by to undo the fall-off, (H, W) float32."""
    height, width = shape
    aspect = width / height
    across = (((np.arange(width, dtype=np.float32) + 0.5) / width - falloff.center_x) * aspect)[None, :]
    down = ((np.arange(height, dtype=np.float32) + 0.5) / height - falloff.center_y)[:, None]
    r2 = 4 * (across * across + down * down) / (aspect * aspect + 1)
    return np.exp2(-falloff.stops_at_radius(r2))


def small_map(full: LightMap) -> LightMap:
    """The same light on at most SMALL_SIDE pixels a side: means of whole square cells, of luminance and of codes.

    A cell is blown or black where at least half of it is. Up to one cell's width is left out at the right and bottom.
    """
    cv2 = load_opencv()
    width, height = full.size
    cell = -(-max(width, height) // SMALL_SIDE)
    if cell <= 1 or min(width, height) < cell:
        return full
    size = (width // cell, height // cell)
    window = np.s_[: size[1] * cell, : size[0] * cell]

    def mean(array: np.ndarray) -> np.ndarray:
        return cv2.resize(array[window], size, interpolation=cv2.INTER_AREA)

    blown = mean((full.extremes == BLOWN).view(np.uint8) * np.uint8(200))
    black = mean((full.extremes == BLACK).view(np.uint8) * np.uint8(200))
    return LightMap(
        luminance=mean(full.luminance),
        luma=mean(full.luma),
        extremes=np.where(blown >= 100, BLOWN, np.where(black >= 100, BLACK, np.uint8(0))),
        sigma_by_code=full.sigma_by_code,
        edge_sigma=full.edge_sigma,
    )
