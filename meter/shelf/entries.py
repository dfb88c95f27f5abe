"""From the tables of a data file that has no faults to the types of the pure side."""

from math import exp, inf

from meter.camera import FRAME_MM, FRAMES_ON_120, Back, Kit, Lens, ScaleFact, Shutter, shutter_from_marks
from meter.factors import Filter, neutral_density_stops, read_stops, stops_from_factor
from meter.film import Film
from meter.guide import DaylightRow, Subject
from meter.reciprocity import Curve, Row
from meter.stops import parse_time


def row_times(row: dict) -> tuple[float, float]:
    """The metered and corrected time of a table's row, whether it gives a time or opens the lens. [s]"""
    metered_s = float(row["metered_s"])
    if "opened_stops" in row:
        return metered_s, metered_s * 2.0 ** read_stops(row["opened_stops"])
    return metered_s, float(row["corrected_s"])


def film_from(slug: str, data: dict) -> Film:
    """A film from its file; the file must have no faults."""
    texts = {key: data[key] for key in ("sheet", "default_curve", "default_reason", "ei") if key in data}
    curves = tuple(curve_from(curve) for curve in data.get("curve", ()))
    if len(curves) == 1:
        texts.setdefault("default_curve", curves[0].name)
    return Film(
        slug=slug,
        name=data["name"],
        speed_iso=int(data["speed_iso"]),
        kind=data["kind"],
        process=data["process"],
        source=data["source"],
        evidence=data["evidence"],
        curves=curves,
        filters=tuple(filter_from(one) for one in data.get("filter", ())),
        notes=tuple(data.get("notes", ())),
        also=tuple(data.get("also", ())),
        **texts,
    )


def curve_from(data: dict) -> Curve:
    """A reciprocity curve from its table."""
    model = data["model"]
    numbers = {key: float(data[key]) for key in ("exponent", "extra_s", "slope", "offset") if key in data}
    begins_s = {
        "power": lambda: 1.0,
        "extra": lambda: 0.0,
        "table": lambda: float(data["begins_s"]),
        "log_stops": lambda: exp(data["offset"] / data["slope"]),
        "none": lambda: float(data["published_to_s"]),
    }[model]()
    rows = tuple(_row(row, data) for row in data.get("rows", ()))
    return Curve(
        name=data["name"],
        model=model,
        source=data["source"],
        evidence=data["evidence"],
        begins_s=begins_s,
        published_to_s=float(data.get("published_to_s", rows[-1].metered_s if rows else inf)),
        note=data.get("note", ""),
        rows=rows,
        **numbers,
    )


def _row(row: dict, curve: dict) -> Row:
    metered_s, corrected_s = row_times(row)
    opened = read_stops(row["opened_stops"]) if "opened_stops" in row else None
    source, evidence = row.get("source", curve["source"]), row.get("evidence", curve["evidence"])
    return Row(metered_s, corrected_s, opened, source, evidence, row.get("note", ""))


def filter_from(data: dict) -> Filter:
    """A filter from its table: stops, a factor or a density for each light."""
    costs = [_cost(data, light) for light in ("daylight", "tungsten")]
    return Filter(daylight_stops=costs[0], tungsten_stops=costs[1], **_described(data))


def _cost(data: dict, light: str) -> float | None:
    if "density" in data:
        return neutral_density_stops(data["density"])
    if f"{light}_factor" in data:
        return stops_from_factor(data[f"{light}_factor"])
    return read_stops(data[f"{light}_stops"]) if f"{light}_stops" in data else None


def subject_from(data: dict) -> Subject:
    """A known subject from its table."""
    return Subject(zone=float(data["zone"]), **_described(data))


def daylight_from(data: dict) -> DaylightRow:
    """A row of the exposure guide from its table."""
    low, high = data["ev100"] if isinstance(data["ev100"], list) else (data["ev100"], data["ev100"])
    return DaylightRow(ev100_low=float(low), ev100_high=float(high), **_described(data))


def _described(data: dict) -> dict:
    texts = {key: data[key] for key in ("slug", "name", "source", "evidence")}
    return texts | {"note": data.get("note", ""), "also": tuple(data.get("also", ()))}


def kit_from(slug: str, data: dict) -> Kit:
    """A kit from its file; the file must have no faults."""
    return Kit(
        slug=slug,
        name=data["name"],
        lens=_lens(data["lens"]),
        shutter=_shutter(data["shutter"]),
        back=_back(data["back"]),
        film=data.get("film"),
        ei=data.get("ei"),
        notes=tuple(data.get("notes", ())),
    )


def _lens(data: dict) -> Lens:
    return Lens(
        focal_length_mm=float(data["focal_length_mm"]),
        marks=tuple(float(mark) for mark in data["marks"]),
        iris=data["iris"],
        nearest_focus_m=float(data["nearest_focus_m"]),
        distance_marks_m=tuple(float(mark) for mark in data.get("distance_marks_m", ())),
        distance_marks_ft=tuple(float(mark) for mark in data.get("distance_marks_ft", ())),
        depth_scale=tuple(
            ScaleFact(*(float(fact[key]) for key in ("f_number", "focus_m", "near_m", "far_m")))
            for fact in data.get("depth_scale", ())
        ),
    )


def _shutter(data: dict) -> Shutter:
    tests = {parse_time(one["marked"]): one for one in data.get("measured", ())}
    measured = {marked_s: float(one["open_s"]) for marked_s, one in tests.items()}
    sigma_stops = {marked_s: one.get("sigma_stops") for marked_s, one in tests.items()}
    return shutter_from_marks([parse_time(text) for text in data["marked"]], measured, data["bulb"], sigma_stops)


def _back(data: dict) -> Back:
    width_mm, height_mm = FRAME_MM.get(data["format"], (0.0, 0.0))
    return Back(
        format=data["format"],
        width_mm=float(data.get("width_mm", width_mm)),
        height_mm=float(data.get("height_mm", height_mm)),
        frames=int(data.get("frames", FRAMES_ON_120.get(data["format"], 0))),
    )
