"""From photos to settings: decode, light map, spots, zones, ladder."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot
from pathlib import Path

from meter.answer import answer, photo_answer
from meter.errors import BadInput
from meter.exif import Given, Snapshot, understand
from meter.jobs.find_profile import Chooser, ProfileChoice
from meter.jobs.load_order import Wish, load_order
from meter.light import luminance_at_mid_grey
from meter.metering import Metered, meter
from meter.order import Order
from meter.patch import Spot
from meter.pixels.decode import open_photo
from meter.pixels.light_map import LightMap, light_map, small_map
from meter.pixels.spots import centre_patch, disc_patch, frame_patch, spot_radius
from meter.pixels.texture import Area, textured_extremes
from meter.plain import visible
from meter.response import DEFAULT_RESPONSE, LUMINANCE_WEIGHTS, RATING_SIGMA, Profile, tables_for
from meter.shelf.reader import Shelf
from meter.zones import parse_zone

DEFAULT_SPOT_DEGREES = 1.0
CLEAN_SHARE = 0.02  # of a found spot's light may come from blown pixels
FOUND_SPOT_DEGREES = 2.0  # of the shadow and highlight found: wide enough not to hang on one stone
ASSUMED_FOCAL_35MM = 26.0  # where a photo does not say: the usual main camera of a phone


@dataclass(frozen=True)
class SpotWish:
    """--spot X,Y[,DEGREES] or --place X,Y[,DEGREES]=ZONE-or-SUBJECT."""

    x: float
    y: float
    degrees: float = DEFAULT_SPOT_DEGREES
    place: str | None = None


@dataclass(frozen=True)
class Snap:
    """One photo as light, how it was exposed, what its decoder had to say, and the profile it was read through."""

    light: LightMap
    snapshot: Snapshot
    warnings: tuple[str, ...]
    profile: Profile | None = None


@dataclass(frozen=True)
class MeteredPhoto:
    """What a reading found: plain data for printing, and the map for drawing.

    shown: the photo that the map is drawn over. window: which part of it, (left, top, right, bottom) in fractions.
    """

    order: Order
    metered: Metered
    answer: dict
    light: LightMap
    focal_35mm: float
    shown: Path
    window: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)


def meter_photos(
    paths: Sequence[Path],
    wish: Wish,
    given: Given = Given(),
    spots: Sequence[SpotWish] = (),
    focal_35mm: float | None = None,
    profiles: ProfileChoice = ProfileChoice(),
) -> MeteredPhoto:
    """Meter a photo, or several of one scene merged into one. Raises PhotoError, BadInput or ShelfError."""
    order = load_order(wish)
    shelf = Shelf(wish.shelf_dir)
    chooser = Chooser(replace(profiles, shelf_dir=wish.shelf_dir))
    shots = [snap(path, given, profile=chooser) for path in paths]
    light, shares, shown, window = _one_map(shots, paths)
    focal, warnings = focal_35mm or shots[0].snapshot.focal_35mm, ()
    if focal is None:
        focal = ASSUMED_FOCAL_35MM
        warnings = (f"no 35 mm equivalent focal length: spots are sized as if it were {focal:g} mm",)
    asked = [_spot(wanted, light, focal, shelf) for wanted in spots]
    small = small_map(light)
    found = textured_extremes(small)
    ends = tuple(_spot_of_area(area, light, focal) for area in found) if found else None
    metered = meter(order, frame_patch(small), centre_patch(small), asked, ends)
    photos = [
        photo_answer(
            visible(str(path)), shot.snapshot, (*shot.warnings, *warnings), shot.profile and shot.profile.name, share
        )
        for path, shot, share in zip(paths, shots, shares, strict=True)
    ]
    return MeteredPhoto(order, metered, answer(photos, metered, order), light, focal, shown, window)


def _one_map(
    shots: Sequence[Snap], paths: Sequence[Path]
) -> tuple[LightMap, tuple[float, ...], Path, tuple[float, float, float, float]]:
    """The light, what share each photo gave, and the photo to draw it over with the part of it that the light shows."""
    if len(shots) == 1:
        return shots[0].light, (1.0,), paths[0], (0.0, 0.0, 1.0, 1.0)
    from meter.jobs.merge_photos import merge_photos

    merged = merge_photos(shots, paths)
    return merged.light, merged.shares, paths[merged.best], merged.window


def snap(
    path: Path,
    given: Given = Given(),
    *,
    profile: Profile | Callable[[Snapshot], Profile | None] | None = None,
    full_size: bool = False,
) -> Snap:
    """One photo as light, through a profile of its camera where there is one. Raises PhotoError.

    profile: None decodes as sRGB; a function finds the one that goes with how the photo was exposed.
    """
    photo = open_photo(path, full_size=full_size)
    snapshot = understand(photo.tags, given, photo.name)
    if callable(profile):
        profile = profile(snapshot)
    response, offset, offset_sigma, falloff = DEFAULT_RESPONSE, 0.0, RATING_SIGMA, None
    if profile:
        response, offset, offset_sigma = profile.response, profile.offset_stops, profile.offset_sigma
        if falloff := profile.falloff:
            offset_sigma = hypot(offset_sigma, falloff.sigma_stops)
    tables = tables_for(
        response,
        luminance_at_mid_grey(snapshot.f_number, snapshot.time_s, snapshot.iso),
        LUMINANCE_WEIGHTS[photo.space],
        offset,
        hypot(snapshot.sigma, offset_sigma),
    )
    return Snap(light_map(photo, tables, falloff), snapshot, photo.warnings, profile)


def _spot(wanted: SpotWish, light: LightMap, focal_35mm: float, shelf: Shelf) -> Spot:
    if not 0.1 <= wanted.degrees <= 60:
        raise BadInput(f"a spot from 0.1 to 60 degrees is needed; got {wanted.degrees:g}")
    patch = disc_patch(light, wanted.x, wanted.y, spot_radius(wanted.degrees, focal_35mm, light.size))
    zone, label = _zone_and_label(wanted.place, shelf)
    return Spot(wanted.x, wanted.y, wanted.degrees, patch, zone, label)


def _zone_and_label(place: str | None, shelf: Shelf) -> tuple[float | None, str]:
    """A placement as zone and name: a zone as written, else a subject of the shelf."""
    if place is None:
        return None, ""
    try:
        return parse_zone(place), ""
    except BadInput as not_a_zone:
        if not any(letter.isalpha() for letter in place.strip("IVXivx ")):
            raise not_a_zone
        subject = shelf.subject(place)
        return subject.zone, subject.name


def _spot_of_area(area: Area, light: LightMap, focal_35mm: float) -> Spot:
    """A disc inside a textured area: FOUND_SPOT_DEGREES wide where that fits and is clean, else as wide as is both."""
    whole = spot_radius(FOUND_SPOT_DEGREES, focal_35mm, light.size)
    radius = min(whole, max(area.radius * light.size[0], 1.0))
    patch = disc_patch(light, area.x, area.y, radius)
    while patch.blown > CLEAN_SHARE and radius > 2:
        radius /= 1.5
        patch = disc_patch(light, area.x, area.y, radius)
    return Spot(area.x, area.y, FOUND_SPOT_DEGREES * radius / whole, patch)
