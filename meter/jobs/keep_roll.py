"""Keep the roll log: load, expose, show, undo, unload, export; and remember readings for the next frame."""

import csv
import io
import json
from dataclasses import dataclass, replace
from datetime import datetime
from math import log2
from pathlib import Path, PurePath

from meter.camera import Kit, Lens
from meter.errors import BadInput
from meter.film import Film
from meter.logbook.book import Book
from meter.roll import Frame, FrameExposure, NewRoll, Roll, ZonedPart, frame_warnings, parse_development, plain_roll
from meter.stops import aperture_text, exact_time, parse_f_number, parse_time, time_text
from meter.zones import parse_zone

LONG_AGO_H = 12.0  # a reading older than this is named as old [h]; our choice
KEPT_OF_A_READING = (  # nothing else of a reading is stored: no place, no folder, no camera of the snapshot
    "average", "center", "spots", "shadow", "highlight", "range_stops", "development", "exposure", "settings",
    "preferred", "cautions", "kit", "film",
)  # fmt: skip
CSV_COLUMNS = (
    "roll", "film", "ei", "kit", "format", "number", "exposed_at", "shutter", "time_s", "aperture", "f_number",
    "development", "placements", "filter", "focus_m", "note", "photo", "where", "undone_at",
)  # fmt: skip


@dataclass(frozen=True)
class Setting:
    """What the photographer says of a frame, each part as typed or None. number: of the frame; rung: its shutter."""

    shutter: str | None = None
    held: str | None = None
    aperture: str | None = None
    rung: str | None = None
    reading: int | None = None
    places: tuple[str, ...] = ()
    development: str | None = None
    filter: str | None = None
    focus_m: float | None = None
    note: str | None = None
    photo: str | None = None
    where: str | None = None
    number: int | None = None
    at: str | None = None


@dataclass(frozen=True)
class Recorded:
    """A frame as it went into the log, its roll afterwards, and what to know about it."""

    roll: Roll
    frame: Frame
    warnings: tuple[str, ...]


def default_log() -> Path:
    """The log in the user's data folder, which is made if need be."""
    from platformdirs import user_data_path

    return user_data_path("stopgap", appauthor=False, ensure_exists=True) / "rolls.db"


def _book(log: Path | None, writing: bool = True) -> Book:
    return Book(log or default_log(), writing=writing)


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
    """Record a film put into a kit. ei: else the film's own. frames: else what the back gives. Raises BadInput."""
    from meter.shelf.reader import Shelf

    things = Shelf(shelf)
    a_film, a_kit = things.film(film), things.kit(kit)
    made = NewRoll(
        film=a_film.slug,
        film_name=a_film.name,
        iso=a_film.speed_iso,
        ei=ei if ei is not None else a_film.ei_default,
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


def expose_frame(setting: Setting, kit: str | None = None, log: Path | None = None) -> Recorded:
    """Record a frame from options, or from a remembered reading where shutter and aperture are not both given.

    Raises BadInput for what this roll's kit cannot do, or when there is nothing to take the settings from.
    """
    at = _moment(setting.at)
    with _book(log) as book:
        typed = setting.shutter is not None and setting.aperture is not None
        if typed and (setting.rung is not None or setting.reading is not None):
            raise BadInput("--rung and --reading choose from a reading: leave them, or leave --shutter and --aperture")
        if setting.shutter is not None and setting.aperture is None:
            raise BadInput("--shutter needs --aperture beside it; to take another rung of the reading use --rung")
        source = None if typed else _wanted_reading(book, setting)
        kit = kit or (_kit_of(source, book) if source else None)
        roll = _loaded(book.rolls(), kit)
        exposure = _typed_exposure(setting, roll) if typed else _exposure_of_reading(setting, source)
        notes = _reading_notes(source, roll, at) if source else []
        number = book.expose(roll.id, _with_words(exposure, setting), at, setting.number)
        roll = _by_id(book, roll.id)
    frame = next(f for f in roll.live if f.number == number)
    return Recorded(roll, frame, (*frame_warnings(number, roll.made.capacity, roll.made.format), *notes))


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


def _wanted_reading(book: Book, setting: Setting) -> tuple[int, str, dict]:
    source = book.reading(setting.reading)
    if source is None:
        what = f"no reading {setting.reading} in the log" if setting.reading else "no reading is remembered"
        raise BadInput(f"{what}: give --shutter and --aperture, or meter with read PHOTO --remember first")
    return source


def _kit_of(source: tuple[int, str, dict], book: Book) -> str | None:
    """The reading's kit, if a film is loaded in it."""
    kit = source[2].get("kit")
    return kit if kit in {r.made.kit for r in book.rolls() if r.unloaded_at is None} else None


def _typed_exposure(setting: Setting, roll: Roll) -> FrameExposure:
    facts = roll.made.facts
    shutter, time_s = _shutter(setting.shutter, setting.held, facts)
    f_number = parse_f_number(setting.aperture)
    lens = Lens(facts["focal_length_mm"], tuple(facts["marks"]), facts["iris"])
    if not lens.reaches(f_number):
        marks = lens.marks
        raise BadInput(f"f/{f_number:.3g} lies outside this lens, f/{marks[0]:g} to f/{marks[-1]:g}")
    return FrameExposure(shutter, time_s, f_number, aperture_text(f_number, lens.marks))


def _shutter(text: str, held: str | None, facts: dict) -> tuple[str, float]:
    """The engraved speed and what the film gets from it; anything else the kit can only do on B. [s]"""
    if text.strip().upper() in ("B", "BULB"):
        if held is None:
            raise BadInput("B needs the time it was held: add --held 12s")
        time_s, label = parse_time(held), "B"
    else:
        if held is not None:
            raise BadInput("--held belongs to --shutter B")
        time_s, label = parse_time(text), None
        for engraved, marked_s, film_s in facts["speeds"]:
            if min(abs(log2(exact_time(time_s) / marked_s)), abs(log2(time_s / marked_s))) < 0.02:
                return engraved, film_s
    slowest_s = max((marked_s for _, marked_s, _ in facts["speeds"]), default=0.0)
    if facts["bulb"] and (label or time_s > slowest_s):
        return "B", time_s
    there_are = ", ".join([engraved for engraved, *_ in facts["speeds"]] + (["B"] if facts["bulb"] else []))
    raise BadInput(f"this shutter has no {text}: it has {there_are}")


def _exposure_of_reading(setting: Setting, source: tuple[int, str, dict]) -> FrameExposure:
    number, _, record = source
    rung = _rung(setting, record)
    spots = [spot for spot in record.get("spots") or [] if spot.get("zone") is not None]
    asked = record.get("development")
    return FrameExposure(
        shutter=str(rung["shutter"]),
        time_s=rung["hold_s"] if rung.get("bulb") and rung.get("hold_s") else rung["time_s"],
        f_number=rung["f_number"],
        aperture=rung["aperture"],
        development=parse_development(asked) if isinstance(asked, str) else asked,
        placements=tuple(_placement_of(spot) for spot in spots),
        photo=record.get("photo"),
        reading=number,
    )


def _rung(setting: Setting, record: dict) -> dict:
    """The preferred setting of a reading, or the one that --rung (and --aperture) choose."""
    settings, preferred = record.get("settings") or [], record.get("preferred")
    if setting.rung is None and setting.aperture is None:
        if preferred is None:
            raise BadInput(
                "the last reading prefers no setting: choose one with --rung, or give --shutter and --aperture"
            )
        return settings[preferred]
    fits = [s for s in settings if s.get("usable", True)]
    if setting.rung is not None:
        fits = [s for s in fits if _same_shutter(str(s["shutter"]), setting.rung)]
    if setting.aperture is not None:
        wanted = parse_f_number(setting.aperture)
        fits = [s for s in fits if abs(2 * log2(s["f_number"] / wanted)) <= 0.05]
    if len(fits) != 1:
        there = "; ".join(f"{s['shutter']} {s['aperture']}" for s in settings if s.get("usable", True)) or "none"
        raise BadInput(f"{'no' if not fits else 'more than one'} rung of the reading fits; it has: {there}")
    return fits[0]


def _same_shutter(label: str, typed: str) -> bool:
    if "B" in (label.upper(), typed.strip().upper()):
        return label.upper() == typed.strip().upper()
    return abs(log2(exact_time(parse_time(label)) / exact_time(parse_time(typed)))) < 0.02


def _placement_of(spot: dict) -> ZonedPart:
    zone = spot["zone"]
    name = spot.get("label") or f"{spot['x']:.2f},{spot['y']:.2f}"
    zone = parse_zone(zone) if isinstance(zone, str) else float(zone)
    return ZonedPart(name, zone, bool(spot.get("placed")), spot.get("sigma"))


def _reading_notes(source: tuple[int, str, dict], roll: Roll, at: str) -> list[str]:
    """What makes a remembered reading doubtful for this frame."""
    number, remembered_at, record = source
    hours = (datetime.fromisoformat(at) - datetime.fromisoformat(remembered_at)).total_seconds() / 3600
    notes = [f"reading {number} is {hours:.0f} hours old"] if hours > LONG_AGO_H else []
    read_ei = (record.get("exposure") or {}).get("ei")
    if read_ei and abs(log2(read_ei / roll.made.ei)) > 0.05:
        stops = log2(read_ei / roll.made.ei)
        notes.append(f"the reading was for EI {read_ei:g}, this roll is at EI {roll.made.ei:g}: {stops:+.1f} stops off")
    if record.get("kit") and record["kit"] != roll.made.kit:
        notes.append(f"the reading was for {record['kit']}, this roll is in {roll.made.kit}")
    return notes


def _with_words(exposure: FrameExposure, setting: Setting) -> FrameExposure:
    """Add what was typed beside the settings; typed placements come after those of the reading, or replace them."""
    typed = tuple(_typed_placement(text) for text in setting.places)
    names = {placement.name for placement in typed}
    kept = tuple(p for p in exposure.placements if p.name not in names)
    photo = setting.photo and PurePath(setting.photo.replace("\\", "/")).name
    asked = None if setting.development is None else parse_development(setting.development)
    return replace(
        exposure,
        placements=kept + typed,
        development=exposure.development if asked is None else asked,
        filter=setting.filter,
        focus_m=setting.focus_m,
        note=setting.note,
        photo=photo or exposure.photo,
        where=setting.where,
    )


def _typed_placement(text: str) -> ZonedPart:
    name, found, zone = text.rpartition("=")
    if not (found and name.strip()):
        raise BadInput(f"placement '{text}' is not readable: write NAME=ZONE, such as \"quay wall=III\"")
    return ZonedPart(name.strip(), parse_zone(zone))


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
