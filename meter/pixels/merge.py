"""Several photos of one scene at different exposures -> one light map, each pixel from where it is best exposed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meter.errors import BadInput
from meter.pixels.bracket import shared
from meter.pixels.decode import load_opencv
from meter.pixels.light_map import BLACK, BLOWN, LightMap

MOST_MAPS = 255  # came_from counts in a byte
GHOST_SIGMAS, GHOST_SHARE = 3.0, 0.1  # maps show different things where they differ by more sigmas and this share more
_LN2 = np.float32(np.log(2))


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
    layers = (shared([getattr(one, name) for one in maps], shifts) for name in ("luminance", "luma", "extremes"))
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
    best, came_from = _best(maps)
    total, weights = np.zeros_like(best.luminance), np.zeros_like(best.luminance)
    for one in maps:
        weight = _weights(one, best)
        total += weight * one.luminance
        weights += weight
    known = weights > 0
    luminance = np.divide(total, weights, out=best.luminance, where=known)
    sigma_by_code = np.maximum.reduce([one.sigma_by_code for one in maps])
    edge_sigma = max(one.edge_sigma for one in maps)
    return Merged(replace(best, luminance=luminance, sigma_by_code=sigma_by_code, edge_sigma=edge_sigma), came_from)


def _weights(one: LightMap, best: LightMap) -> np.ndarray:
    """1/sigma² where this map is well exposed and agrees with the best one, else 0. (H, W) float32"""
    cv2 = load_opencv()
    sigma = one.sigma_by_code.astype(np.float32)
    weight = cv2.LUT(one.luma, (sigma**-2).reshape(256))
    limit = np.hypot(cv2.LUT(one.luma, sigma), cv2.LUT(best.luma, best.sigma_by_code.astype(np.float32)))
    limit = np.expm1(limit * (GHOST_SIGMAS * _LN2)) + np.float32(GHOST_SHARE)
    apart = np.maximum(one.luminance, best.luminance) - np.minimum(one.luminance, best.luminance) * (1 + limit)
    weight[(apart > 0) | (one.extremes != 0)] = 0
    return weight


def _best(maps: Sequence[LightMap]) -> tuple[LightMap, np.ndarray]:
    """The best-exposed photo's values at each pixel, and its number; among bounds the tightest."""
    cv2 = load_opencv()
    first = maps[0]
    luminance, luma, extremes = first.luminance.copy(), first.luma.copy(), first.extremes.copy()
    rank = cv2.LUT(luma, first.sigma_by_code.astype(np.float32))
    came_from = np.zeros(luma.shape, np.uint8)
    for number, one in enumerate(maps[1:], start=1):
        sigma = cv2.LUT(one.luma, one.sigma_by_code.astype(np.float32))
        higher = (extremes == BLOWN) & (one.extremes == BLOWN) & (one.luminance > luminance)
        lower = (extremes == BLACK) & (one.extremes == BLACK) & (one.luminance < luminance)
        good = one.extremes == 0
        better = (good & ((extremes != 0) | (sigma < rank))) | higher | lower
        for ours, theirs in ((luminance, one.luminance), (luma, one.luma), (extremes, one.extremes), (rank, sigma)):
            np.copyto(ours, theirs, where=better)
        came_from[better] = number
    return replace(first, luminance=luminance, luma=luma, extremes=extremes), came_from
