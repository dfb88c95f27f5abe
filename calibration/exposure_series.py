"""What an exposure series is, which ones can be used, and which of their samples."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meter.errors import BadInput

FRAMES = (3, 30)  # fewest and most in one scene
LEAST_RANGE = 1.0  # between the darkest and the brightest frame of a scene [stops]
LEAST_SAMPLES = 60  # of one scene, each seen well in two frames or more
BLACK_CODE = 3.5  # a channel at or below it says nothing but "dark"
WHITE_CODE = 250.5  # a pixel with a channel at or above it is blown, or desaturated on its way there
SAMPLES = 2000  # of one scene that the fit looks at
SHARE_SEEN = 0.02  # of a scene's samples that must be well exposed in at least two frames


@dataclass(frozen=True)
class Frame:
    """One photo of a series, brought down to a grid that the whole scene shares.

    rgb: encoded codes 0 to 255, uint8 or float (cell means keep what rounding would lose). (rows, columns, 3), RGB
    stops: exposure that it got by its EXIF, log2(t·S/N²) plus any constant. [stops]
    usable: False where the cell moved, lies on an edge, or is misaligned. (rows, columns), None for all usable
    name: what a message calls it. camera: make, model and lens as text, so that mixed ones are noticed.
    """

    rgb: np.ndarray
    stops: float
    usable: np.ndarray | None = None
    name: str = ""
    camera: str = ""


@dataclass(frozen=True)
class Samples:
    """What the fit sees of a scene.

    codes: (frames, samples, 3) float32. seen: True where that code can be trusted, same shape.
    stops: (frames,), with mean 0 over the scene. names: of the frames.
    """

    codes: np.ndarray
    seen: np.ndarray
    stops: np.ndarray
    names: tuple[str, ...]


def check(scenes: Sequence[Sequence[Frame]]) -> None:
    """Raise BadInput with one sentence unless these series can give a response."""
    if not scenes or not any(len(scene) for scene in scenes):
        raise BadInput(
            "no photos were given; take three or more of one still scene, from 2 stops under to 2 stops over"
        )
    cameras = sorted({frame.camera for scene in scenes for frame in scene})
    if len(cameras) > 1:
        raise BadInput(
            f"these photos come from different cameras or lenses ({' / '.join(cameras)}); give one at a time"
        )
    for scene in scenes:
        _check_scene(scene)


def _check_scene(scene: Sequence[Frame]) -> None:
    here = f"the series from {scene[0].name}" if scene and scene[0].name else "the series"
    if not FRAMES[0] <= len(scene) <= FRAMES[1]:
        raise BadInput(
            f"{here} has {len(scene)} photo(s); {FRAMES[0]} to {FRAMES[1]} of one still scene are needed, "
            "for example at -2, -1, 0, +1 and +2"
        )
    for frame in scene:
        if frame.rgb.ndim != 3 or frame.rgb.shape[2] != 3 or frame.rgb.shape != scene[0].rgb.shape:
            raise BadInput(
                f"{frame.name or 'a photo'} has another size or shape ({frame.rgb.shape}) than {here} "
                f"({scene[0].rgb.shape}); give photos of one size and one way up"
            )
    exposures = [frame.stops for frame in scene]
    if not np.isfinite(exposures).all():
        raise BadInput(f"{here} holds a photo without a finite exposure; its EXIF must state time, f-number and ISO")
    span = max(exposures) - min(exposures)
    if span < 0.05:
        raise BadInput(
            f"all photos of {here} have the same exposure; use exposure bias (-2, 0, +2) or change ISO or time by hand"
        )
    if span < LEAST_RANGE:
        raise BadInput(
            f"{here} spans only {span:.1f} stops of exposure; at least {LEAST_RANGE:g} is needed and 4 are better: "
            "take frames at -2, 0 and +2"
        )


def pick(scene: Sequence[Frame], seed: int = 0) -> Samples:
    """At most SAMPLES cells, spread evenly over brightness. Raises BadInput when too few are well exposed."""
    codes = np.stack([np.asarray(frame.rgb, np.float32).reshape(-1, 3) for frame in scene])
    seen = (codes > BLACK_CODE) & (codes.max(axis=2, keepdims=True) < WHITE_CODE)
    for row, frame in zip(seen, scene, strict=True):
        if frame.usable is not None:
            row &= frame.usable.reshape(-1, 1)
    good = seen.all(axis=2).sum(axis=0) >= 2
    if good.sum() < max(LEAST_SAMPLES, SHARE_SEEN * good.size):
        raise BadInput(
            f"only {good.sum()} of {good.size} places in {scene[0].name or 'a series'} are still and "
            "neither blown nor black in two photos or more; support the phone, and choose a still scene with mid-tones"
        )
    chosen = _evenly(codes, good, np.random.default_rng(seed))
    stops = np.array([frame.stops for frame in scene], float)
    names = tuple(frame.name or f"photo {number}" for number, frame in enumerate(scene, start=1))
    return Samples(codes[:, chosen], seen[:, chosen], stops - stops.mean(), names)


def _evenly(codes: np.ndarray, good: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Indices of good samples, rare brightnesses preferred over common ones."""
    indices = np.flatnonzero(good)
    if len(indices) <= SAMPLES:
        return indices
    level = codes[:, indices].mean(axis=(0, 2)).astype(int) // 8
    rarity = 1 / np.bincount(level, minlength=32)[level]
    return np.sort(rng.choice(indices, SAMPLES, replace=False, p=rarity / rarity.sum()))
