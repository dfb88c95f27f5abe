"""Which profile goes with a photo, where profiles live, and how one is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from meter.errors import BadInput, MeterError
from meter.exif import Snapshot
from meter.jobs.whole_file import whole_file
from meter.response import Profile
from meter.shelf.names import compact, words
from meter.shelf.profile_file import profile_faults, profile_from, profile_text
from meter.shelf.reader import Shelf, read_toml

FOCAL_TOLERANCE = 0.02  # a phone's lenses differ by far more; its files state whole millimetres


@dataclass(frozen=True)
class Camera:
    """Whose photos a profile is for. focal_35mm: of the lens, None where its files do not say. [mm]"""

    make: str
    model: str
    focal_35mm: float | None

    def __str__(self) -> str:
        lens = f", {self.focal_35mm:.3g} mm" if self.focal_35mm else ""
        named = self.model if not self.make or self.model.startswith(self.make) else f"{self.make} {self.model}"
        return f"{named or 'unknown camera'}{lens}"


def camera_of(snapshot: Snapshot) -> Camera:
    """The camera and lens that took a photo."""
    return Camera(snapshot.make, snapshot.model, snapshot.focal_35mm)


@dataclass(frozen=True)
class ProfileChoice:
    """How to choose profiles. named: of a profile or its file, for every photo; use: False for none at all."""

    named: str | None = None
    use: bool = True
    shelf_dir: Path | None = None


def read_profile(file: Path) -> Profile:
    """A profile from its file. Raises ShelfError with every fault."""
    return profile_from(file.stem, read_toml(file, profile_faults))


def named_profile(name: str, shelf: Shelf) -> Profile:
    """The profile of a file (a path, or a name ending in .toml) or of a name on the shelf. Raises ShelfError."""
    return read_profile(file_of(name, shelf))


def file_of(name: str, shelf: Shelf) -> Path:
    """The file of a named profile, which must be there. Raises ShelfError."""
    return Path(name) if is_path(name) else shelf.profile_file(name)


def is_path(name: str) -> bool:
    """Whether a --profile names a file rather than a profile on the shelf."""
    return name.endswith(".toml") or Path(name).name != name


def all_profiles(shelf: Shelf) -> list[Profile]:
    """Every profile on the shelf. Raises ShelfError for one that cannot be used."""
    return [read_profile(shelf.profile_file(name)) for name in shelf.profile_names()]


def profile_for(camera: Camera, profiles: Sequence[Profile]) -> Profile | None:
    """The profile of this camera and lens: same make and model, 35 mm equivalent within FOCAL_TOLERANCE.

    One for any lens serves where none is for this one. Raises BadInput where several fit alike.
    """
    fits = [p for p in profiles if compact(p.make) == compact(camera.make) and compact(p.model) == compact(camera.model)]
    exact = [p for p in fits if p.focal_35mm is not None and same_lens(p.focal_35mm, camera.focal_35mm)]
    best = exact or [p for p in fits if p.focal_35mm is None]
    if len(best) > 1:
        names = ", ".join(p.name for p in best)
        raise BadInput(f"several profiles fit {camera}: {names}; say which with --profile, or remove the others")
    return best[0] if best else None


def same_lens(focal: float | None, other: float | None) -> bool:
    """Whether two 35 mm equivalent focal lengths mean the same lens. [mm]"""
    if focal is None or other is None:
        return focal is other
    return abs(focal / other - 1) <= FOCAL_TOLERANCE


class Chooser:
    """Finds the profile for each photo of a reading; looks at the shelf only once, and only if it has to."""

    def __init__(self, choice: ProfileChoice):
        self._choice = choice
        self._profiles: list[Profile] | None = None

    def __call__(self, snapshot: Snapshot) -> Profile | None:
        """The profile for this photo, None for none. Raises ShelfError, BadInput."""
        if not self._choice.use:
            return None
        if self._profiles is None:
            shelf = Shelf(self._choice.shelf_dir)
            named = self._choice.named
            self._profiles = [named_profile(named, shelf)] if named else all_profiles(shelf)
        return self._profiles[0] if self._choice.named else profile_for(camera_of(snapshot), self._profiles)


def new_name(camera: Camera) -> str:
    """A file name for a camera's profile: its make, model and lens in small letters."""
    lens = [f"{camera.focal_35mm:.0f}mm"] if camera.focal_35mm else []
    parts = (words(camera.make) if camera.make and not camera.model.startswith(camera.make) else []) + words(camera.model)
    return "-".join(parts + lens) or "phone"


def write_profile(profile: Profile, file: Path) -> None:
    """Write a profile whole or not at all. Raises MeterError."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise MeterError(f"{file.parent} cannot be made ({error.strerror}): nothing was written") from error
    with whole_file(file) as part:
        part.write_text(profile_text(profile), "utf-8")
        read_toml(part, profile_faults)  # never put a profile into place that could not be read again
