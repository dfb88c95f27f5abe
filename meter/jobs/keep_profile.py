"""The profile that a calibration changes: found or begun, and written whole or not at all."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from meter.errors import BadInput, MeterError, ShelfError
from meter.falloff import Falloff
from meter.jobs.find_profile import Camera, all_profiles, camera_for, is_path, open_profile, profile_for, same_lens
from meter.jobs.whole_file import whole_file
from meter.profile_file import Conditions, Origin, ProfileFile, profile_text
from meter.response import DEFAULT_RESPONSE, RATING_SIGMA, Profile, Response
from meter.shelf.names import words
from meter.shelf.reader import Shelf

GENERAL = Origin("sRGB decoding, IEC 61966-2-1; sigma as phones stray from it", "computed")


@dataclass(frozen=True)
class Draft:
    """A profile about to change. file: where it will be written. begun: whether there was none before."""

    content: ProfileFile
    file: Path
    begun: bool

    @property
    def profile(self) -> Profile:
        return self.content.profile

    @property
    def has_response(self) -> bool:
        """Whether its response was measured, not the general one."""
        return self.content.origins["response"].evidence == "measured"

    @property
    def has_offset(self) -> bool:
        return "offset" in self.content.origins


def draft(camera: Camera, named: str | None = None, shelf_dir: Path | None = None) -> Draft:
    """The profile to change for this camera, or a new one.

    named: of a profile on the shelf, or a file; None finds the camera's own. What is found in a place that is not the
    user's own is copied there. Raises ShelfError for one that cannot be read, BadInput for one of another camera.
    """
    if not (camera.make and camera.model):
        raise BadInput(
            "these photos do not say which camera took them, so their profile could not be found again: take them "
            "straight from the phone, not from a messenger or an editor"
        )
    shelf = Shelf(shelf_dir, begin=True)
    if named is None:
        found = profile_for(camera, all_profiles(shelf))
        slug = found.name if found else new_name(camera)
    else:
        slug = Path(named).stem if is_path(named) else named
    file = Path(named) if named and is_path(named) else shelf.own_folder / "profiles" / f"{slug}.toml"
    source = file if file.is_file() else None
    if source is None and slug in shelf.profile_names():
        source = shelf.profile_file(slug)
    if source is None:
        profile = Profile(slug, camera.make, camera.model, DEFAULT_RESPONSE, camera.focal_35mm)
        return Draft(ProfileFile(profile, {"response": GENERAL}), file, begun=True)
    content = open_profile(source)
    _check_camera(content.profile, camera, source)
    return Draft(content, file, begun=False)


def _check_camera(profile: Profile, camera: Camera, file: Path) -> None:
    if not camera_for(profile).same_body(camera) or not (
        profile.focal_35mm is None or same_lens(profile.focal_35mm, camera.focal_35mm)
    ):
        raise BadInput(
            f"{file} is the profile of {camera_for(profile)}, and these photos are from {camera}: leave --profile out, "
            "or name a new one"
        )


def new_name(camera: Camera) -> str:
    """A file name for a camera's profile: its make, model and lens in small letters."""
    make = [] if camera.model.startswith(camera.make) else words(camera.make)
    lens = [f"{camera.focal_35mm:.0f}mm"] if camera.focal_35mm else []
    return "-".join([*make, *words(camera.model), *lens]) or "phone"


def with_response(old: Draft, response: Response, conditions: Conditions, source: str, on: date | None) -> Draft:
    """The draft with a new response; an offset measured through the old one goes, as it no longer fits."""
    profile = replace(old.profile, response=response, offset_stops=0.0, offset_sigma=RATING_SIGMA)
    origins = {part: origin for part, origin in old.content.origins.items() if part != "offset"}
    return replace(old, content=ProfileFile(profile, origins | {"response": _origin(source, on)}, conditions))


def with_offset(old: Draft, stops: float, sigma: float, source: str, on: date | None) -> Draft:
    """The draft with a new offset. [stops]"""
    profile = replace(old.profile, offset_stops=stops, offset_sigma=sigma)
    origins = old.content.origins | {"offset": _origin(source, on)}
    return replace(old, content=replace(old.content, profile=profile, origins=origins))


def with_falloff(old: Draft, falloff: Falloff, source: str, on: date | None) -> Draft:
    """The draft with a new fall-off."""
    origins = old.content.origins | {"falloff": _origin(source, on)}
    return replace(old, content=replace(old.content, profile=replace(old.profile, falloff=falloff), origins=origins))


def _origin(source: str, on: date | None) -> Origin:
    return Origin(source, "measured", on.isoformat() if on else "")


def keep(new: Draft) -> Path:
    """Write the draft to its file; says where. Raises MeterError where the folder does not take it."""
    try:
        text = profile_text(new.content)
        new.file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise MeterError(f"{new.file.parent} cannot be made ({error.strerror}): nothing was written") from error
    except ShelfError as error:
        raise MeterError(str(error)) from error
    with whole_file(new.file, force=True) as part:
        part.write_text(text, "utf-8")
    return new.file
