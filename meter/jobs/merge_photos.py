"""Several photos of one scene at different exposures -> one snapshot that holds more stops than any of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from meter.errors import BadInput
from meter.jobs.find_profile import camera_of, check_same_camera
from meter.jobs.meter_photo import Snap
from meter.pixels.bracket import shifts_of
from meter.pixels.decode import load_opencv
from meter.pixels.light_map import LightMap, small_map
from meter.pixels.merge import merge, register

LEAST_ALIKE = 0.3  # rank correlation of detail; one place gave 0.6 to 1, two places -0.1 to 0.1 (simulated cameras)
LEAST_COMMON = 500  # cells of two small maps that must be neither blown nor black in both
DETAIL_CELLS = 8.0  # detail is what differs from the surroundings of this sigma
MOST_PHOTOS = 15


@dataclass(frozen=True)
class MergedPhotos:
    """One light map from several photos.

    shares: what share of the map each photo gave, in the order given. window: which part of the photo with the largest
    share the map shows, as (left, top, right, bottom) fractions. best: the number of that photo.
    """

    light: LightMap
    shares: tuple[float, ...]
    best: int
    window: tuple[float, float, float, float]


def merge_photos(shots: Sequence[Snap], paths: Sequence[Path]) -> MergedPhotos:
    """Put photos of one scene in register and take each place from where it is best exposed.

    Raises BadInput for photos of several cameras, sizes or scenes, and for more than MOST_PHOTOS.
    """
    if len(shots) > MOST_PHOTOS:
        raise BadInput(f"{len(shots)} photos are more than the {MOST_PHOTOS} that one reading merges: name fewer")
    check_same_camera([camera_of(shot.snapshot) for shot in shots], paths)
    maps = [shot.light for shot in shots]
    if odd := next((path for one, path in zip(maps, paths, strict=True) if one.size != maps[0].size), None):
        raise BadInput(f"{odd} and {paths[0]} differ in size or way up: merge photos of one scene taken alike")
    stops = [-shot.snapshot.ev100 for shot in shots]
    shifts = shifts_of([one.luma for one in maps], stops)
    in_register = register(maps, shifts)
    _check_one_scene([small_map(one) for one in in_register], stops, paths)
    merged = merge(in_register)
    shares = merged.shares(len(shots))
    best = int(np.argmax(shares))
    return MergedPhotos(merged.light, shares, best, _window(shifts, best, maps[0].size, merged.light.size))


def _window(
    shifts: Sequence[tuple[int, int]], number: int, size: tuple[int, int], part: tuple[int, int]
) -> tuple[float, float, float, float]:
    """The part of photo `number` that all photos show, as fractions."""
    left = max(0, *(right for right, _ in shifts)) - shifts[number][0]
    top = max(0, *(down for _, down in shifts)) - shifts[number][1]
    return left / size[0], top / size[1], (left + part[0]) / size[0], (top + part[1]) / size[1]


def _check_one_scene(small: Sequence[LightMap], stops: Sequence[float], paths: Sequence[Path]) -> None:
    """Refuse a photo whose detail is not that of its neighbour in exposure."""
    for a, b in pairwise(np.argsort(stops, kind="stable")):
        alike = likeness(small[a], small[b])
        if alike is None:
            raise BadInput(f"{paths[a]} and {paths[b]} have too little in common to compare: add a photo between them")
        if alike < LEAST_ALIKE:
            raise BadInput(f"{paths[b]} does not show the scene of {paths[a]}: merge photos of one scene only")


def likeness(a: LightMap, b: LightMap) -> float | None:
    """Rank correlation of the detail of two maps where both are well exposed; None where that is hardly anywhere."""
    cv2 = load_opencv()
    both = (a.extremes == 0) & (b.extremes == 0)
    if both.sum() < LEAST_COMMON:
        return None
    ranks = []
    for one in (a, b):
        level = np.log2(np.maximum(one.luminance, 1e-6))
        detail = (level - cv2.GaussianBlur(level, (0, 0), DETAIL_CELLS))[both]
        rank = np.empty(detail.size)
        rank[np.argsort(detail, kind="stable")] = np.arange(detail.size)
        ranks.append(rank)
    return float(np.corrcoef(*ranks)[0, 1])
