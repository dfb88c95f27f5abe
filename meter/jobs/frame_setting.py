"""What one frame got: from options, or from a remembered reading, checked against what the roll's kit can be set to."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf, log2
from pathlib import Path, PurePath

from meter.camera import Lens
from meter.distance import metres_text
from meter.errors import BadInput, ShelfError
from meter.roll import FrameExposure, Roll, ZonedPart, parse_development
from meter.stops import aperture_stops, aperture_text, exact_time, parse_f_number, parse_time
from meter.zones import parse_zone

LONG_AGO_H = 12.0  # a reading older than this is named as old [h]; our choice
WORTH_A_WORD_STOPS = 0.05  # half of the last digit that is printed [stops]
FOUND_PARTS = ("shadow", "highlight")  # what a reading found by itself, recorded as "textured shadow" and so on


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
    filters: tuple[str, ...] = ()
    focus_m: float | None = None
    note: str | None = None
    photo: str | None = None
    where: str | None = None
    number: int | None = None
    at: str | None = None

    @property
    def holds_bulb(self) -> bool:
        """Whether B and its time are given without an aperture: that is then the reading's."""
        return self.aperture is None and self.held is not None and self.shutter is not None and _is_bulb(self.shutter)

    @property
    def complete(self) -> bool:
        """Whether shutter and aperture are both typed, so that no reading is needed. Raises BadInput for a mixture."""
        if self.shutter is None:
            return False
        chooses = "--rung" if self.rung is not None else "--reading" if self.reading is not None else None
        if chooses and not (chooses == "--reading" and self.holds_bulb):
            raise BadInput("--rung and --reading choose from a reading: leave them, or leave --shutter and --aperture")
        if self.aperture is None and not self.holds_bulb:
            raise BadInput(
                "--shutter needs --aperture beside it; to take another rung of the reading use --rung, and on B "
                "--shutter B --held 12s takes the reading's aperture"
            )
        return self.aperture is not None


@dataclass(frozen=True)
class Remembered:
    """A reading as the log keeps it: its number, when, and the kept part of its answer."""

    number: int
    at: str
    record: dict


def typed_exposure(setting: Setting, roll: Roll) -> FrameExposure:
    """What was typed, on this roll's kit. Raises BadInput for what that kit does not have."""
    shutter, time_s = _shutter(setting.shutter, setting.held, roll.made.facts)
    f_number = parse_f_number(setting.aperture)
    return FrameExposure(shutter, time_s, f_number, _aperture(f_number, roll))


def exposure_of_reading(setting: Setting, source: Remembered, roll: Roll) -> FrameExposure:
    """The rung of a reading that was asked for, as this roll's kit gives it. Raises BadInput where it cannot."""
    record, asked = source.record, source.record.get("development")
    rung = _rung(setting, record)
    if setting.held is not None and not rung.get("bulb"):
        raise BadInput(f"--held belongs to B, and this rung of the reading is {rung['shutter']}: add --rung B")
    try:
        shutter, time_s = _shutter_of_rung(rung, setting.held, roll.made.facts)
        aperture = _aperture(rung["f_number"], roll, exactly=True)
    except BadInput as error:
        kit = record.get("kit")
        was_for = f" was for {kit} and" if kit and kit != roll.made.kit else ""
        raise BadInput(
            f"reading {source.number}{was_for} cannot be set in {roll.made.kit}: {error}; "
            "say what was set with --shutter and --aperture"
        ) from None
    return FrameExposure(
        shutter=shutter,
        time_s=time_s,
        f_number=rung["f_number"],
        aperture=aperture,
        development=parse_development(asked) if isinstance(asked, str) else asked,
        placements=tuple(_parts(record)),
        filter=" + ".join(record.get("filters") or ()) or None,
        focus_m=_focus_of(record),
        photo=record.get("photo"),
        reading=source.number,
    )


def _is_bulb(text: str) -> bool:
    return text.strip().upper() in ("B", "BULB")


def _aperture(f_number: float, roll: Roll, *, exactly: bool = False) -> str:
    """The aperture as the pointer stands. exactly: also refuse what the iris's clicks do not have."""
    facts = roll.made.facts
    lens = Lens(facts["focal_length_mm"], tuple(facts["marks"]), facts["iris"])
    if not lens.reaches(f_number):
        raise BadInput(f"f/{f_number:.3g} lies outside this lens, f/{lens.marks[0]:g} to f/{lens.marks[-1]:g}")
    off = aperture_stops(f_number) - aperture_stops(lens.settable(f_number))
    if exactly and abs(off) > WORTH_A_WORD_STOPS:
        raise BadInput(f"f/{f_number:.3g} lies between the {lens.iris}-stop clicks of this lens")
    return aperture_text(f_number, lens.marks)


def _shutter(text: str, held: str | None, facts: dict) -> tuple[str, float]:
    """The engraved speed and what the film gets from it; anything else the kit can only do on B. [s]"""
    if _is_bulb(text):
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


def _shutter_of_rung(rung: dict, held: str | None, facts: dict) -> tuple[str, float]:
    """A rung's shutter on this roll's kit: a B rung as long as it was held, else as long as the reading asked. [s]"""
    if not rung.get("bulb"):
        return _shutter(str(rung["shutter"]), None, facts)
    if not facts["bulb"]:
        raise BadInput("this shutter has no B")
    return "B", rung.get("hold_s") or rung["time_s"] if held is None else parse_time(held)


def _rung(setting: Setting, record: dict) -> dict:
    """The preferred setting of a reading, or the one that --rung (or --shutter B) and --aperture choose."""
    settings, preferred = record.get("settings") or [], record.get("preferred")
    best = None if preferred is None else settings[preferred]
    wanted_shutter = setting.shutter if setting.holds_bulb else setting.rung
    if wanted_shutter is None and setting.aperture is None:
        if best is None:
            raise BadInput(
                "the last reading prefers no setting: choose one with --rung, or give --shutter and --aperture"
            )
        return best
    fits = [s for s in settings if s.get("usable", True)]
    if wanted_shutter is not None:
        fits = [s for s in fits if _same_shutter(str(s["shutter"]), wanted_shutter)]
    if setting.aperture is not None:
        wanted = parse_f_number(setting.aperture)
        fits = [s for s in fits if abs(2 * log2(s["f_number"] / wanted)) <= WORTH_A_WORD_STOPS]
    if len(fits) > 1 and best in fits:
        return best
    if len(fits) != 1:
        there = "; ".join(f"{s['shutter']} {s['aperture']}" for s in settings if s.get("usable", True)) or "none"
        raise BadInput(f"{'no' if not fits else 'more than one'} rung of the reading fits; it has: {there}")
    return fits[0]


def _same_shutter(label: str, typed: str) -> bool:
    if _is_bulb(label) or _is_bulb(typed):
        return _is_bulb(label) and _is_bulb(typed)
    return abs(log2(exact_time(parse_time(label)) / exact_time(parse_time(typed)))) < 0.02


def _parts(record: dict) -> Iterator[ZonedPart]:
    """The spots of a reading that have a zone, then the textured ends that it found."""
    for spot in record.get("spots") or ():
        if spot.get("zone") is not None:
            yield _part(spot, spot.get("label") or f"{spot['x']:.2f},{spot['y']:.2f}")
    for end in FOUND_PARTS:
        if (spot := record.get(end)) and spot.get("zone") is not None:
            yield _part(spot, f"textured {end}")


def _part(spot: dict, name: str) -> ZonedPart:
    zone = spot["zone"]
    zone = parse_zone(zone) if isinstance(zone, str) else float(zone)
    return ZonedPart(name, zone, bool(spot.get("placed")), spot.get("sigma"))


def _focus_of(record: dict) -> float | None:
    """Where the lens was to be focused; an answer writes infinity as null. [m]"""
    if not (focus := record.get("focus")):
        return None
    return inf if focus.get("focus_m") is None else float(focus["focus_m"])


def reading_notes(source: Remembered, exposure: FrameExposure, roll: Roll, at: str) -> list[str]:
    """What makes a remembered reading doubtful for this frame. exposure: as it will be recorded."""
    number, record = source.number, source.record
    hours = (datetime.fromisoformat(at) - datetime.fromisoformat(source.at)).total_seconds() / 3600
    notes = [f"reading {number} is {hours:.0f} hours old"] if hours > LONG_AGO_H else []
    read_ei = (record.get("exposure") or {}).get("ei")
    if read_ei and abs(more := log2(roll.made.ei / read_ei)) > WORTH_A_WORD_STOPS:
        notes.append(f"the reading was for EI {read_ei:g}, this roll is at EI {roll.made.ei:g}: {_off_text(more)}")
    if record.get("kit") and record["kit"] != roll.made.kit:
        notes.append(f"the reading was for {record['kit']}, this roll is in {roll.made.kit}{_drift(record, exposure)}")
    counted, on_lens = record.get("filters"), (exposure.filter or "").split(" + ")
    if counted is not None and exposure.filter and sorted(counted) != sorted(on_lens):
        notes.append(f"the reading counted {' + '.join(counted) or 'no filter'}, this frame has {exposure.filter}")
    return notes


def _off_text(more_stops: float) -> str:
    """How far the film is from what it should get; plus is more exposure.

    >>> _off_text(-1.0), _off_text(0.33)
    ('1 stop under', '0.3 stops over')
    """
    size = f"{abs(more_stops):.1f}".removesuffix(".0")
    return f"{size} stop{'' if size == '1' else 's'} {'over' if more_stops > 0 else 'under'}"


def _drift(record: dict, exposure: FrameExposure) -> str:
    """What another kit's shutter does to the exposure where its speed of this name is not as long."""
    for rung in record.get("settings") or ():
        if rung["shutter"] == exposure.shutter and not rung.get("bulb"):
            more = log2(exposure.time_s / rung["time_s"])
            return f", whose {exposure.shutter} makes it {_off_text(more)}" if abs(more) > WORTH_A_WORD_STOPS else ""
    return ""


def with_words(exposure: FrameExposure, setting: Setting) -> FrameExposure:
    """Add what was typed beside the settings; typed parts come after those of the reading, or replace them."""
    typed = tuple(_typed_part(text) for text in setting.places)
    names = {part.name for part in typed}
    kept = tuple(part for part in exposure.placements if part.name not in names)
    photo = setting.photo and PurePath(setting.photo.replace("\\", "/")).name
    asked = None if setting.development is None else parse_development(setting.development)
    return replace(
        exposure,
        placements=kept + typed,
        development=exposure.development if asked is None else asked,
        filter=" + ".join(setting.filters) or exposure.filter,
        focus_m=exposure.focus_m if setting.focus_m is None else setting.focus_m,
        note=setting.note,
        photo=photo or exposure.photo,
        where=setting.where,
    )


def _typed_part(text: str) -> ZonedPart:
    name, found, zone = text.rpartition("=")
    if not (found and name.strip()):
        raise BadInput(f"placement '{text}' is not readable: write NAME=ZONE, such as \"quay wall=III\"")
    return ZonedPart(name.strip(), parse_zone(zone))


def known_filters(names: tuple[str, ...], roll: Roll, shelf_dir: Path | None) -> tuple[tuple[str, ...], list[str]]:
    """The filters by their slugs, unknown ones as typed, and a warning for each of those."""
    from meter.shelf.reader import Shelf

    shelf, found, warnings = Shelf(shelf_dir), [], []
    try:
        film = shelf.film(roll.made.film) if names else None
    except ShelfError:  # the film's file may be gone by now; its own filters go with it
        film = None
    for name in names:
        try:
            found.append(shelf.filter(name, film).slug)
        except ShelfError as error:
            found.append(name)
            warnings.append(f"{error}; recorded as written")
    return tuple(found), warnings


def focus_warnings(exposure: FrameExposure, roll: Roll) -> list[str]:
    """What to know about a focus distance that this lens does not reach by itself."""
    nearest_m = roll.made.facts.get("nearest_focus_m")
    if exposure.focus_m is None or nearest_m is None or exposure.focus_m >= nearest_m * 0.999:
        return []
    said = f"{metres_text(exposure.focus_m)} is nearer than this lens focuses ({metres_text(nearest_m)})"
    return [f"{said}: recorded all the same, as with a close-up lens or tube"]
