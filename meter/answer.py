"""What a reading says, as plain data: the names are part of the interface (add, don't rename)."""

from collections.abc import Sequence
from math import isfinite

from meter.exif import Snapshot
from meter.ladder import Preference, Rung
from meter.light import Reading
from meter.metering import Exposure, Metered, SpotReading
from meter.zones import zone_text


def photo_answer(name: str, snapshot: Snapshot, warnings: Sequence[str] = ()) -> dict:
    """One photo's metadata. time_s [s], exposure_bias and brightness_value as the file records them."""
    return {
        "file": name,
        "make": snapshot.make,
        "model": snapshot.model,
        "f_number": _round(snapshot.f_number),
        "time_s": snapshot.time_s,
        "iso": _round(snapshot.iso),
        "exposure_bias": snapshot.exposure_bias,
        "brightness_value": _round(snapshot.brightness_value),
        "metering": snapshot.metering,
        "focal_35mm": snapshot.focal_35mm,
        "taken_at": snapshot.taken_at,
        "sigma": _round(snapshot.sigma),
        "found": list(snapshot.found),
        "warnings": [*snapshot.warnings, *warnings],
    }


def reading_answer(reading: Reading, k: float) -> dict:
    """ev100 [EV], sigma [stops], luminance [cd/m²] and what the luminance is: exact, at_least, at_most."""
    return {
        "ev100": _round(reading.ev100),
        "sigma": _round(reading.sigma),
        "bound": reading.bound,
        "luminance": float(f"{reading.luminance(k):.5g}"),
    }


def spot_answer(spot: SpotReading, k: float) -> dict:
    return {
        "x": _round(spot.x),
        "y": _round(spot.y),
        "degrees": _round(spot.degrees),
        **reading_answer(spot.reading, k),
        "zone": _round(spot.zone),
        "zone_text": zone_text(spot.zone),
        "placed": spot.placed,
        "label": spot.label,
    }


def rung_answer(rung: Rung) -> dict:
    between = rung.between
    return {
        "shutter": rung.shutter,
        "time_s": rung.time_s,
        "f_number": _round(rung.f_number),
        "aperture": rung.aperture,
        "mark_below": between.below if between else None,
        "mark_above": between.above if between else None,
        "fraction": _round(between.fraction) if between else None,
        "error_stops": _round(rung.error_stops),
        "bulb": rung.bulb,
        "metered_s": _round(rung.metered_s, 6),
        "hold_s": _round(rung.hold_s),
        "usable": rung.usable,
        "notes": list(rung.notes),
    }


def settings_answer(exposure: Exposure, rungs: Sequence[Rung], preference: Preference, cautions: Sequence[str]) -> dict:
    """The half of the answer that needs no photo."""
    return {
        "exposure": {
            "ev_film": _round(exposure.ev_film),
            "ei": exposure.ei,
            "filter_stops": _round(exposure.filter_stops),
            "closeup_stops": _round(exposure.closeup_stops),
            "why": exposure.why,
        },
        "settings": [rung_answer(rung) for rung in rungs],
        "preferred": preference.index,
        "preferred_why": preference.why,
        "cautions": list(cautions),
    }


def answer(photos: Sequence[dict], metered: Metered, k: float) -> dict:
    """The whole answer of `stopgap read`."""
    return {
        "photos": list(photos),
        "average": reading_answer(metered.average, k),
        "center": reading_answer(metered.center, k),
        "spots": [spot_answer(spot, k) for spot in metered.spots],
        "shadow": spot_answer(metered.shadow, k) if metered.shadow else None,
        "highlight": spot_answer(metered.highlight, k) if metered.highlight else None,
        "range_stops": _round(metered.range_stops),
        "development": metered.development,
        **settings_answer(metered.exposure, metered.rungs, metered.preference, metered.cautions),
    }


def _round(value: float | None, digits: int = 4) -> float | None:
    return round(value, digits) if value is not None and isfinite(value) else None
