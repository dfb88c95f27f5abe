"""Several photos of one scene at different exposures -> one light map, each pixel from where it is best exposed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meter.errors import BadInput
from meter.pixels.bracket import shared
from meter.pixels.decode import load_opencv
from meter.pixels.light_map import BLACK, BLOWN, LightMap

STRIPE = 48  # rows merged at a time, so that what is in hand stays near the processor
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
    whole = _empty(maps)
    for top in range(0, maps[0].luma.shape[0], STRIPE):
        rows = np.s_[top : top + STRIPE]
        _merge_rows([_cut(one, rows) for one in maps], _cut(whole.light, rows), whole.came_from[rows])
    return whole


def _empty(maps: Sequence[LightMap]) -> Merged:
    """Room for the merged map, and the sigmas that are its own."""
    shape = maps[0].luma.shape
    light = LightMap(
        luminance=np.empty(shape, np.float32),
        luma=np.empty(shape, np.uint8),
        extremes=np.empty(shape, np.uint8),
        sigma_by_code=np.maximum.reduce([one.sigma_by_code for one in maps]),
        edge_sigma=max(one.edge_sigma for one in maps),
    )
    return Merged(light, np.zeros(shape, np.uint8))


def _cut(one: LightMap, rows: slice) -> LightMap:
    return replace(one, luminance=one.luminance[rows], luma=one.luma[rows], extremes=one.extremes[rows])


def _merge_rows(maps: Sequence[LightMap], best: LightMap, came_from: np.ndarray) -> None:
    """Merge some rows into the room that `best` and came_from have for them."""
    cv2 = load_opencv()
    sigmas = [cv2.LUT(one.luma, one.sigma_by_code.astype(np.float32)) for one in maps]
    rank = _choose(maps, sigmas, best, came_from)
    total, weights = np.zeros_like(best.luminance), np.zeros_like(best.luminance)
    for one, sigma in zip(maps, sigmas, strict=True):
        weight = _weights(one, sigma, best.luminance, rank)
        total += weight * one.luminance
        weights += weight
    np.divide(total, weights, out=best.luminance, where=weights > 0)


def _weights(one: LightMap, sigma: np.ndarray, luminance: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """1/sigma² where this map is well exposed and agrees with the best one, else 0. (rows, columns) float32

    sigma, rank: of this map and of the best. [stops] luminance: of the best. [cd/m²]
    """
    cv2 = load_opencv()
    most = cv2.exp(cv2.magnitude(sigma, rank) * (GHOST_SIGMAS * _LN2)) + np.float32(GHOST_SHARE)
    ghost = cv2.max(one.luminance, luminance) > cv2.min(one.luminance, luminance) * most
    return np.where(ghost | (one.extremes != 0), np.float32(0), 1 / (sigma * sigma))


def _choose(maps: Sequence[LightMap], sigmas: Sequence[np.ndarray], best: LightMap, came_from: np.ndarray) -> np.ndarray:
    """Put the best-exposed photo's values and number in place; among bounds the tightest. Returns its sigma. [stops]"""
    luminance, luma, extremes, rank = best.luminance, best.luma, best.extremes, sigmas[0].copy()
    for ours, theirs in ((luminance, maps[0].luminance), (luma, maps[0].luma), (extremes, maps[0].extremes)):
        ours[:] = theirs
    for number, (one, sigma) in enumerate(zip(maps[1:], sigmas[1:], strict=True), start=1):
        higher = (extremes == BLOWN) & (one.extremes == BLOWN) & (one.luminance > luminance)
        lower = (extremes == BLACK) & (one.extremes == BLACK) & (one.luminance < luminance)
        better = ((one.extremes == 0) & ((extremes != 0) | (sigma < rank))) | higher | lower
        for ours, theirs in ((luminance, one.luminance), (luma, one.luma), (extremes, one.extremes), (rank, sigma)):
            np.copyto(ours, theirs, where=better)
        np.copyto(came_from, np.uint8(number), where=better)
    return rank
