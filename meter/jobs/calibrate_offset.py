"""Anchor a phone's scale to known light: read the spots, compare, combine, change the profile."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import hypot
from pathlib import Path

from calibration.from_known_light import (
    Anchor,
    KnownOffset,
    combine,
    from_guide,
    from_illuminance,
    from_luminance,
    from_meter,
    from_sun,
)
from meter.errors import BadInput
from meter.exif import Snapshot
from meter.jobs.find_profile import Camera, camera_of, check_same_camera
from meter.jobs.keep_profile import Draft, draft, keep, with_offset
from meter.jobs.meter_photo import ASSUMED_FOCAL_35MM, Snap, snap
from meter.light import K, Reading
from meter.patch import reading_of
from meter.pixels.light_map import small_map
from meter.pixels.spots import disc_patch, frame_patch, spot_radius
from meter.response import MID_CODE, Profile
from meter.shelf.reader import Shelf

SCENE_SIGMA = 0.11  # by which a phone's mid-tone moves from place to place (ISO, white balance, tones that adapt):
# median of the simulated training cameras, which had 0.03 to 0.32 [stops]

LARGEST_STOPS = 1.5  # more than a phone's EXIF is known to be off by; our own choice [stops]
LARGEST_SIGMAS = 3.0  # by which a new offset may differ from the old one before one of them is called wrong

KINDS = {  # of known light: what a profile's source calls it
    "meter": "a trusted meter",
    "luminance": "a luminance meter",
    "illuminance": "an illuminance meter and a card",
    "sun": "a sunlit card and the sun's altitude",
    "guide": "the daylight exposure guide",
}


@dataclass(frozen=True)
class Known:
    """What is known of a spot.

    spot: (x, y, degrees) of the upright picture, None for the whole frame. kind: one of KINDS. value: EV at ISO 100,
    cd/m², lux or the sun's altitude in degrees; row: of the daylight guide. reflectance: of the card, for lux and sun.
    facing: whether the card was held square to the sun. k: the meter's constant, None where not known.
    photo: number of the photo, from 1; None for the only one, or the one in the same place as this. text: as written.
    """

    text: str
    kind: str
    value: float = 0.0
    row: str = ""
    spot: tuple[float, float, float] | None = None
    reflectance: float = 0.18
    facing: bool = False
    k: float | None = None
    photo: int | None = None


@dataclass(frozen=True)
class Anchored:
    """What an offset calibration found. apart: each anchor against the offset, in the order given. [stops]"""

    file: Path
    begun: bool
    camera: Camera
    anchors: tuple[Anchor, ...]
    offset: KnownOffset
    before: tuple[float, float] | None
    has_response: bool

    @property
    def apart(self) -> tuple[float, ...]:
        return tuple(anchor.offset_stops - self.offset.offset_stops for anchor in self.anchors)


def calibrate_offset(
    paths: Sequence[Path],
    known: Sequence[Known],
    *,
    profile: str | None = None,
    shelf_dir: Path | None = None,
    on: date | None = None,
    force: bool = False,
) -> Anchored:
    """Find what to add to the readings of one phone camera, and keep it in its profile.

    force: keep an offset that is beyond belief or contradicts the old one. Raises BadInput for such a one otherwise,
    for spots that are blown or black, anchors that contradict each other, photos of several cameras.
    """
    if not known:
        raise BadInput("say what is known: --known 0.5,0.5=EV12.3 for what a trusted meter read there")
    of_photo = _by_photo(known, paths)
    drafts: list[Draft] = []

    def through(snapshot: Snapshot) -> Profile:
        if not drafts:
            drafts.append(draft(camera_of(snapshot), profile, shelf_dir))
        return _without_offset(drafts[0].profile)

    shelf = Shelf(shelf_dir, begin=True)
    anchors: dict[int, Anchor] = {}
    cameras: list[Camera] = []
    for path, places in zip(paths, of_photo, strict=True):
        shot = snap(path, profile=through)
        cameras.append(camera_of(shot.snapshot))
        check_same_camera(cameras, paths)
        anchors |= {i: _anchor(known[i], shot, path, shelf) for i in places}
    ordered, old = tuple(anchors[i] for i in sorted(anchors)), drafts[0]
    found = _carried_on(combine(ordered))
    before = (old.profile.offset_stops, old.profile.offset_sigma) if old.has_offset else None
    if not force:
        _check_belief(found, before)
    new = with_offset(old, found.offset_stops, found.sigma_stops, _source(known), on)
    return Anchored(keep(new), old.begun, cameras[0], ordered, found, before, old.has_response)


def _carried_on(offset: KnownOffset) -> KnownOffset:
    """The offset as it holds in another place than where it was found."""
    return replace(offset, sigma_stops=hypot(offset.sigma_stops, SCENE_SIGMA))


def _check_belief(found: KnownOffset, before: tuple[float, float] | None) -> None:
    """Raises BadInput for an offset that more likely comes from a slip than from the phone."""
    new = f"{found.offset_stops:+.2f} ± {found.sigma_stops:.2f}"
    old = "" if before is None else f"; the profile has {before[0]:+.2f} ± {before[1]:.2f}"
    check = (
        "check the light named in --known (lux, EV or cd; full sun, and its altitude), the spot's x,y and the card's "
        "reflectance; --force keeps it all the same"
    )
    if abs(found.offset_stops) > LARGEST_STOPS:
        raise BadInput(
            f"nothing was written: an offset of {new} stops is more than a phone is off by "
            f"({LARGEST_STOPS:g} at most){old}; {check}"
        )
    if before is None:
        return
    apart = abs(found.offset_stops - before[0]) / hypot(found.sigma_stops, before[1])
    if apart > LARGEST_SIGMAS:
        raise BadInput(
            f"nothing was written: the new offset of {new} stops contradicts the old one, {apart:.1f} sigma apart"
            f"{old}; {check}"
        )


def _by_photo(known: Sequence[Known], paths: Sequence[Path]) -> list[list[int]]:
    """For each photo, which of the things known are of it."""
    photos = [_photo_of(one, i, len(paths), len(known)) for i, one in enumerate(known)]
    of_photo = [[i for i, photo in enumerate(photos) if photo == number] for number in range(len(paths))]
    for number, (path, places) in enumerate(zip(paths, of_photo, strict=True), start=1):
        if not places:
            raise BadInput(f"nothing is known of {path}: add --known {number}:X,Y=LIGHT, or leave the photo out")
    return of_photo


def _photo_of(one: Known, place: int, photos: int, count: int) -> int:
    """The index of the photo that something is known of."""
    if one.photo is not None:
        if not 1 <= one.photo <= photos:
            raise BadInput(f"--known {one.text}: there is no photo {one.photo}; {photos} were given")
        return one.photo - 1
    if photos == 1:
        return 0
    if photos == count:
        return place
    raise BadInput(
        f"--known {one.text}: which of the {photos} photos? Write its number before it, as 2:0.5,0.5=EV12, or give one "
        "--known for each photo in order"
    )


def _without_offset(profile: Profile) -> Profile:
    """The profile with a bare scale, whose sigma is only what the response adds to that of the mid-tone.

    What it is unsure of at the mid-tone every later reading carries itself; here it would count twice.
    """
    middle = profile.response.sigma[MID_CODE]
    more = tuple(max(sigma**2 - middle**2, 0.0) ** 0.5 for sigma in profile.response.sigma)
    return replace(profile, response=replace(profile.response, sigma=more), offset_stops=0.0, offset_sigma=0.0)


def _anchor(known: Known, shot: Snap, path: Path, shelf: Shelf) -> Anchor:
    reading = _read(known, shot, path)
    luminance, sigma, label = reading.luminance(K), hypot(reading.sigma, SCENE_SIGMA), f"{path.name} {known.text}"
    if known.kind == "meter":
        return from_meter(luminance, sigma, known.value, label, known.k)
    if known.kind == "luminance":
        return from_luminance(luminance, sigma, known.value, label)
    if known.kind == "illuminance":
        return from_illuminance(luminance, sigma, known.value, known.reflectance, label)
    if known.kind == "sun":
        return from_sun(luminance, sigma, known.value, known.reflectance, label, known.facing)
    return from_guide(luminance, sigma, shelf.daylight_row(known.row).ev100, label)


def _read(known: Known, shot: Snap, path: Path) -> Reading:
    """What the phone read of the spot. Raises BadInput where it is blown or black."""
    frame = frame_patch(small_map(shot.light))
    patch = frame
    if known.spot is not None:
        x, y, degrees = known.spot
        focal = shot.snapshot.focal_35mm or ASSUMED_FOCAL_35MM
        patch = disc_patch(shot.light, x, y, spot_radius(degrees, focal, shot.light.size))
    reading = reading_of(patch, frame)
    if reading.bound != "exact":
        what, cure = ("blown", "less") if reading.bound == "at_least" else ("black", "more")
        where = "the picture" if known.spot is None else f"the spot at {known.spot[0]:g},{known.spot[1]:g}"
        raise BadInput(f"{where} is {what} in {path}: photograph it again with {cure} exposure")
    return reading


def _source(known: Sequence[Known]) -> str:
    kinds = dict.fromkeys(one.kind for one in known)
    return f"{len(known)} known spot{'s' if len(known) > 1 else ''}: {', '.join(KINDS[kind] for kind in kinds)}"
