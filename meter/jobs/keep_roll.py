"""Keep the roll log: load, expose, show, undo, unload, export; and remember readings for the next frame."""

import csv
import io
import json
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path, PurePath

from meter.camera import Kit
from meter.errors import BadInput, LogError
from meter.film import Film
from meter.jobs.frame_setting import (
    Remembered,
    Setting,
    exposure_of_reading,
    focus_warnings,
    known_filters,
    reading_notes,
    typed_exposure,
    with_words,
)
from meter.logbook.book import Book
from meter.order import index_for
from meter.roll import Frame, NewRoll, Roll, check_number, frame_warnings, plain_roll
from meter.stops import time_text

KEPT_OF_A_READING = (  # nothing else of a reading is stored: no place, no folder, no camera of the snapshot
    "average", "center", "spots", "shadow", "highlight", "range_stops", "development", "exposure", "settings",
    "preferred", "cautions", "kit", "film", "filters", "focus",
)  # fmt: skip
CSV_COLUMNS = (
    "roll", "film", "ei", "kit", "format", "number", "exposed_at", "shutter", "time_s", "aperture", "f_number",
    "development", "placements", "filter", "focus_m", "note", "photo", "where", "undone_at",
)  # fmt: skip


@dataclass(frozen=True)
class Recorded:
    """A frame as it went into the log, its roll afterwards, and what to know about it."""

    roll: Roll
    frame: Frame
    warnings: tuple[str, ...]


def default_log(writing: bool = True) -> Path:
    """The log in the user's data folder, which is made if need be for writing. Raises LogError where it cannot be."""
    from platformdirs import user_data_path

    folder = user_data_path("stopgap", appauthor=False)
    if writing:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            why = error.strerror or error
            raise LogError(
                f"the folder {folder} for the roll log cannot be made ({why}): name a file with --log"
            ) from error
    return folder / "rolls.db"


def _book(log: Path | None, writing: bool = True) -> Book:
    return Book(log or default_log(writing), writing=writing)


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


def _moment(text: str | None) -> str:
    """When it happened: now, or as typed (local time unless it carries an offset)."""
    if text is None:
        return _now()
    try:
        return datetime.fromisoformat(text.strip()).astimezone().isoformat(timespec="seconds")
    except (ValueError, OverflowError, OSError):
        raise BadInput(f"time '{text}' is not readable: write 2026-05-01 10:32") from None


def facts_of(kit: Kit, film: Film) -> dict:
    """What records need of kit and film, so that a log still says what was set when their files have changed."""
    return {
        "marks": list(kit.lens.marks),
        "iris": kit.lens.iris,
        "focal_length_mm": kit.lens.focal_length_mm,
        "nearest_focus_m": kit.lens.nearest_focus_m,
        "focal_35mm": kit.focal_35mm,
        "speeds": [[speed.label, speed.marked_s, speed.time_s] for speed in kit.shutter.speeds],
        "bulb": kit.shutter.bulb,
        "film_kind": film.kind,
        "film_process": film.process,
    }


def load_roll(
    film: str,
    kit: str,
    ei: float | None = None,
    frames: int | None = None,
    at: str | None = None,
    log: Path | None = None,
    shelf: Path | None = None,
) -> Roll:
    """Record a film put into a kit. ei: else see index_for. frames: else what the back gives. Raises BadInput."""
    from meter.shelf.reader import Shelf

    things = Shelf(shelf)
    a_film, a_kit = things.film(film), things.kit(kit)
    made = NewRoll(
        film=a_film.slug,
        film_name=a_film.name,
        iso=a_film.speed_iso,
        ei=index_for(a_kit, a_film, ei),
        kit=a_kit.slug,
        kit_name=a_kit.name,
        format=a_kit.back.format,
        capacity=frames if frames is not None else a_kit.back.frames,
        facts=facts_of(a_kit, a_film),
    )
    with _book(log) as book:
        return _by_id(book, book.load(made, _moment(at)))


def all_rolls(log: Path | None = None) -> tuple[Roll, ...]:
    """Every roll in the log, oldest first."""
    with _book(log, writing=False) as book:
        return book.rolls()


def find_roll(roll: int | None = None, kit: str | None = None, log: Path | None = None) -> Roll:
    """One roll to look at: by number, else the loaded one (of this kit), else the last unloaded. Raises BadInput."""
    return _chosen(all_rolls(log), roll, kit)


def loaded_in(kit: str, log: Path | None = None) -> Roll | None:
    """The roll in this kit, by its slug; None where none is loaded or nothing was ever logged."""
    path = log or default_log(writing=False)
    if not path.exists():
        return None
    return next((roll for roll in all_rolls(log) if roll.unloaded_at is None and roll.made.kit == kit), None)


def find_finished_roll(roll: int | None = None, kit: str | None = None, log: Path | None = None) -> Roll:
    """The roll that is in the darkroom or the scanner: by number, else the last unloaded, else the loaded one."""
    rolls = all_rolls(log)
    done = [r for r in rolls if r.unloaded_at and kit in (None, r.made.kit)]
    if roll is None and done:
        return max(done, key=lambda r: (r.unloaded_at, r.id))
    return _chosen(rolls, roll, kit)


def _chosen(rolls: tuple[Roll, ...], roll: int | None, kit: str | None) -> Roll:
    if roll is not None:
        found = [r for r in rolls if r.id == roll]
        if not found:
            raise BadInput(f"there is no roll {roll} in this log: see roll show --rolls")
        return found[0]
    try:
        return _loaded(rolls, kit)
    except BadInput:
        done = [r for r in rolls if r.unloaded_at and kit in (None, r.made.kit)]
        if any(not r.unloaded_at for r in rolls) or not done:
            raise
        return max(done, key=lambda r: r.unloaded_at)


def _loaded(rolls: tuple[Roll, ...], kit: str | None) -> Roll:
    loaded = [r for r in rolls if r.unloaded_at is None and kit in (None, r.made.kit)]
    if len(loaded) > 1:
        names = ", ".join(r.made.kit for r in loaded)
        raise BadInput(f"several cameras are loaded: say which with --kit ({names})")
    if not loaded:
        raise BadInput(f"no film is loaded{f' in {kit}' if kit else ''}: load one first (roll load FILM --kit NAME)")
    return loaded[0]


def _by_id(book: Book, roll_id: int) -> Roll:
    return next(r for r in book.rolls() if r.id == roll_id)


def expose_frame(
    setting: Setting, kit: str | None = None, log: Path | None = None, shelf: Path | None = None
) -> Recorded:
    """Record a frame from options, or from a remembered reading where shutter and aperture are not both given.

    Raises BadInput for what this roll's kit cannot do, or when there is nothing to take the settings from.
    """
    at = _moment(setting.at)
    with _book(log) as book:
        source = None if setting.complete else _wanted_reading(book, setting)
        roll = _loaded(book.rolls(), kit or (_kit_of(source, book) if source else None))
        check_number(setting.number, roll)
        filters, warnings = known_filters(setting.filters, roll, shelf)
        exposure = exposure_of_reading(setting, source, roll) if source else typed_exposure(setting, roll)
        exposure = with_words(exposure, replace(setting, filters=filters))
        warnings += focus_warnings(exposure, roll)
        if source:
            warnings += reading_notes(source, exposure, roll, at)
        number = book.expose(roll.id, exposure, at, setting.number)
        roll = _by_id(book, roll.id)
    frame = next(f for f in roll.live if f.number == number)
    return Recorded(roll, frame, (*frame_warnings(number, roll.made.capacity, roll.made.format), *warnings))


def undo_frame(number: int | None = None, kit: str | None = None, log: Path | None = None) -> tuple[Roll, int]:
    """Mark the last frame (or this one) as undone: its record stays, its number is free again."""
    with _book(log) as book:
        roll = _loaded(book.rolls(), kit)
        number = book.undo(roll.id, _now(), number)
        return _by_id(book, roll.id), number


def unload_roll(kit: str | None = None, at: str | None = None, log: Path | None = None) -> Roll:
    """Record that the film left its kit."""
    with _book(log) as book:
        roll = _loaded(book.rolls(), kit)
        book.unload(roll.id, _moment(at))
        return _by_id(book, roll.id)


def remember_reading(reading: dict, log: Path | None = None) -> int:
    """Keep a reading (the JSON object that `read --json` prints) for the next frame; its number in the log.

    Only its numbers and the file name of its photo are kept: no folder, no place, no camera of the snapshot.
    """
    record = {key: reading[key] for key in KEPT_OF_A_READING if key in reading}
    photos = reading.get("photos") or []
    record["photo"] = PurePath(str(photos[0]["file"]).replace("\\", "/")).name if photos else None
    with _book(log) as book:
        return book.remember(record, _now())


def _wanted_reading(book: Book, setting: Setting) -> Remembered:
    source = book.reading(setting.reading)
    if source is None:
        what = f"no reading {setting.reading} in the log" if setting.reading else "no reading is remembered"
        raise BadInput(f"{what}: give --shutter and --aperture, or meter with read PHOTO --remember first")
    return Remembered(*source)


def _kit_of(source: Remembered, book: Book) -> str | None:
    """The reading's kit, if a film is loaded in it."""
    kit = source.record.get("kit")
    return kit if kit in {r.made.kit for r in book.rolls() if r.unloaded_at is None} else None


def export_rolls(rolls: tuple[Roll, ...], kind: str, with_undone: bool = False) -> str:
    """The text of an export: kind "csv" (one row a frame) or "json" (one object a roll)."""
    plain = [plain_roll(roll, with_undone) for roll in rolls]
    if kind == "json":
        return json.dumps({"format": 1, "rolls": plain}, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, CSV_COLUMNS, extrasaction="ignore")
    writer.writeheader()
    for roll in plain:
        for frame in roll["frames"]:
            placed = "; ".join(f"{p['name']}={p['zone']:g}" for p in frame["placements"])
            writer.writerow(roll | frame | {"placements": placed})
    return text.getvalue()


def say_time(frame: Frame) -> str:
    """The shutter as people write it: the engraved speed, or B with the time held."""
    exposure = frame.exposure
    return f"B {time_text(exposure.time_s)}" if exposure.shutter == "B" else exposure.shutter
