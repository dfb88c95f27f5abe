"""Measure what a phone's picture loses towards its corners, from photos of an even surface, and keep it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from calibration.from_flat_field import FlatField, from_flat_frames
from meter.errors import BadInput
from meter.exif import understand
from meter.jobs.find_profile import Camera, camera_of, check_same_camera
from meter.jobs.keep_profile import Draft, draft, keep, with_falloff
from meter.light import MID_GREY
from meter.pixels.decode import Photo, open_photo
from meter.pixels.light_map import light_map
from meter.response import LUMINANCE_WEIGHTS, Response, tables_for


@dataclass(frozen=True)
class Flattened:
    """What a fall-off calibration found. corner_stops: what the darkest corner gets against the centre. [stops]"""

    file: Path
    begun: bool
    camera: Camera
    photos: int
    found: FlatField
    corner_stops: float
    has_response: bool


def calibrate_flat(
    paths: Sequence[Path],
    turned: Sequence[Path] = (),
    *,
    profile: str | None = None,
    shelf_dir: Path | None = None,
    on: date | None = None,
) -> Flattened:
    """Fit the fall-off to photos of an evenly lit surface and write it into the camera's profile.

    turned: further ones, taken with the phone turned by 180 degrees about the lens axis.
    Raises PhotoError or BadInput where they do not show an even surface; then nothing is written.
    """
    files = [*paths, *turned]
    if not files:
        raise BadInput("name the photos of an even surface: stopgap calibrate flat white-1.jpg white-2.jpg")
    old: Draft | None = None
    cameras: list[Camera] = []
    frames = []
    for file in files:
        photo = open_photo(file)
        cameras.append(camera_of(understand(photo.tags, name=photo.name)))
        check_same_camera(cameras, files)
        old = old or draft(cameras[0], profile, shelf_dir)
        frames.append(_relative_luminance(photo, old.profile.response))
    found = from_flat_frames(frames, [file in turned for file in files], [str(file) for file in files])
    source = f"{len(files)} photo{'s' if len(files) > 1 else ''} of an even surface"
    source += f", {len(turned)} with the phone turned" if turned else ""
    aspect = frames[0].shape[1] / frames[0].shape[0]
    corner = min(found.falloff.stops_at(x, y, aspect) for x in (0, 1) for y in (0, 1))
    file = keep(with_falloff(old, found.falloff, source, on))
    return Flattened(file, old.begun, cameras[0], len(files), found, corner, old.has_response)


def _relative_luminance(photo: Photo, response: Response) -> np.ndarray:
    """Linear luminance of the frame as it is stored, 1 = full scale. (H, W) float32"""
    weights = LUMINANCE_WEIGHTS[photo.space]
    channels = (response.red, response.green, response.blue)
    full = sum(weight * channel[-1] for weight, channel in zip(weights, channels, strict=True))
    return light_map(replace(photo, orientation=1), tables_for(response, MID_GREY / full, weights)).luminance
