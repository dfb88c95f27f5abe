"""Several photos of one scene at different exposures -> one light map, each pixel from where it is best exposed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meter.errors import BadInput
from meter.pixels.bracket import shared
from meter.pixels.decode import load_opencv
from meter.pixels.light_map import BLOWN, LightMap

MOST_MAPS = 255  # came_from counts in a byte
GHOST_SIGMAS, GHOST_SHARE = 2.5, 0.1  # maps show different things beyond this many sigmas of each, and this share
LAYERS = ("luminance", "luma", "extremes")
STRIPE_ROWS = 128  # at a time, so that what is worked on stays near the processor
_LN2 = np.log(2)
_BOUND = 1e6  # ranks after every sigma


@dataclass(frozen=True)
class Merged:
    """light: the merged map. came_from: ndarray (H, W) uint8, the number of the photo that is best exposed there."""

    light: LightMap
    came_from: np.ndarray

    def shares(self, photos: int) -> tuple[float, ...]:
        """What share of the map came from each of so many photos."""
        return tuple(float(n) for n in np.bincount(self.came_from.ravel(), minlength=photos) / self.came_from.size)


def register(maps: Sequence[LightMap], shifts: Sequence[tuple[int, int]]) -> list[LightMap]:
    """Move light maps by the shifts that bracket.shifts_of found, and cut them to what they share.

    Raises BadInput when less than half is shared.
    """
    layers = (shared([getattr(one, name) for one in maps], shifts) for name in LAYERS)
    return [
        replace(one, luminance=luminance, luma=luma, extremes=extremes)
        for one, luminance, luma, extremes in zip(maps, *layers, strict=True)
    ]


def merge(maps: Sequence[LightMap]) -> Merged:
    """One light map from several of the same scene, in register.

    Luminance is a mean weighted by 1/sigma²; a photo that contradicts the best-exposed one at a pixel (something moved)
    is left out there. Luma, by which sigma is looked up, is that of the best-exposed photo: the errors of one phone's
    response are common to all its photos, so that their mean is hardly surer than the best. Where every photo is blown,
    the highest "at least" stands; where every one is black, the lowest "at most".
    Raises BadInput for no maps, more than 255, or different sizes.
    """
    if not 1 <= len(maps) <= MOST_MAPS or len({one.luma.shape for one in maps}) != 1:
        sizes = ", ".join("{} x {}".format(*one.size) for one in maps) or "none"
        raise BadInput(f"1 to {MOST_MAPS} light maps of one size can be merged; got {sizes}")
    out = Merged(replace(maps[0], **{name: getattr(maps[0], name).copy() for name in LAYERS}), _zeros(maps[0].luma))
    for top in range(0, maps[0].luma.shape[0], STRIPE_ROWS):
        rows = np.s_[top : top + STRIPE_ROWS]
        best, came_from = _best([_window(one, rows) for one in maps])
        best.luminance[:] = _mean([_window(one, rows) for one in maps], best)
        for name in LAYERS:
            getattr(out.light, name)[rows] = getattr(best, name)
        out.came_from[rows] = came_from
    sigma_by_code = np.maximum.reduce([one.sigma_by_code for one in maps])
    return replace(
        out, light=replace(out.light, sigma_by_code=sigma_by_code, edge_sigma=max(m.edge_sigma for m in maps))
    )


def _window(one: LightMap, rows: slice) -> LightMap:
    return replace(one, **{name: np.ascontiguousarray(getattr(one, name)[rows]) for name in LAYERS})


def _zeros(like: np.ndarray) -> np.ndarray:
    return np.zeros(like.shape, np.uint8)


def _mean(maps: Sequence[LightMap], best: LightMap) -> np.ndarray:
    """Luminance by all photos that are well exposed and agree with the best, weighted by 1/sigma². (H, W) float32"""
    cv2 = load_opencv()
    total, weights = np.zeros_like(best.luminance), np.zeros_like(best.luminance)
    room = _look_up(best, _room(best))
    for one in maps:
        weight = _look_up(one, one.sigma_by_code**-2.0)
        limit = cv2.multiply(cv2.add(room, _look_up(one, _room(one))), cv2.min(one.luminance, best.luminance))
        apart = cv2.compare(cv2.absdiff(one.luminance, best.luminance), limit, cv2.CMP_GT)
        np.putmask(weight, cv2.bitwise_or(apart, one.extremes), 0)
        cv2.accumulateProduct(weight, one.luminance, total)
        cv2.accumulate(weight, weights)
    return np.divide(total, weights, out=best.luminance.copy(), where=weights > 0)


def _room(one: LightMap) -> np.ndarray:
    """Half of what two maps may differ by and still show the same thing, by code: a share of the smaller one. (256,)"""
    return np.expm1(one.sigma_by_code * (GHOST_SIGMAS * _LN2)) + GHOST_SHARE / 2


def _look_up(one: LightMap, table: np.ndarray) -> np.ndarray:
    return load_opencv().LUT(one.luma, table.astype(np.float32))


def _best(maps: Sequence[LightMap]) -> tuple[LightMap, np.ndarray]:
    """The best-exposed photo's values at each pixel, and its number; among bounds the tightest."""
    cv2 = load_opencv()
    best, came_from = replace(maps[0], **{name: getattr(maps[0], name).copy() for name in LAYERS}), _zeros(maps[0].luma)
    rank = _rank(maps[0])
    for number, one in enumerate(maps[1:], start=1):
        other = _rank(one)
        better = cv2.compare(other, rank, cv2.CMP_LT)
        bounds = cv2.bitwise_and(best.extremes, one.extremes)  # blown in both, or black in both
        if bounds.any():
            higher = cv2.compare(one.luminance, best.luminance, cv2.CMP_GT)
            tighter = np.where(bounds == BLOWN, higher, cv2.compare(one.luminance, best.luminance, cv2.CMP_LT))
            np.copyto(better, tighter, where=bounds != 0)
        for name in LAYERS:
            cv2.copyTo(getattr(one, name), better, getattr(best, name))
        cv2.copyTo(other, better, rank)
        np.putmask(came_from, better, number)
    return best, came_from


def _rank(one: LightMap) -> np.ndarray:
    """Sigma where well exposed, else more than any. (H, W) float32"""
    rank = _look_up(one, one.sigma_by_code)
    np.putmask(rank, one.extremes, _BOUND)
    return rank
