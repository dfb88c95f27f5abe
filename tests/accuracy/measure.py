"""Meter every camera's photo of every place and hold each reading against the truth."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import log2
from pathlib import Path

import numpy as np

from meter.jobs.meter_photo import Snap, snap
from meter.patch import Patch, reading_of
from meter.pixels.light_map import LightMap, small_map
from meter.pixels.spots import disc_patch, frame_patch, spot_radius
from meter.response import Profile
from sample_scenes.camera import Card, photograph
from sample_scenes.truth import Truth

NAMED = ("card", "shadow", "middle", "highlight")
GRID = (9, 7)  # further spots across the frame, so that every code value is met
SPOT_DEGREES = 2.0
FLAT = np.zeros(256, np.float32)


@dataclass(frozen=True)
class Measure:
    """One reading held against the truth. error: reading less truth; sigma: as stated. [stops]

    what: "average", one of NAMED, or "grid". code: mean encoded luma of the patch.
    """

    camera: str
    scene: str
    group: str
    what: str
    error: float
    sigma: float
    bound: str
    code: float

    def within(self, sigmas: float) -> bool:
        """Whether the truth lies inside the stated interval; a bound is open on its own side."""
        low = self.bound != "at_most" and self.error > sigmas * self.sigma
        high = self.bound != "at_least" and self.error < -sigmas * self.sigma
        return not (low or high)


ProfileOf = Callable[[Card], Profile | None]


def no_profile(card: Card) -> None:
    """As a camera is before anyone calibrated it."""
    return


def measures(
    truths: Iterable[Truth], cameras: Iterable[Card], folder: Path, profile_of: ProfileOf = no_profile, seed: int = 0
) -> Iterator[Measure]:
    """Photograph each place with each camera and yield every reading. folder: for the photos."""
    truths = tuple(truths)
    for card in cameras:
        for truth in truths:
            path = folder / f"{card.name}-{truth.name}.jpg"
            path.write_bytes(photograph(truth.rgb, card, seed=seed).jpeg)
            yield from _of_photo(truth, card, snap(path, profile=profile_of(card)))


def _of_photo(truth: Truth, card: Card, shot: Snap) -> Iterator[Measure]:
    light = shot.light
    known = LightMap(truth.luminance, light.luma, light.extremes * 0, FLAT)
    frame = frame_patch(small_map(light))

    def measure(what: str, metered: Patch, true_luminance: float, code: float) -> Measure:
        reading = reading_of(metered, frame)
        error = log2(reading.luminance() / true_luminance)
        return Measure(card.name, truth.name, card.group, what, error, reading.sigma, reading.bound, code)

    yield measure("average", frame, float(truth.luminance.mean()), float(light.luma.mean()))
    for what, x, y, degrees in _places(truth):
        radius = spot_radius(degrees, truth.focal_35mm, light.size)
        true = disc_patch(known, x, y, radius).luminance
        yield measure(what, disc_patch(light, x, y, radius), true, _code(light, x, y, radius))


def _places(truth: Truth) -> Iterator[tuple[str, float, float, float]]:
    for name in NAMED:
        spot = truth.find(name)
        yield name, spot.x, spot.y, spot.degrees
    for column in range(GRID[0]):
        for row in range(GRID[1]):
            yield "grid", (column + 0.5) / GRID[0], (row + 0.5) / GRID[1], SPOT_DEGREES


def _code(light: LightMap, x: float, y: float, radius: float) -> float:
    codes = LightMap(light.luma.astype(np.float32), light.luma, light.extremes, FLAT)
    return disc_patch(codes, x, y, radius).luminance
