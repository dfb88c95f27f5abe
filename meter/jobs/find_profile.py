"""Which profile goes with a photo, and where profiles live."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from meter.errors import BadInput, ShelfError
from meter.exif import Snapshot
from meter.profile_file import ProfileFile, read_profile
from meter.response import Profile
from meter.shelf.names import compact
from meter.shelf.reader import LARGEST_BYTES, Shelf

FOCAL_TOLERANCE = 0.02  # a phone's lenses differ by far more; its files state whole millimetres


@dataclass(frozen=True)
class Camera:
    """Whose photos a profile is for. focal_35mm: of the lens, None where its files do not say. [mm]"""

    make: str
    model: str
    focal_35mm: float | None

    def __str__(self) -> str:
        lens = f", {self.focal_35mm:.3g} mm" if self.focal_35mm else ""
        named = self.model if self.model.startswith(self.make) else f"{self.make} {self.model}"
        return f"{named.strip() or 'unknown camera'}{lens}"

    def same_body(self, other: "Camera") -> bool:
        """Whether make and model are the same, whatever their case and spaces."""
        return (compact(self.make), compact(self.model)) == (compact(other.make), compact(other.model))


def camera_of(snapshot: Snapshot) -> Camera:
    """The camera and lens that took a photo."""
    return Camera(snapshot.make, snapshot.model, snapshot.focal_35mm)


def camera_for(profile: Profile) -> Camera:
    """The camera and lens that a profile is for."""
    return Camera(profile.make, profile.model, profile.focal_35mm)


@dataclass(frozen=True)
class ProfileChoice:
    """How to choose. named: of a profile or its file, for every photo. use: False for none at all."""

    named: str | None = None
    use: bool = True
    shelf_dir: Path | None = None


class Chooser:
    """Finds the profile for each photo of a reading; looks at the shelf once, and only if it has to."""

    def __init__(self, choice: ProfileChoice):
        if choice.named and not choice.use:
            raise BadInput("--profile and --no-profile contradict each other: give one of them")
        self._choice = choice
        self._profiles: list[Profile] | None = None

    def __call__(self, snapshot: Snapshot) -> Profile | None:
        """The profile for this photo, None for none. Raises ShelfError, BadInput."""
        if not self._choice.use:
            return None
        named = self._choice.named
        if self._profiles is None:
            shelf = Shelf(self._choice.shelf_dir)
            self._profiles = [open_profile(file_of(named, shelf)).profile] if named else all_profiles(shelf)
        return self._profiles[0] if named else profile_for(camera_of(snapshot), self._profiles)


def open_profile(file: Path) -> ProfileFile:
    """Read a profile's file. Raises ShelfError naming the file, with every fault."""
    try:
        content = file.read_bytes()
        if len(content) > LARGEST_BYTES:
            raise ShelfError(f"{file} is too large for a profile: {len(content)} bytes, {LARGEST_BYTES} at most")
        return read_profile(content.decode("utf-8"), str(file))
    except OSError as error:
        raise ShelfError(f"{file} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise ShelfError(f"{file} is not UTF-8 text (byte {error.start}): save it as UTF-8") from error


def file_of(name: str, shelf: Shelf) -> Path:
    """The file that a --profile means: a path as it is, else the one of that name on the shelf. Raises ShelfError."""
    return Path(name) if is_path(name) else shelf.profile_file(name)


def is_path(name: str) -> bool:
    """Whether a --profile names a file rather than a profile on the shelf."""
    return name.endswith(".toml") or Path(name).name != name


def all_profiles(shelf: Shelf) -> list[Profile]:
    """Every profile on the shelf. Raises ShelfError for one that cannot be used."""
    return [open_profile(shelf.profile_file(name)).profile for name in shelf.profile_names()]


def profile_for(camera: Camera, profiles: Sequence[Profile]) -> Profile | None:
    """The profile of this camera and lens: same make and model, 35 mm equivalent within FOCAL_TOLERANCE.

    One for any lens serves where none is for this one. Raises BadInput where several fit alike.
    """
    body = [p for p in profiles if camera_for(p).same_body(camera)]
    exact = [p for p in body if p.focal_35mm is not None and same_lens(p.focal_35mm, camera.focal_35mm)]
    best = exact or [p for p in body if p.focal_35mm is None]
    if len(best) > 1:
        names = ", ".join(p.name for p in best)
        raise BadInput(f"several profiles fit {camera}: {names}; say which with --profile, or remove the others")
    return best[0] if best else None


def same_lens(focal: float | None, other: float | None) -> bool:
    """Whether two 35 mm equivalent focal lengths mean the same lens. [mm]"""
    if focal is None or other is None:
        return focal is other
    return abs(focal / other - 1) <= FOCAL_TOLERANCE


def check_same_camera(cameras: Sequence[Camera], paths: Sequence[Path]) -> None:
    """Raise BadInput unless all photos come from one camera and lens."""
    for camera, path in zip(cameras[1:], paths[1:], strict=False):
        if not (camera.same_body(cameras[0]) and same_lens(camera.focal_35mm, cameras[0].focal_35mm)):
            raise BadInput(
                f"mixed lenses: {path} is from {camera}, {paths[0]} from {cameras[0]}; give one lens at a time"
            )
