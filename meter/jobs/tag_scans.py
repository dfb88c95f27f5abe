"""Write the frames of a roll into scan files as standard EXIF; a scan is never lost or half-written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from math import isfinite
from pathlib import Path

from meter.errors import BadInput, MeterError
from meter.jobs.whole_file import whole_file
from meter.roll import Frame, Roll, tank_text
from meter.stops import parse_time
from meter.zones import zone_text

SUFFIXES = (".jpg", ".jpeg", ".tif", ".tiff")
MANUAL = 1  # ExposureProgram


@dataclass(frozen=True)
class Tagged:
    """One scan, its frame, the file that now carries the frame's data, and what had to give way in it."""

    scan: Path
    number: int
    written: Path
    gave_way: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def tag_scans(
    scans: Sequence[str], roll: Roll, *, out: Path | None = None, first: int | None = None, dry_run: bool = False
) -> tuple[Tagged, ...]:
    """Give each scan the exposure of its frame.

    scans: files in the order of the frames, or "FILE=NUMBER". out: a folder for the new files, made if need be; None
    replaces each scan by its tagged copy once that is complete. first: the frame of the first scan (default: the
    first recorded). dry_run: only say what would be done. Raises BadInput before anything is written.
    """
    plan = _plan(_matched(scans, roll, first), out)
    if dry_run:
        return plan
    if out is not None:
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            why = error.strerror or error
            raise MeterError(f"the folder {out} cannot be made ({why}): nothing was written; name another") from error
    frames = {frame.number: frame for frame in roll.live}
    done: list[Tagged] = []
    for entry in plan:
        try:
            done.append(_tag(entry, roll, frames[entry.number]))
        except MeterError as error:
            if done:
                error.args = (f"{error} ({len(done)} of {len(plan)} scans before it are tagged and complete)",)
            raise
    return tuple(done)


def _tag(entry: Tagged, roll: Roll, frame: Frame) -> Tagged:
    from meter.pixels.exif_writer import write_exif

    with whole_file(entry.written, force=True) as part:
        written = write_exif(entry.scan, part, exif_of(roll, frame))
    return Tagged(entry.scan, entry.number, entry.written, written.gave_way, written.notes)


def _matched(scans: Sequence[str], roll: Roll, first: int | None) -> list[tuple[Path, int]]:
    numbers = [frame.number for frame in roll.live]
    if not numbers:
        raise BadInput(f"roll {roll.id} has no frames to write into scans")
    if first is not None and first not in numbers:
        raise BadInput(f"roll {roll.id} has no frame {first}; it has {_spans(numbers)}")
    in_order = iter([number for number in numbers if number >= (first or 0)])
    matched = []
    for text in scans:
        path, number = _named(text)
        if number is None:
            number = next(in_order, None)
        if number is None:
            raise BadInput(f"more scans than frames: {path} is left over; roll {roll.id} has {_spans(numbers)}")
        if number not in numbers:
            raise BadInput(f"{path}: roll {roll.id} has no frame {number}; it has {_spans(numbers)}")
        matched.append((path, number))
    return matched


def _named(text: str) -> tuple[Path, int | None]:
    name, found, number = text.rpartition("=")
    if found and number.isdigit() and not Path(text).exists():
        return Path(name), int(number)
    return Path(text), None


def _spans(numbers: Sequence[int]) -> str:
    return f"frames {numbers[0]} to {numbers[-1]}" if len(numbers) > 1 else f"frame {numbers[0]}"


def _plan(matched: list[tuple[Path, int]], out: Path | None) -> tuple[Tagged, ...]:
    plan = tuple(Tagged(scan, number, out / scan.name if out else scan) for scan, number in matched)
    for entry in plan:
        if not entry.scan.is_file():
            raise BadInput(f"there is no file {entry.scan}: nothing was written")
        if entry.scan.suffix.lower() not in SUFFIXES:
            raise BadInput(
                f"{entry.scan} is neither JPEG nor TIFF: nothing was written; export the scan as one of them"
            )
        if out is not None and entry.written.exists():
            raise BadInput(f"{entry.written} exists already: nothing was written; name another folder")
    for what, values in (("file", [e.written for e in plan]), ("frame", [e.number for e in plan])):
        twice = next((value for value in values if values.count(value) > 1), None)
        if twice is not None:
            raise BadInput(f"{what} {twice} is named twice: nothing was written")
    return plan


def exif_of(roll: Roll, frame: Frame) -> dict[str, object]:
    """The EXIF of a frame: engraved values where it was set on a mark, as cameras write them, else what was set."""
    exposure, facts = frame.exposure, roll.made.facts
    when = datetime.fromisoformat(frame.exposed_at)
    values: dict[str, object] = {
        "ExposureTime": _exif_time(frame, facts),
        "FNumber": _exif_f_number(frame),
        "ExposureProgram": MANUAL,
        "PhotographicSensitivity": roll.made.ei,
        "DateTimeOriginal": when.strftime("%Y:%m:%d %H:%M:%S"),
        "UserComment": comment_of(roll, frame),
    }
    if when.tzinfo is not None:
        offset = when.strftime("%z")
        values["OffsetTimeOriginal"] = f"{offset[:3]}:{offset[3:5]}"
    if facts.get("focal_length_mm"):
        values["FocalLength"] = Fraction(str(facts["focal_length_mm"]))
        values["FocalLengthIn35mmFilm"] = facts["focal_35mm"]
    if exposure.focus_m is not None and isfinite(exposure.focus_m):
        values["SubjectDistance"] = Fraction(str(round(exposure.focus_m, 3)))
    return values


def _exif_time(frame: Frame, facts: dict) -> Fraction:
    exposure = frame.exposure
    for label, marked_s, film_s in facts.get("speeds", ()):
        if label == exposure.shutter and film_s == marked_s:
            return Fraction(parse_time(label)).limit_denominator(10_000)
    return Fraction(exposure.time_s).limit_denominator(100_000)


def _exif_f_number(frame: Frame) -> Fraction:
    aperture = frame.exposure.aperture.removeprefix("f/")
    return Fraction(aperture) if "+" not in aperture else Fraction(str(round(frame.exposure.f_number, 1)))


def comment_of(roll: Roll, frame: Frame) -> str:
    """The rest of a record in one line, for programs that show comments. Without the place: that stays in the log."""
    exposure, made = frame.exposure, roll.made
    parts = [f"{made.film_name} at EI {made.ei:g}", made.kit_name, f"frame {frame.number}"]
    parts.append(f"{exposure.shutter} {exposure.aperture}")
    if exposure.development is not None:
        parts.append(tank_text(exposure.development))
    parts += [f"{p.name} {'on' if p.placed else 'fell on'} {zone_text(p.zone)}" for p in exposure.placements]
    parts += [text for text in (exposure.filter, exposure.note) if text]
    return "; ".join(parts)
