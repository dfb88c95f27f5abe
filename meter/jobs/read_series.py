"""Photos and folders of photos -> series of frames on a grid, for the fit of a response; holds little at a time."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.exposure_series import Frame
from meter.errors import BadInput
from meter.exif import Snapshot, understand
from meter.jobs.find_profile import Camera, camera_of, check_same_camera
from meter.pixels.bracket import sample_grids, shared, shifts_of
from meter.pixels.decode import Photo, load_opencv, open_photo, upright

SUFFIXES = (".jpg", ".jpeg", ".heic", ".heif", ".png", ".tif", ".tiff")
LONGEST_SIDE = 1000  # of a photo while its scene is put together: 4 pixels a cell of the sampling grid
MOST_PHOTOS = 120  # in one go: more add nothing, and a wrong folder is likelier

Watch = Callable[[int, int], None]  # told how many photos are read, of how many


@dataclass(frozen=True)
class Shown:
    """A photo of a series. name: as its file is called, with its folder where there are several scenes."""

    path: Path
    name: str
    snapshot: Snapshot
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Series:
    """Scenes as frames for the fit, and the photos that they came from, in the same order."""

    camera: Camera
    scenes: tuple[tuple[Frame, ...], ...]
    photos: tuple[tuple[Shown, ...], ...]


def scenes_of(paths: Sequence[Path]) -> list[list[Path]]:
    """Each folder's photos are one scene, photos named alone another. Raises BadInput for a folder without photos."""
    scenes = [_photos_in(path) for path in paths if path.is_dir()]
    if alone := [path for path in paths if not path.is_dir()]:
        scenes.append(alone)
    if (count := sum(map(len, scenes))) > MOST_PHOTOS:
        raise BadInput(f"{count} photos are more than the {MOST_PHOTOS} that serve here: name the series to use")
    return scenes


def _photos_in(folder: Path) -> list[Path]:
    files = sorted(file for file in folder.iterdir() if file.suffix.lower() in SUFFIXES and file.is_file())
    if not files:
        inside = " (its folders do: name those)" if any(one.is_dir() for one in folder.iterdir()) else ""
        raise BadInput(f"{folder} holds no photos{inside}: JPEG, HEIC, PNG and TIFF are read")
    return files


def read_series(paths: Sequence[Path], watch: Watch | None = None) -> Series:
    """Decode every photo in turn, put each scene in register and bring it down to a grid.

    Raises PhotoError, or BadInput for photos of several cameras or lenses, or of several sizes in one scene.
    """
    scenes = scenes_of(paths)
    all_files, done = [file for files in scenes for file in files], 0
    cameras: list[Camera] = []
    frames, photos = [], []
    for files in scenes:
        pixels, shown = [], []
        for file in files:
            photo = open_photo(file)
            snapshot = understand(photo.tags, name=photo.name)
            cameras.append(camera_of(snapshot))
            check_same_camera(cameras, all_files)
            name = f"{file.parent.name}/{file.name}" if len(scenes) > 1 else file.name
            pixels.append(_reduced(photo))
            shown.append(Shown(file, name, snapshot, (*snapshot.warnings, *photo.warnings)))
            done += 1
            if watch:
                watch(done, len(all_files))
        frames.append(_frames(pixels, shown))
        photos.append(tuple(shown))
    return Series(cameras[0], tuple(frames), tuple(photos))


def _reduced(photo: Photo) -> np.ndarray:
    """The photo upright, uint8, LONGEST_SIDE pixels at most."""
    cv2 = load_opencv()
    pixels = photo.pixels if photo.pixels.dtype == np.uint8 else (photo.pixels >> 8).astype(np.uint8)
    scale = LONGEST_SIDE / max(pixels.shape[:2])
    if scale < 1:
        size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(upright(pixels, photo.orientation))


def _frames(pixels: Sequence[np.ndarray], shown: Sequence[Shown]) -> tuple[Frame, ...]:
    stops = [-one.snapshot.ev100 for one in shown]  # log2(t·S/N²), up to a constant
    grids = sample_grids(shared(pixels, shifts_of(pixels, stops)), stops)
    return tuple(
        Frame(grid.rgb, exposure, grid.usable, one.name)
        for grid, exposure, one in zip(grids, stops, shown, strict=True)
    )
