"""A lens with its marks and iris, a shutter with marked and measured times, a back; together a kit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, log2
from types import MappingProxyType

from meter.errors import BadInput
from meter.stops import aperture_stops, click_positions, exact_f_number, exact_time, f_number_at, time_text

FULL_FRAME_DIAGONAL_MM = hypot(36, 24)
CLICKS_PER_STOP = {"continuous": None, "whole": 1, "half": 2, "third": 3}

FRAME_MM = {  # width along the film, height across it [mm]; nominal gates on 120 film: measure your own
    "6x4.5": (41.5, 56.0), "6x6": (56.0, 56.0), "6x7": (70.0, 56.0), "6x8": (77.0, 56.0), "6x9": (84.0, 56.0),
    "6x12": (118.0, 56.0), "6x17": (168.0, 56.0),
}  # fmt: skip
FRAMES_ON_120 = {"6x4.5": 16, "6x6": 12, "6x7": 10, "6x8": 9, "6x9": 8, "6x12": 6, "6x17": 4}  # secondary


@dataclass(frozen=True)
class ScaleFact:
    """One pair read off an engraved depth-of-field scale. far_m is inf where the scale shows infinity. [m]"""

    f_number: float
    focus_m: float
    near_m: float
    far_m: float


@dataclass(frozen=True)
class MarkPair:
    """Where an aperture stands between two engraved marks (equal when it stands on one)."""

    below: float
    above: float
    fraction: float


@dataclass(frozen=True)
class Lens:
    """marks: engraved f-numbers, widest first. iris: how it stops, a key of CLICKS_PER_STOP. Lengths as named."""

    focal_length_mm: float
    marks: tuple[float, ...]
    iris: str = "continuous"
    nearest_focus_m: float = 1.0
    distance_marks_m: tuple[float, ...] = ()
    distance_marks_ft: tuple[float, ...] = ()
    depth_scale: tuple[ScaleFact, ...] = ()

    @property
    def exact_marks(self) -> tuple[float, ...]:
        """The f-numbers that the marks stand for, widest first."""
        return tuple(exact_f_number(mark) for mark in self.marks)

    @property
    def stops_range(self) -> tuple[float, float]:
        """Widest and smallest aperture in stops from f/1."""
        exact = self.exact_marks
        return aperture_stops(exact[0]), aperture_stops(exact[-1])

    def reaches(self, f_number: float) -> bool:
        """Whether the iris can be set to this f-number, to within a fiftieth of a stop at its ends."""
        low, high = self.stops_range
        return low - 0.02 <= aperture_stops(f_number) <= high + 0.02

    def settable(self, f_number: float) -> float:
        """The nearest f-number that the iris can stand at: itself for a continuous one within range."""
        low, high = self.stops_range
        stops = min(max(aperture_stops(f_number), low), high)
        clicks = CLICKS_PER_STOP[self.iris]
        if clicks is not None:
            places = click_positions(self.exact_marks, clicks)
            stops = min(places, key=lambda place: abs(place - stops))
        return f_number_at(stops)

    def between_marks(self, f_number: float) -> MarkPair:
        """The engraved marks around an f-number, and how far the pointer stands from the lower to the upper (0-1).

        One in range that lies on a mark to within a hundredth of a stop has that mark on both sides and fraction 0.
        """
        stops = aperture_stops(f_number)
        places = [aperture_stops(exact) for exact in self.exact_marks]
        for mark, place in zip(self.marks, places, strict=True):
            if abs(stops - place) < 0.01:
                return MarkPair(mark, mark, 0.0)
        for (low, low_place), (high, high_place) in pairwise(zip(self.marks, places, strict=True)):
            if low_place < stops < high_place:
                return MarkPair(low, high, (stops - low_place) / (high_place - low_place))
        raise BadInput(f"f/{f_number:.3g} lies outside this lens, f/{self.marks[0]:g} to f/{self.marks[-1]:g}")


@dataclass(frozen=True)
class Speed:
    """One engraved shutter time. label as engraved; marked_s what it stands for; measured_s what it gives. [s]"""

    label: str
    marked_s: float
    measured_s: float | None = None
    measured_sigma_stops: float | None = None

    @property
    def time_s(self) -> float:
        """The time the film gets: measured where known, else what the mark stands for. [s]"""
        return self.marked_s if self.measured_s is None else self.measured_s

    @property
    def drift_stops(self) -> float:
        """How much more exposure the shutter gives than its mark says; negative when it runs fast. [stops]"""
        return log2(self.time_s / self.marked_s)


@dataclass(frozen=True)
class Shutter:
    """A leaf shutter: speeds from fastest to slowest, and whether it has B."""

    speeds: tuple[Speed, ...]
    bulb: bool = True


@dataclass(frozen=True)
class Back:
    """What one frame measures and how many a roll gives. frame: width along the film, height across it. [mm]"""

    format: str
    width_mm: float
    height_mm: float
    frames: int

    @property
    def diagonal_mm(self) -> float:
        return hypot(self.width_mm, self.height_mm)


@dataclass(frozen=True)
class Kit:
    """Camera, lens, back and the film usually in it. film and ei are defaults that an option overrides."""

    slug: str
    name: str
    lens: Lens
    shutter: Shutter
    back: Back
    film: str | None = None
    ei: float | None = None
    notes: tuple[str, ...] = ()

    @property
    def focal_35mm(self) -> float:
        """Focal length that gives the same diagonal angle on 36 x 24 mm. [mm]"""
        return self.lens.focal_length_mm * FULL_FRAME_DIAGONAL_MM / self.back.diagonal_mm

    @property
    def handheld_s(self) -> float:
        """Longest time to hold by hand, 1/(equivalent focal length); common practice (memory). [s]"""
        return 1 / self.focal_35mm


def shutter_from_marks(
    times_s: Sequence[float],
    measured: Mapping[float, float],
    bulb: bool = True,
    sigma_stops: Mapping[float, float | None] = MappingProxyType({}),
) -> Shutter:
    """A shutter from its engraved times and what a test measured of them.

    Times of the modern doubling series are made exact (1/125 -> 1/128); in an older series (1/5, 1/10, 1/25 ...) each
    stands for itself. times_s and the keys of measured and sigma_stops use the engraved value. [s]
    """
    older = any(abs(exact_time(t) - t) < 1e-9 and not _is_power_of_two(t) for t in times_s)
    speeds = (
        Speed(time_text_of_mark(t), t if older else exact_time(t), measured.get(t), sigma_stops.get(t))
        for t in sorted(times_s)
    )
    return Shutter(tuple(speeds), bulb)


def _is_power_of_two(value: float) -> bool:
    return abs(log2(value) - round(log2(value))) < 1e-9


def time_text_of_mark(marked_s: float) -> str:
    """An engraved time as a person names it: 1/125, 1/2, 1 s, 4 s."""
    if marked_s < 1:
        return f"1/{1 / marked_s:.0f}"
    return time_text(marked_s)
