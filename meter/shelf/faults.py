"""The faults of each kind of data file: film, kit, filters, subjects, daylight guide. None means it can be trusted.

Each function takes what tomllib made of a file and yields every fault as 'key: what is wrong', so that one look is
enough to mend a file. meter/shelf/README.md says what the keys mean.
"""

from collections.abc import Callable, Iterator
from itertools import pairwise
from math import log2

from meter.camera import CLICKS_PER_STOP, FRAME_MM
from meter.film import KINDS, PROCESSES
from meter.reciprocity import MODELS
from meter.shelf.checks import (
    EV_RANGE,
    FAR,
    FLAG,
    SOURCE,
    STOPS,
    TABLE,
    TABLES,
    TEXT,
    TEXTS,
    TIME,
    Key,
    ascending,
    double_faults,
    number,
    one_of,
    optional,
    table_faults,
    tables,
    whole,
)
from meter.shelf.entries import row_times
from meter.stops import aperture_stops, in_series, parse_time

FORMAT = 1
_FORMAT_KEY = Key(f"{FORMAT}, the format that this version reads,", lambda v: type(v) is int and v == FORMAT)
_SECONDS = number(1e-4, 1e7)

FILM = {
    "format": _FORMAT_KEY, "name": TEXT, "speed_iso": whole(1, 12800), "ei": optional(whole(1, 12800)),
    "kind": one_of(KINDS), "process": one_of(PROCESSES), "sheet": optional(TEXT), **SOURCE, "also": optional(TEXTS),
    "notes": optional(TEXTS), "default_curve": optional(TEXT), "default_reason": optional(TEXT),
    "curve": optional(TABLES), "filter": optional(TABLES),
}  # fmt: skip
CURVE = {"name": TEXT, "model": one_of(tuple(MODELS)), **SOURCE, "note": optional(TEXT)}
_TO = {"published_to_s": optional(_SECONDS)}
CURVE_OF = {
    "power": {**_TO, "exponent": number(1, 3)},
    "extra": {**_TO, "extra_s": number(0, 10)},
    "table": {**_TO, "begins_s": _SECONDS, "rows": TABLES},
    "log_stops": {**_TO, "slope": number(0.01, 5), "offset": number(-20, 20)},
    "none": {"published_to_s": _SECONDS},
}
_ANY_MODEL = {name: optional(key) for keys in CURVE_OF.values() for name, key in keys.items()}
_ROW_NOTES = {"source": optional(TEXT), "evidence": optional(SOURCE["evidence"]), "note": optional(TEXT)}
TIME_ROW = {"metered_s": _SECONDS, "corrected_s": _SECONDS, **_ROW_NOTES}
OPENED_ROW = {"metered_s": _SECONDS, "opened_stops": STOPS, **_ROW_NOTES}

FILTER = {"slug": TEXT, "name": TEXT, **SOURCE, "note": optional(TEXT), "also": optional(TEXTS)}
_FACTOR = optional(number(1, 1e6))
FILTER_COST = {
    "daylight_stops": optional(STOPS), "tungsten_stops": optional(STOPS), "daylight_factor": _FACTOR,
    "tungsten_factor": _FACTOR, "density": optional(number(0, 10)),
}  # fmt: skip
SUBJECT = {
    "slug": TEXT, "name": TEXT, "zone": number(0, 10), **SOURCE, "note": optional(TEXT), "also": optional(TEXTS),
}  # fmt: skip
DAYLIGHT = {
    "slug": TEXT, "name": TEXT, "ev100": EV_RANGE, **SOURCE, "note": optional(TEXT), "also": optional(TEXTS),
}  # fmt: skip

KIT = {
    "format": _FORMAT_KEY, "name": TEXT, "film": optional(TEXT), "ei": optional(number(1, 25600)),
    "notes": optional(TEXTS), **SOURCE, "lens": TABLE, "shutter": TABLE, "back": TABLE,
}  # fmt: skip
_METRES, _FEET = ascending(0.05, 1000), ascending(0.1, 3000)
LENS = {
    "focal_length_mm": number(5, 2000), "marks": ascending(0.5, 512, least=2), "iris": one_of(tuple(CLICKS_PER_STOP)),
    "nearest_focus_m": number(0.01, 100), "distance_marks_m": optional(_METRES), "distance_marks_ft": optional(_FEET),
    "depth_scale": optional(TABLES),
}  # fmt: skip
SCALE_FACT = {
    "f_number": number(0.5, 512), "focus_m": number(0.05, 1000), "near_m": number(0.05, 1000), "far_m": FAR,
}  # fmt: skip
SHUTTER = {
    "marked": Key('a list of times as "1/125"', lambda v: isinstance(v, list) and bool(v) and all(map(TIME.fits, v))),
    "bulb": FLAG, "measured": optional(TABLES),
}  # fmt: skip
MEASURED = {"marked": TIME, "open_s": number(1e-5, 3600), "sigma_stops": optional(number(0, 3)), **SOURCE}
BACK = {
    "format": TEXT, "width_mm": optional(number(5, 300)), "height_mm": optional(number(5, 300)),
    "frames": optional(whole(1, 100)),
}  # fmt: skip


def film_faults(film: dict) -> Iterator[str]:
    """Yield each fault of a film file."""
    yield from table_faults(film, FILM)
    curves, filters = tables(film.get("curve")), tables(film.get("filter"))
    for index, curve in enumerate(curves):
        yield from _curve_faults(curve, f"curve[{index}].")
    yield from double_faults(curves, "name", "curve")
    names, default = [curve.get("name") for curve in curves], film.get("default_curve")
    if default is not None and default not in names:
        yield f"default_curve: '{default}' is not a curve of this film; it has {', '.join(map(str, names)) or 'none'}"
    if len(curves) > 1 and default is None:
        them = ", ".join(f"'{name}'" for name in names)
        yield f"default_curve: say which of {them} is used when nobody chooses"
    if len(curves) > 1 and "default_reason" not in film:
        yield "default_reason: missing; with several curves a sentence that says why this one is needed"
    for index, one in enumerate(filters):
        yield from _filter_faults(one, f"filter[{index}].")
    yield from double_faults(filters, "slug", "filter")


def _curve_faults(curve: dict, at: str) -> Iterator[str]:
    model = curve.get("model")
    known = isinstance(model, str) and model in MODELS
    keys = CURVE | (CURVE_OF[model] if known else _ANY_MODEL)
    faults = list(table_faults(curve, keys, at))
    yield from faults
    if model == "table":
        rows = tables(curve.get("rows"))
        for index, row in enumerate(rows):
            keys = OPENED_ROW if "opened_stops" in row else TIME_ROW
            faults += (row_faults := list(table_faults(row, keys, f"{at}rows[{index}].")))
            yield from row_faults
        if not faults:
            yield from _order_faults([row_times(row) for row in rows], curve["begins_s"], at)


def _order_faults(times: list[tuple[float, float]], begins_s: float, at: str) -> Iterator[str]:
    """Faults of a table's (metered, corrected) pairs. [s]"""
    if not times:
        yield f"{at}rows: at least one row is needed"
        return
    if times[0][0] < begins_s:
        yield f"{at}begins_s: {begins_s:g} s lies after the first row, {times[0][0]:.4g} s"
    for index, (metered_s, corrected_s) in enumerate(times):
        if corrected_s < metered_s:
            yield f"{at}rows[{index}]: corrected to less than metered, {corrected_s:.4g} s for {metered_s:.4g} s"
    for index, (before, after) in enumerate(pairwise(times), start=1):
        if not (before[0] < after[0] and before[1] < after[1]):
            yield f"{at}rows[{index}]: both times must be longer than those of the row before"


def _filter_faults(entry: dict, at: str) -> Iterator[str]:
    yield from table_faults(entry, FILTER | FILTER_COST, at)
    if not FILTER_COST.keys() & entry.keys():
        yield f"{at.rstrip('.')}: what it costs is missing; one of {', '.join(FILTER_COST)} is needed"
    for light in ("daylight", "tungsten"):
        given = [key for key in (f"{light}_stops", f"{light}_factor", "density") if key in entry]
        if len(given) > 1:
            yield f"{at}{given[1]}: {' and '.join(given)} say the same thing twice; keep one"


def kit_faults(kit: dict) -> Iterator[str]:
    """Yield each fault of a kit file."""
    yield from table_faults(kit, KIT)
    parts: tuple[tuple[str, Callable[[dict], Iterator[str]]], ...] = (
        ("lens", _lens_faults), ("shutter", _shutter_faults), ("back", _back_faults),
    )  # fmt: skip
    for name, faults in parts:
        if isinstance(kit.get(name), dict):
            yield from faults(kit[name])


def _lens_faults(lens: dict) -> Iterator[str]:
    faults = list(table_faults(lens, LENS, "lens."))
    yield from faults
    yield from _comma_faults(lens.get("marks"))
    for index, fact in enumerate(tables(lens.get("depth_scale"))):
        at = f"lens.depth_scale[{index}]"
        in_fact = list(table_faults(fact, SCALE_FACT, f"{at}."))
        yield from in_fact
        if not in_fact and not fact["near_m"] < fact["focus_m"] < fact["far_m"]:
            yield f"{at}: focus_m must lie between near_m and far_m"
        if not (in_fact or faults) and not lens["marks"][0] <= fact["f_number"] <= lens["marks"][-1]:
            yield f"{at}.f_number: f/{fact['f_number']:g} lies outside the marks"


def _comma_faults(marks: object) -> Iterator[str]:
    """Marks written with a decimal comma: 5,6 is read as 5 and 6.

    Two whole numbers that make a mark of a series together count as one only where they would be odd marks by
    themselves: out of order, the second in no series, or the first in none and more than 1¼ stops from the second.
    """
    whole_marks = [v if type(v) is int and 0 < v < 100 else None for v in marks] if isinstance(marks, list) else []
    for first, second in pairwise(whole_marks):
        if first is None or second is None or second > 9 or not in_series(float(f"{first}.{second}")):
            continue
        wide = not in_series(first) and aperture_stops(second) - aperture_stops(first) > 1.25
        if second <= first or not in_series(second) or wide:
            yield f"lens.marks: {first}, {second} are two marks; is {first}.{second} meant, with a point, not a comma?"


def _shutter_faults(shutter: dict) -> Iterator[str]:
    faults = list(table_faults(shutter, SHUTTER, "shutter."))
    yield from faults
    if faults:
        return
    marked = [parse_time(text) for text in shutter["marked"]]
    if len(set(marked)) < len(marked):
        yield "shutter.marked: a time is there twice"
    measured = tables(shutter.get("measured"))
    for index, one in enumerate(measured):
        at = f"shutter.measured[{index}]."
        in_row = list(table_faults(one, MEASURED, at))
        yield from in_row
        if not in_row:
            yield from _measured_faults(parse_time(one["marked"]), one["open_s"], marked, at)
    yield from double_faults(measured, "marked", "shutter.measured")


def _measured_faults(marked_s: float, open_s: float, marked: list[float], at: str) -> Iterator[str]:
    if marked_s not in marked:
        yield f"{at}marked: {marked_s:g} s is not among the marked times of this shutter"
    elif abs(drift := log2(open_s / marked_s)) > 3:
        yield f"{at}open_s: {open_s:g} s is {abs(drift):.1f} stops from its mark, too far for a shutter; in seconds?"


def _back_faults(back: dict) -> Iterator[str]:
    yield from table_faults(back, BACK, "back.")
    if isinstance(back.get("format"), str) and back["format"] not in FRAME_MM:
        for key in ("width_mm", "height_mm", "frames"):
            if key not in back:
                yield f"back.{key}: missing; needed because {back['format']} is none of {', '.join(FRAME_MM)}"


def _list_faults(data: dict, section: str, faults: Callable[[dict, str], Iterator[str]]) -> Iterator[str]:
    """Faults of a file that lists entries; its own source and evidence serve the entries that have none."""
    shared = {"source": optional(TEXT), "evidence": optional(SOURCE["evidence"])}
    yield from table_faults(data, {"format": _FORMAT_KEY, **shared, section: TABLES})
    entries = tables(data.get(section))
    common = {key: data[key] for key in shared if key in data}
    for index, entry in enumerate(entries):
        yield from faults(common | entry, f"{section}[{index}].")
    yield from double_faults(entries, "slug", section)


def filters_faults(data: dict) -> Iterator[str]:
    """Yield each fault of a filters file."""
    yield from _list_faults(data, "filter", _filter_faults)


def subjects_faults(data: dict) -> Iterator[str]:
    """Yield each fault of a subjects file."""
    yield from _list_faults(data, "subject", lambda entry, at: table_faults(entry, SUBJECT, at))


def daylight_faults(data: dict) -> Iterator[str]:
    """Yield each fault of a daylight guide."""
    yield from _list_faults(data, "row", lambda entry, at: table_faults(entry, DAYLIGHT, at))
