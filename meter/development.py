"""What a developed negative says: densities per zone placed -> slope, exposure index and development, with sigmas.

Densities are net, above base plus fog. One zone is one stop, log10(2) of log exposure. The two relations used:
the speed point is density 0.10 above base plus fog (ISO 6:1993, secondary) and belongs on Zone I (Zone System, memory);
development N-n spreads the ranges of reference tables, average gradient G = range / ((7 - n) * log10 2) (computed).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, inf, isfinite, log2, log10, sqrt

from meter.errors import BadInput
from meter.stops import nearest_third

STOP = log10(2)  # log exposure of one stop
SPEED_DENSITY = 0.10  # net density of the speed point; ISO 6:1993 (secondary)
SPEED_ZONE = 1.0  # where the Zone System wants it (memory)
ISO_SPEED_ZONE = 5 - log2(10)  # ISO 6 has it 10:1 below the metered mid-tone: Zone 1.68 (computed)
NORMAL_STOPS = 7.0  # Zone I to Zone VIII
STRAIGHT = (3.0, 8.0)  # zones on which the curve is taken as a straight line
DENSITY_RANGE = {  # net density of Zone VIII above Zone I for normal development
    "diffusion": 1.20,  # 1.25-1.35 less 0.10 (memory)
    "condenser": 1.10,  # 1.15-1.25 less 0.10 (memory)
}
DENSITY_SIGMA = 0.02  # of a densitometer reading; our assumption
SCAN_DENSITY_SIGMA = 0.04  # of a scanned one: stray light and a scanner's own curve; our assumption
PLACEMENT_SIGMA = 1 / 3  # of a zone: meter, shutter and iris together; our assumption [stops]
REACH = 0.75  # how far below the lowest reading the toe may be continued [zones]; our choice
SAME_ZONE = 0.25  # patches this near are one point of the toe [zones]; our choice
NO_TOE_SIGMA = 0.05  # average gradient taken from the straight part alone: it reads up to a tenth steep; our assumption
TIMES = {  # developing time against normal, low and high; memory, no maker's figure
    -2.0: (0.65, 0.70), -1.0: (0.75, 0.85), 0.0: (1.0, 1.0), 1.0: (1.20, 1.40), 2.0: (1.50, 1.70),
}  # fmt: skip


@dataclass(frozen=True)
class NegativePatch:
    """A part of the negative: the zone it was placed on and its net density. Sigmas in stops and in density.

    name: of the part; source: the file it was read from, where that is worth a word.
    """

    zone: float
    density: float
    density_sigma: float = DENSITY_SIGMA
    zone_sigma: float = PLACEMENT_SIGMA
    name: str = ""
    source: str = ""

    def __post_init__(self):
        if not (-2 <= self.zone <= 14 and -0.5 <= self.density <= 6):
            raise BadInput(f"zone {self.zone:g} with a net density of {self.density:g} is no reading of a negative")
        if not (0 < self.density_sigma < inf and 0 <= self.zone_sigma < inf):
            raise BadInput(f"a density needs a sigma above 0; got {self.density_sigma} and {self.zone_sigma} stops")


@dataclass(frozen=True)
class Estimate:
    """A value and its standard uncertainty, in the same unit."""

    value: float
    sigma: float


@dataclass(frozen=True)
class Line:
    """Net density = at_middle + slope * (zone - middle), fitted to `count` patches. slope: density per zone."""

    slope: Estimate
    at_middle: Estimate
    middle: float
    count: int
    scatter: float

    def density(self, zone: float) -> Estimate:
        """The line's net density at a zone, with the sigma of the fit."""
        away = zone - self.middle
        return Estimate(
            self.at_middle.value + self.slope.value * away, hypot(self.at_middle.sigma, self.slope.sigma * away)
        )


def fit_line(patches: Sequence[NegativePatch]) -> Line | None:
    """Least squares through the patches on Zones III to VIII; None with fewer than two different zones there.

    The sigma of one patch is the larger of what was stated (density, and zone times slope) and what the patches
    scatter about the line, so that neither a lucky fit nor a modest claim makes the slope look better than it is.
    """
    used = [p for p in patches if STRAIGHT[0] - 0.5 <= p.zone <= STRAIGHT[1] + 0.5]
    if len({p.zone for p in used}) < 2:
        return None
    middle = sum(p.zone for p in used) / len(used)
    mean = sum(p.density for p in used) / len(used)
    spread = sum((p.zone - middle) ** 2 for p in used)
    slope = sum((p.zone - middle) * (p.density - mean) for p in used) / spread
    squares = sum((p.density - mean - slope * (p.zone - middle)) ** 2 for p in used)
    scatter = sqrt(squares / (len(used) - 2)) if len(used) > 2 else 0.0
    stated = sqrt(sum(p.density_sigma**2 + (slope * p.zone_sigma) ** 2 for p in used) / len(used))
    sigma = max(scatter, stated)
    return Line(
        Estimate(slope, sigma / sqrt(spread)), Estimate(mean, sigma / sqrt(len(used))), middle, len(used), scatter
    )


def speed_zone(patches: Sequence[NegativePatch]) -> Estimate | None:
    """The zone whose net density is 0.10, between two patches or a little below the lowest; None out of reach.

    Patches of nearly one zone (several frames) count as their mean. Its sigma: the density's, divided by the slope
    there, and the zone's own. [stops]
    """
    points = _pooled(patches)
    for low, high in pairwise(points):
        between = low.density <= SPEED_DENSITY <= high.density
        below = low is points[0] and SPEED_DENSITY < low.density < high.density
        if not (between or below) or high.density - low.density < 1e-6:
            continue
        slope = (high.density - low.density) / (high.zone - low.zone)
        zone = low.zone + (SPEED_DENSITY - low.density) / slope
        if zone < points[0].zone - REACH:
            return None
        near = min((low, high), key=lambda p: abs(p.density - SPEED_DENSITY))
        return Estimate(zone, hypot(near.density_sigma / slope, near.zone_sigma))
    return None


def _pooled(patches: Sequence[NegativePatch]) -> list[NegativePatch]:
    """The patches by zone, those within SAME_ZONE of the first of them replaced by their mean.

    The doubt about density falls as patches agree; that about the zone stays the largest, since one meter and one
    shutter placed them all.
    """
    groups: list[list[NegativePatch]] = []
    for patch in sorted(patches, key=lambda p: p.zone):
        if groups and patch.zone - groups[-1][0].zone <= SAME_ZONE:
            groups[-1].append(patch)
        else:
            groups.append([patch])
    return [_mean_patch(group) for group in groups]


def _mean_patch(group: Sequence[NegativePatch]) -> NegativePatch:
    count = len(group)
    return NegativePatch(
        zone=sum(p.zone for p in group) / count,
        density=sum(p.density for p in group) / count,
        density_sigma=hypot(*(p.density_sigma for p in group)) / count,
        zone_sigma=max(p.zone_sigma for p in group),
    )


def average_gradient(line: Line, speed: Estimate | None) -> Estimate:
    """Density per unit of log exposure from the speed point to Zone VIII; without one, that of the straight part."""
    if speed is None:
        return Estimate(line.slope.value / STOP, hypot(line.slope.sigma / STOP, NO_TOE_SIGMA))
    top = line.density(STRAIGHT[1])
    run = (STRAIGHT[1] - speed.value) * STOP
    gradient = (top.value - SPEED_DENSITY) / run
    return Estimate(gradient, hypot(top.sigma / run, gradient * speed.sigma * STOP / run))


def gradient_for(development: float, density_range: float = DENSITY_RANGE["diffusion"]) -> float:
    """The average gradient with which 7 - n stops span the density range: N+1 has 6 stops, N-1 has 8.

    >>> round(gradient_for(0), 3), round(gradient_for(-1), 3), round(gradient_for(2), 3)
    (0.569, 0.498, 0.797)
    """
    return density_range / ((NORMAL_STOPS - development) * STOP)


def development_of(gradient: Estimate, density_range: float = DENSITY_RANGE["diffusion"]) -> Estimate:
    """The development that a gradient amounts to, in zones from N; inverse of gradient_for."""
    if not gradient.value > 0:
        raise BadInput(f"an average gradient of {gradient.value:.2f} is no negative: does density grow with the zone?")
    stops = density_range / (gradient.value * STOP)
    return Estimate(NORMAL_STOPS - stops, stops * gradient.sigma / gradient.value)


def time_factor(was: float, wanted: float) -> tuple[float, float] | None:
    """What to multiply the developing time by to go from one development to another, low and high (memory).

    None outside N-2 to N+2, where nobody's figure is known here.
    """
    if not all(-2 <= zones <= 2 for zones in (was, wanted)):
        return None
    (was_low, was_high), (low, high) = _time_against_normal(was), _time_against_normal(wanted)
    factors = (low / was_low, high / was_high)
    return min(factors), max(factors)


def _time_against_normal(zones: float) -> tuple[float, float]:
    for (z0, t0), (z1, t1) in pairwise(TIMES.items()):
        if z0 <= zones <= z1:
            part = (zones - z0) / (z1 - z0)
            return tuple(a * (b / a) ** part for a, b in zip(t0, t1, strict=True))
    raise BadInput(f"no developing times are known for N{zones:+.1f}")


@dataclass(frozen=True)
class Verdict:
    """What one roll says. Stops and zones as named; None where the patches do not reach.

    shift_stops: more exposure (plus) that puts the speed point on Zone I. ei: the index to use, on the series of
    thirds, when the shift exceeds its doubt; else the old one. iso_ei: the same with the speed point where ISO 6
    has it. development: what the negative got; change: zones of development to add (plus) to get what was wanted,
    and time_factor only when it exceeds its doubt.
    """

    line: Line | None
    speed: Estimate | None
    shift_stops: Estimate | None
    ei: float | None
    iso_ei: float | None
    gradient: Estimate | None
    development: Estimate | None
    wanted: float
    change: Estimate | None
    time_factor: tuple[float, float] | None
    cautions: tuple[str, ...]


def judge(
    patches: Sequence[NegativePatch], ei: float, wanted: float = 0.0, density_range: float = DENSITY_RANGE["diffusion"]
) -> Verdict:
    """Judge a developed roll from patches whose zones are known.

    ei: the index it was exposed at. wanted: the development asked for. [zones from N]
    Raises BadInput without two patches, or where density falls as the zone rises (a positive, or mixed-up spots).
    """
    if len({p.zone for p in patches}) < 2:
        raise BadInput("two parts on different zones are the least that can be judged: give more densities or spots")
    if not (0 < ei < inf and isfinite(wanted) and 0.3 <= density_range <= 3):
        raise BadInput(f"the EI must be above 0 and the density range 0.3 to 3; got {ei} and {density_range}")
    line, speed = fit_line(patches), speed_zone(patches)
    if line is not None and not line.slope.value > 0:
        raise BadInput("density does not grow with the zone: is this a negative, and is each spot on its own zone?")
    shift = speed and Estimate(speed.value - SPEED_ZONE, speed.sigma)
    gradient = line and average_gradient(line, speed)
    got = gradient and development_of(gradient, density_range)
    change = got and Estimate(wanted - got.value, got.sigma)
    return Verdict(
        line=line,
        speed=speed,
        shift_stops=shift,
        ei=shift and (rounded_ei(ei, shift.value) if matters(shift, 1 / 6) else ei),
        iso_ei=speed and rounded_ei(ei, speed.value - ISO_SPEED_ZONE),
        gradient=gradient,
        development=got,
        wanted=wanted,
        change=change,
        time_factor=time_factor(got.value, wanted) if change and matters(change, 0.25) else None,
        cautions=tuple(_cautions(patches, line, speed, change)),
    )


def matters(shift: Estimate, least: float) -> bool:
    """Whether a shift exceeds both its own sigma and the least worth acting on."""
    return abs(shift.value) >= max(shift.sigma, least)


def rounded_ei(ei: float, more_stops: float) -> float:
    """An exposure index with this much more exposure, on the third-stop series of film speeds (100, 125, 160 ...).

    >>> rounded_ei(400, 0.68), rounded_ei(100, -1)
    (250, 200)
    """
    thirds = round(nearest_third(log2(ei / 100) - more_stops) * 3)
    octave, step = divmod(thirds, 3)
    value = (100, 125, 160)[step] * 2.0**octave
    return {31.25: 32, 62.5: 64, 15.625: 16, 12.5: 12, 6.25: 6, 1280: 1250, 2560: 2500}.get(value, round(value))


def _cautions(patches: Sequence[NegativePatch], line: Line | None, speed: Estimate | None, change: Estimate | None):
    if speed is None:
        yield "no reading near density 0.10: place something on Zone I or II to judge the EI"
    if line is None:
        yield "fewer than two parts between Zones III and VIII: no slope, so no word on development"
        return
    if speed is None:
        yield "the average gradient is that of the straight part alone and may read a tenth too steep"
    if line.count == 2:
        yield "two parts make a line that cannot disagree with itself: a third would show the scatter"
    if max(p.zone for p in patches) < 6.5:
        yield "nothing on VII or VIII was judged: the highlights are an extrapolation"
    if change is not None and change.sigma > 1:
        yield "the doubt about development exceeds one zone: take more parts before changing the time"
