"""Depth of field of a thin lens: near and far, hyperfocal, the aperture and focus that a wanted range needs.

All distances count from the lens. An engraved scale counts from the film, about a focal length farther: for a 90 mm
lens (f/11, c = 0.06 mm) the depth shown here is 7 % too large at 3 m, 11 % at 2 m and 25 % at 1 m (computed). Pupil
magnification, field curvature and film flatness are left out. Formulas: design note, section 5 (standard, memory);
checked against Euler Math Toolbox's dof package and NAVEDTRA 14209 (tests/published/focus.toml).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf, isfinite

from meter.distance import metres_text
from meter.errors import BadInput
from meter.stops import aperture_stops

DIVISOR = 1500.0  # c = diagonal/1500: 0.2 mm on a print of 30 cm diagonal; other tables use 1200 to 1730 (secondary)
AIRY = 2.44  # Airy disc diameter = 2.44·lambda·N; twice the first zero of J1 over pi (textbook)
WAVELENGTH_MM = 550e-6  # middle of the visible band [mm]
DIFFRACTION_PART = 0.5  # named from here on: the Airy disc is half of c; common practice of ours, not published
CLOSE_FOCALS = 20  # nearer than this many focal lengths, film and lens as starting points differ by over 5 %


@dataclass(frozen=True)
class Depth:
    """What is sharp at one setting, near_m to far_m (inf where it reaches infinity). [m]"""

    near_m: float
    far_m: float

    def covers(self, near_m: float, far_m: float) -> bool:
        """Whether a range lies inside, to within a part in a million."""
        return self.near_m <= near_m * (1 + 1e-6) and self.far_m >= far_m * (1 - 1e-6)


@dataclass(frozen=True)
class SharpRange:
    """The focus that serves a range best, and the widest aperture that covers it from there."""

    focus_m: float
    f_number: float


@dataclass(frozen=True)
class GuessRoom:
    """How far the subject may stand from where the focus is set: metres and parts of the set distance (far: inf)."""

    nearer_m: float
    farther_m: float
    nearer_part: float
    farther_part: float


def circle_mm(diagonal_mm: float, divisor: float = DIVISOR) -> float:
    """Circle of confusion as a part of the frame's diagonal. Raises BadInput unless both are above 0. [mm]

    >>> round(circle_mm(89.64), 4)
    0.0598
    """
    return _length("the frame's diagonal", diagonal_mm) / _length("the divisor of the diagonal", divisor)


def hyperfocal_m(f_number: float, focal_mm: float, coc_mm: float) -> float:
    """The nearest focus that keeps infinity sharp, f²/(N·c) + f. Sharp from half of it on. [m]

    >>> round(hyperfocal_m(8, 50, 0.03), 3)
    10.467
    """
    return (_reach_mm(f_number, focal_mm, coc_mm) + focal_mm) / 1000


def depth_for(f_number: float, focus_m: float, focal_mm: float, coc_mm: float) -> Depth:
    """Near and far limit: s(H-f)/(H+s-2f) and s(H-f)/(H-s), far infinite from s = H on.

    focus_m: farther than the focal length; inf is allowed. Raises BadInput otherwise.

    >>> depth = depth_for(8, 4, 50, 0.03)
    >>> round(depth.near_m, 3), round(depth.far_m, 3)
    (2.9, 6.443)
    """
    reach, focal = _reach_mm(f_number, focal_mm, coc_mm) / 1000, focal_mm / 1000
    s = _beyond_focal(focus_m, focal)
    if s == inf:
        return Depth(reach, inf)
    near = s * reach / (reach + s - focal)
    return Depth(near, s * reach / (reach - s + focal) if s < (reach + focal) * (1 - 1e-12) else inf)


def blur_mm(distance_m: float, f_number: float, focus_m: float, focal_mm: float) -> float:
    """Diameter on the film of a point at distance_m, focused at focus_m: f²·|d-s|/(N·d·(s-f)). [mm]"""
    focal = focal_mm / 1000
    d, s = _beyond_focal(distance_m, focal), _beyond_focal(focus_m, focal)
    return _spread(d, s, focal) * focal_mm**2 / 1000 / _length("the f-number", f_number)


def needed_f_number(focus_m: float, near_m: float, far_m: float, focal_mm: float, coc_mm: float) -> float:
    """The widest aperture that keeps near_m to far_m sharp with the focus at focus_m. [f-number]"""
    focal = focal_mm / 1000
    s = _beyond_focal(focus_m, focal)
    spread = max(_spread(_beyond_focal(d, focal), s, focal) for d in (near_m, far_m))
    return max(spread * focal_mm**2 / 1000 / _length("the circle of confusion", coc_mm), 1e-9)


def even_focus_m(near_m: float, far_m: float) -> float:
    """The focus that blurs both ends of a range alike, 2·d1·d2/(d1+d2); far_m may be inf. [m]

    >>> even_focus_m(3.0, 6.0), even_focus_m(2.0, inf)
    (4.0, 4.0)
    """
    return 2 * near_m if far_m == inf else 2 * near_m * far_m / (near_m + far_m)


def sharp_range(near_m: float, far_m: float, focal_mm: float, coc_mm: float) -> SharpRange:
    """Focus and widest aperture for a range. Raises BadInput unless the near end comes first."""
    if not 0 < near_m < far_m:
        raise BadInput(f"a range needs a near end before its far end; got {near_m} m to {far_m} m")
    focus = even_focus_m(near_m, far_m)
    return SharpRange(focus, needed_f_number(focus, near_m, far_m, focal_mm, coc_mm))


def nearest_with_far(
    f_number: float, far_m: float, focal_mm: float, coc_mm: float, nearest_focus_m: float = 0.0
) -> tuple[float, float] | None:
    """Keep the far end and give up the near one: (focus, nearest sharp distance) at this aperture. [m]

    nearest_focus_m: where the lens's scale begins. None where nothing up to the far end is sharp from there on.
    """
    reach, focal = _reach_mm(f_number, focal_mm, coc_mm) / 1000, focal_mm / 1000
    focus = reach + focal if far_m == inf else far_m * (reach + focal) / (reach + far_m)
    focus = max(focus, nearest_focus_m)
    near_m = depth_for(f_number, focus, focal_mm, coc_mm).near_m
    return (focus, near_m) if near_m < far_m else None


def farthest_with_near(
    f_number: float, near_m: float, focal_mm: float, coc_mm: float, nearest_focus_m: float = 0.0
) -> tuple[float, float] | None:
    """Keep the near end and give up the far one: (focus, farthest sharp distance) at this aperture. [m]

    nearest_focus_m: where the lens's scale begins. None where that is too far away to keep the near end.
    """
    reach, focal = _reach_mm(f_number, focal_mm, coc_mm) / 1000, focal_mm / 1000
    focus = near_m * (reach - focal) / (reach - near_m) if near_m < reach else inf
    if focus < nearest_focus_m:
        return None
    return focus, depth_for(f_number, focus, focal_mm, coc_mm).far_m


def guess_room(depth: Depth, focus_m: float) -> GuessRoom:
    """How wrong a guessed focus distance may be before the subject leaves the depth of field.

    nearer_part 0.2: a subject really a fifth nearer than guessed is still just sharp.
    """
    nearer, farther = focus_m - depth.near_m, depth.far_m - focus_m
    if focus_m == inf:
        return GuessRoom(inf, inf, 1.0, inf)
    return GuessRoom(nearer, farther, nearer / focus_m, farther / focus_m)


def guess_f_number(focus_m: float, wrong_part: float, focal_mm: float, coc_mm: float) -> float:
    """The widest aperture that forgives a guess wrong by this part either way (0.25: a quarter). Raises BadInput."""
    most = 1 - focal_mm / 1000 / _beyond_focal(focus_m, focal_mm / 1000)  # so wrong, and the subject is at the lens
    if not 0 < wrong_part < most:
        raise BadInput(
            f"a guess of {metres_text(focus_m)} may be wrong by more than 0 % and less than {most * 100:.0f} %; "
            f"got {wrong_part * 100:g} %"
        )
    return needed_f_number(focus_m, focus_m * (1 - wrong_part), focus_m * (1 + wrong_part), focal_mm, coc_mm)


def airy_mm(f_number: float) -> float:
    """Diameter of the Airy disc at 550 nm, 2.44·lambda·N. [mm]

    >>> round(airy_mm(16) * 1000, 1)
    21.5
    """
    return AIRY * WAVELENGTH_MM * _length("the f-number", f_number)


def diffraction_f_number(coc_mm: float) -> float:
    """The f-number from which the Airy disc is half of c or more, so that stopping down gains less than it shows."""
    return DIFFRACTION_PART * coc_mm / (AIRY * WAVELENGTH_MM)


@dataclass(frozen=True)
class Remedy:
    """What would give the wanted range where no rung does.

    f_number: the widest aperture that would. stops: how much more light, film speed or time it takes, counted from
    from_f_number, the smallest aperture among the usable rungs. reachable: whether the lens stops down that far.
    give_near: set this focus at from_f_number and the far end stays sharp, from this distance on. [m, m]
    give_far: or set this one and the near end stays sharp, as far as this. Each None where the lens cannot. [m, m]
    """

    f_number: float
    stops: float
    from_f_number: float
    reachable: bool
    give_near: tuple[float, float] | None
    give_far: tuple[float, float] | None


@dataclass(frozen=True)
class RungFocus:
    """Depth on each rung of a ladder, at one focus; which rungs give exposure and depth; else what would.

    depths: one for each rung. both: indices of usable rungs that also cover the wanted range, widest aperture first.
    """

    focus_m: float
    depths: tuple[Depth, ...]
    both: tuple[int, ...]
    remedy: Remedy | None = None


def focus_ladder(
    f_numbers: Sequence[float],
    usable: Sequence[bool],
    *,
    focal_mm: float,
    coc_mm: float,
    smallest_f_number: float,
    nearest_focus_m: float = 0.0,
    focus_m: float | None = None,
    wanted: tuple[float, float] | None = None,
) -> RungFocus:
    """Join the rungs that give one exposure with what they keep sharp.

    f_numbers, usable: one for each rung; usable says that the exposure can be made. smallest_f_number: the lens's last.
    nearest_focus_m: where the lens's focus begins.
    focus_m: where the lens is focused; None takes the focus that serves the wanted range best.
    wanted: (near, far) to keep sharp, or None. Raises BadInput when both are None.
    """
    if focus_m is None and wanted is None:
        raise BadInput("depth on the ladder needs a focus distance or a range to keep sharp")
    focus = max(sharp_range(*wanted, focal_mm, coc_mm).focus_m, nearest_focus_m) if focus_m is None else focus_m
    depths = tuple(depth_for(n, focus, focal_mm, coc_mm) for n in f_numbers)
    if wanted is None:
        return RungFocus(focus, depths, ())
    fits = [i for i, ok in enumerate(usable) if ok and depths[i].covers(*wanted)]
    both = tuple(sorted(fits, key=lambda i: f_numbers[i]))
    best = max((n for n, ok in zip(f_numbers, usable, strict=True) if ok), default=None)
    if both or best is None:
        return RungFocus(focus, depths, both)
    needed = needed_f_number(focus, *wanted, focal_mm, coc_mm)
    stops = aperture_stops(needed) - aperture_stops(best)
    reachable = aperture_stops(needed) <= aperture_stops(smallest_f_number) + 0.02
    give_near = nearest_with_far(best, wanted[1], focal_mm, coc_mm, nearest_focus_m)
    give_far = farthest_with_near(best, wanted[0], focal_mm, coc_mm, nearest_focus_m)
    return RungFocus(focus, depths, (), Remedy(needed, stops, best, reachable, give_near, give_far))


def depths_over(
    f_numbers: Iterable[float], focuses_m: Iterable[float], focal_mm: float, coc_mm: float
) -> tuple[tuple[Depth, ...], ...]:
    """The depth-of-field table: a row for each focus distance, in it a Depth for each aperture."""
    apertures = tuple(f_numbers)
    return tuple(tuple(depth_for(n, s, focal_mm, coc_mm) for n in apertures) for s in focuses_m)


def _length(name: str, value: float) -> float:
    if not 0 < value < inf:
        raise BadInput(f"{name} must be above 0 and finite; got {value}")
    return value


def _reach_mm(f_number: float, focal_mm: float, coc_mm: float) -> float:
    """f²/(N·c), which is H - f. [mm]"""
    n, c = _length("the f-number", f_number), _length("the circle of confusion", coc_mm)
    return _length("the focal length", focal_mm) ** 2 / (n * c)


def _beyond_focal(distance_m: float, focal_m: float) -> float:
    if not distance_m > focal_m:
        raise BadInput(f"a distance must be beyond the focal length, {focal_m * 1000:g} mm; got {distance_m} m")
    return distance_m


def _spread(d: float, s: float, focal: float) -> float:
    """|d-s|/(d·(s-f)), the part of blur that distances decide, also at infinity. [1/m]"""
    if s == inf:
        return 0.0 if d == inf else 1 / d
    if d == inf:
        return 1 / (s - focal)
    return abs(d - s) / (d * (s - focal))


def is_close(focus_m: float, focal_mm: float) -> bool:
    """Whether the focus is so near that it matters from where a distance is counted."""
    return isfinite(focus_m) and focus_m < CLOSE_FOCALS * focal_mm / 1000
