"""Fit a phone's response to exposure series of still scenes, and keep it in the phone's profile."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from calibration.from_bracket import Calibrated, fit_response
from meter.jobs.keep_profile import draft, keep, with_response
from meter.jobs.read_series import Series, Watch, read_series
from meter.profile_file import Conditions, Residual


@dataclass(frozen=True)
class FittedResponse:
    """What a response calibration found. dropped: the offset that the old response had, and its sigma. [stops]"""

    file: Path
    begun: bool
    series: Series
    found: Calibrated
    dropped: tuple[float, float] | None


def calibrate_response(
    paths: Sequence[Path],
    *,
    profile: str | None = None,
    shelf_dir: Path | None = None,
    watch: Watch | None = None,
    on: date | None = None,
) -> FittedResponse:
    """Fit one response to all scenes and write it into the camera's profile.

    paths: photos of one scene, or a folder for each scene. watch: told of each photo that was read.
    Raises PhotoError or BadInput where the photos cannot give a response; then nothing is written.
    """
    series = read_series(paths, watch)
    found = fit_response(series.scenes)
    old = draft(series.camera, profile, shelf_dir)
    photos, scenes = sum(map(len, series.photos)), len(series.photos)
    source = f"{photos} photos of {scenes} still scene{'s' if scenes > 1 else ''}"
    new = with_response(old, found.response, _conditions(found, photos, scenes), source, on)
    dropped = (old.profile.offset_stops, old.profile.offset_sigma) if old.has_offset else None
    return FittedResponse(keep(new), old.begun, series, found, dropped)


def _conditions(found: Calibrated, photos: int, scenes: int) -> Conditions:
    return Conditions(
        frames=photos,
        scenes=scenes,
        range_stops=found.range_stops,
        first_code=found.seen_codes[0],
        last_code=found.seen_codes[1],
        spread_before_stops=found.spread_before,
        spread_after_stops=found.spread_after,
        residuals=tuple(Residual(b.first_code, b.last_code, b.rms_stops, b.samples) for b in found.bins),
        disagreeing=tuple(frame.name for frame in found.disagreeing),
    )
