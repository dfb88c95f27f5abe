"""Where to set focus and aperture on a kit's own lens, and what is sharp then."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, inf
from pathlib import Path

from meter.camera import CLICKS_PER_STOP, Kit, Lens, ScaleFact
from meter.distance import FOOT_M, check_focus, lens_place, metres_text, span_text
from meter.engraved import READING, Inference, Stricter, circle_stops, infer_circle, stricter
from meter.errors import BadInput
from meter.focus import (
    DIVISOR,
    Depth,
    GuessRoom,
    airy_mm,
    circle_mm,
    depth_for,
    depths_over,
    diffraction_f_number,
    farthest_with_near,
    guess_f_number,
    guess_room,
    hyperfocal_m,
    is_close,
    nearest_with_far,
    needed_f_number,
    sharp_range,
)
from meter.jobs.load_order import DEFAULT_KIT
from meter.shelf.reader import Shelf
from meter.stops import aperture_stops, aperture_text, click_positions, f_number_at

METRE_MARKS = (1.0, 1.5, 2.0, 3.0, 5.0, 10.0)  # rows of the table where a lens lists no marks of its own [m]


@dataclass(frozen=True)
class Circle:
    """The circle of confusion in use and why. divisor: the frame's diagonal over it. inference: where from a scale."""

    coc_mm: float
    divisor: float
    why: str
    inference: Inference | None = None
    stricter_mm: float | None = None
    stricter: tuple[Stricter, ...] = ()

    @property
    def stricter_stops(self) -> float:
        """How many stops to close beyond the scale for stricter_mm. [stops]"""
        return 0.0 if self.stricter_mm is None else circle_stops(self.coc_mm, self.stricter_mm)


@dataclass(frozen=True)
class Hyperfocal:
    """One aperture's hyperfocal distance: sharp from near_m, half of it, on. place: on the lens's own scale."""

    mark: float
    f_number: float
    focus_m: float
    near_m: float
    place: str


@dataclass(frozen=True)
class Setting:
    """One focus and aperture, what is sharp, and how far a guess may be wrong."""

    focus_m: float
    place: str
    f_number: float
    aperture: str
    depth: Depth
    room: GuessRoom


@dataclass(frozen=True)
class SharpAnswer:
    """How to keep a wanted range sharp.

    needed: the widest f-number that would do. setting: the one this lens can stand at, None where it cannot stop down
    so far; then give_near and give_far are the two ways to give something up at its smallest aperture, each None where
    its focus does not reach.
    """

    near_m: float
    far_m: float
    needed: float
    setting: Setting | None
    give_near: Setting | None = None
    give_far: Setting | None = None


@dataclass(frozen=True)
class GuessAnswer:
    """The aperture that forgives a wrong guess of the distance. setting is None where the lens has none that does."""

    focus_m: float
    wrong_part: float
    needed: float
    setting: Setting | None


@dataclass(frozen=True)
class FocusPlan:
    """All of it. focuses_m x apertures (exact) is the table `depths`; marks are the apertures as engraved."""

    kit: Kit
    circle: Circle
    marks: tuple[float, ...]
    hyperfocals: tuple[Hyperfocal, ...]
    focuses_m: tuple[float, ...]
    depths: tuple[tuple[Depth, ...], ...]
    setting: Setting | None
    sharp: SharpAnswer | None
    guess: GuessAnswer | None
    cautions: tuple[str, ...]


def plan_focus(
    kit_name: str | None = None,
    *,
    focus_m: float | None = None,
    f_number: float | None = None,
    wanted: tuple[float, float] | None = None,
    wrong_part: float | None = None,
    coc_mm: float | None = None,
    divisor: float | None = None,
    facts: Sequence[ScaleFact] = (),
    by_scale: bool = False,
    reading: float = READING,
    shelf_dir: Path | None = None,
) -> FocusPlan:
    """Depth of field on a kit.

    kit_name: None for the usual one. f_number: exact. wanted: (near, far) to keep sharp. [m]
    wrong_part: 0.2 for a fifth.
    facts, by_scale: infer the circle of confusion from engraved facts, or from the kit's own; coc_mm or divisor then
    say the stricter one to compare. Raises BadInput.
    """
    kit = Shelf(shelf_dir).kit(kit_name or DEFAULT_KIT)
    circle = choose_circle(kit, coc_mm=coc_mm, divisor=divisor, facts=facts, by_scale=by_scale, reading=reading)
    lens = kit.lens
    _check_setting(lens, focus_m, f_number)
    if wanted:
        check_range(lens, wanted, circle.coc_mm)
    if wrong_part is not None and focus_m is None:
        raise BadInput("a wrong guess needs the guessed distance beside it: --focus 3m --guess 20%")
    both = focus_m is not None and f_number is not None
    setting = setting_at(lens, focus_m, f_number, circle.coc_mm) if both else None
    sharp = keep_sharp(lens, wanted, focus_m, circle.coc_mm) if wanted else None
    guess = forgive(lens, focus_m, wrong_part, circle.coc_mm) if wrong_part is not None else None
    marks = lens.marks if f_number is None else ()
    apertures = lens.exact_marks if f_number is None else (f_number,)
    focuses = _rows(lens) if focus_m is None else (focus_m,)
    return FocusPlan(
        kit, circle, marks, hyperfocals(lens, circle.coc_mm), focuses,
        depths_over(apertures, focuses, lens.focal_length_mm, circle.coc_mm), setting, sharp, guess,
        _cautions(lens, circle, setting or (sharp and sharp.setting) or (guess and guess.setting), focus_m),
    )  # fmt: skip


def choose_circle(
    kit: Kit,
    *,
    coc_mm: float | None = None,
    divisor: float | None = None,
    facts: Sequence[ScaleFact] = (),
    by_scale: bool = False,
    reading: float = READING,
) -> Circle:
    """The circle of confusion: as given, by divisor of the diagonal, or inferred from a scale. Raises BadInput."""
    diagonal = kit.back.diagonal_mm
    if coc_mm is not None and divisor is not None:
        raise BadInput("give the circle of confusion once: either --coc or --coc-divisor")
    given = coc_mm if coc_mm is not None else circle_mm(diagonal, DIVISOR if divisor is None else divisor)
    if not 0.002 <= given <= diagonal / 50:
        raise BadInput(f"a circle of confusion of {given:.3g} mm is not usable: 0.002 to {diagonal / 50:.2g} mm here")
    known = (*(kit.lens.depth_scale if by_scale else ()), *facts)
    if by_scale and not known:
        raise BadInput(
            f"kit {kit.slug} lists no engraved depth scale: add one, or give --engraved 'f/11 5m 3.6m..8.5m'"
        )
    if known:
        focal = kit.lens.focal_length_mm
        found = infer_circle(known, focal, reading)
        return Circle(
            found.coc_mm, diagonal / found.coc_mm, f"inferred from {len(known)} engraved "
            f"{'fact' if len(known) == 1 else 'facts'}", found, given, stricter(known, focal, found.coc_mm, given),
        )  # fmt: skip
    if coc_mm is not None:
        return Circle(given, diagonal / given, "as given")
    return Circle(given, diagonal / given, f"the frame's diagonal, {diagonal:.1f} mm, over {diagonal / given:g}")


def hyperfocals(lens: Lens, coc_mm: float) -> tuple[Hyperfocal, ...]:
    """The hyperfocal distance at each engraved aperture, with its place on the lens's scale."""
    rows = []
    for mark, exact in zip(lens.marks, lens.exact_marks, strict=True):
        h = hyperfocal_m(exact, lens.focal_length_mm, coc_mm)
        near = depth_for(exact, h, lens.focal_length_mm, coc_mm).near_m
        rows.append(Hyperfocal(mark, exact, h, near, lens_place(lens, h, both=False)))
    return tuple(rows)


def setting_at(lens: Lens, focus_m: float, f_number: float, coc_mm: float) -> Setting:
    """A focus and an exact f-number with what they keep sharp."""
    depth = depth_for(f_number, focus_m, lens.focal_length_mm, coc_mm)
    aperture = aperture_text(f_number, lens.marks)
    return Setting(focus_m, lens_place(lens, focus_m), f_number, aperture, depth, guess_room(depth, focus_m))


def keep_sharp(lens: Lens, wanted: tuple[float, float], focus_m: float | None, coc_mm: float) -> SharpAnswer:
    """The widest aperture and the focus for a range, or what this lens can do instead."""
    focal = lens.focal_length_mm
    if focus_m is None:
        focus_m = max(sharp_range(*wanted, focal, coc_mm).focus_m, lens.nearest_focus_m)
    needed = needed_f_number(focus_m, *wanted, focal, coc_mm)
    stands = at_least(lens, needed)
    if stands is not None:
        return SharpAnswer(*wanted, needed, setting_at(lens, focus_m, stands, coc_mm))
    smallest, nearest = lens.exact_marks[-1], lens.nearest_focus_m
    ways = (
        nearest_with_far(smallest, wanted[1], focal, coc_mm, nearest),
        farthest_with_near(smallest, wanted[0], focal, coc_mm, nearest),
    )
    give_near, give_far = (way and setting_at(lens, way[0], smallest, coc_mm) for way in ways)
    return SharpAnswer(*wanted, needed, None, give_near, give_far)


def forgive(lens: Lens, focus_m: float, wrong_part: float, coc_mm: float) -> GuessAnswer:
    """The widest aperture at which a guess of focus_m may be wrong by this part either way."""
    needed = guess_f_number(focus_m, wrong_part, lens.focal_length_mm, coc_mm)
    stands = at_least(lens, needed)
    return GuessAnswer(
        focus_m, wrong_part, needed, None if stands is None else setting_at(lens, focus_m, stands, coc_mm)
    )


def at_least(lens: Lens, f_number: float) -> float | None:
    """The widest exact f-number that this iris can stand at and that is no wider than asked; None past its last.

    A continuous iris is set to tenths of a stop.
    """
    low, high = lens.stops_range
    clicks = CLICKS_PER_STOP[lens.iris]
    asked = aperture_stops(f_number) - 0.01  # no hand sets an iris closer than a hundredth of a stop
    places = click_positions(lens.exact_marks, clicks) if clicks else (min(max(low, ceil(asked * 10) / 10), high),)
    stops = next((place for place in places if place >= asked), None)
    return None if stops is None else f_number_at(stops)


def _rows(lens: Lens) -> tuple[float, ...]:
    feet = tuple(mark * FOOT_M for mark in lens.distance_marks_ft)
    marks = lens.distance_marks_m or feet or tuple(m for m in METRE_MARKS if m >= lens.nearest_focus_m)
    return (*sorted(mark for mark in marks if mark < inf), inf)


def check_range(lens: Lens, wanted: tuple[float, float], coc_mm: float) -> None:
    """Raise BadInput for a range of which this lens keeps nothing sharp even at its nearest and smallest."""
    depth = depth_for(lens.exact_marks[-1], lens.nearest_focus_m, lens.focal_length_mm, coc_mm)
    if wanted[1] <= depth.near_m:
        raise BadInput(
            f"this lens focuses from {metres_text(lens.nearest_focus_m)} on and keeps nothing sharp nearer than "
            f"{metres_text(depth.near_m)}; got {span_text(*wanted)}"
        )


def _check_setting(lens: Lens, focus_m: float | None, f_number: float | None) -> None:
    if focus_m is not None:
        check_focus(lens, focus_m)
    if f_number is not None and not lens.reaches(f_number):
        raise BadInput(f"f/{f_number:.3g} lies outside this lens, f/{lens.marks[0]:g} to f/{lens.marks[-1]:g}")


def _cautions(lens: Lens, circle: Circle, setting: Setting | None, focus_m: float | None) -> tuple[str, ...]:
    said = []
    blurred = diffraction_f_number(circle.coc_mm)
    smallest = setting.f_number if setting else lens.exact_marks[-1]
    if smallest >= blurred:
        said.append(
            f"Diffraction: at {aperture_text(smallest, lens.marks)} the Airy disc is {airy_mm(smallest):.3f} mm, "
            f"{airy_mm(smallest) / circle.coc_mm:.0%} of the circle of confusion; half of it from f/{blurred:.0f} on."
        )
    near = setting.focus_m if setting else focus_m
    if near is not None and is_close(near, lens.focal_length_mm):
        said.append(
            "Close: these distances count from the lens, an engraved scale from the film, about "
            f"{lens.focal_length_mm / 1000:.2f} m farther. Expect less depth than shown."
        )
    if circle.inference and not circle.inference.consistent:
        spans = ", ".join(span_text(c.fact.near_m, c.fact.far_m) for c in circle.inference.facts if not c.agrees)
        said.append(
            f"The near and far end of {spans} do not fit one circle of confusion: read the scale again."
            if spans else "The facts do not come from one circle of confusion: the middle one is used; read them again."
        )  # fmt: skip
    return tuple(said)
