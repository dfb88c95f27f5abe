"""What a reading says, as plain data: the names are part of the interface (add, don't rename)."""

from collections.abc import Sequence

from meter.exif import Snapshot
from meter.light import Reading
from meter.metering import Metered
from meter.order import Order
from meter.patch import SpotReading
from meter.settings_answer import rounded, settings_answer
from meter.zones import zone_text


def photo_answer(
    name: str, snapshot: Snapshot, warnings: Sequence[str] = (), profile: str | None = None, share: float = 1.0
) -> dict:
    """One photo's metadata. time_s [s], exposure_bias and brightness_value as the file records them.

    profile: name of the phone's profile that it was read through, None for none. share: of the light map that came from
    it, 1 where it is the only photo.
    """
    return {
        "file": name,
        "make": snapshot.make,
        "model": snapshot.model,
        "profile": profile,
        "share": rounded(share),
        "f_number": rounded(snapshot.f_number),
        "time_s": snapshot.time_s,
        "iso": rounded(snapshot.iso),
        "exposure_bias": snapshot.exposure_bias,
        "brightness_value": rounded(snapshot.brightness_value),
        "metering": snapshot.metering,
        "focal_35mm": snapshot.focal_35mm,
        "taken_at": snapshot.taken_at,
        "sigma": rounded(snapshot.sigma),
        "found": list(snapshot.found),
        "warnings": [*snapshot.warnings, *warnings],
    }


def reading_answer(reading: Reading, k: float) -> dict:
    """ev100 [EV], sigma [stops], luminance [cd/m²] and what the luminance is: exact, at_least, at_most."""
    return {
        "ev100": rounded(reading.ev100),
        "sigma": rounded(reading.sigma),
        "bound": reading.bound,
        "luminance": float(f"{reading.luminance(k):.5g}"),
    }


def spot_answer(spot: SpotReading, k: float) -> dict:
    return {
        "x": rounded(spot.x),
        "y": rounded(spot.y),
        "degrees": rounded(spot.degrees),
        **reading_answer(spot.reading, k),
        **_zone(spot.zone),
        "placed": spot.placed,
        "label": spot.label,
    }


def _zone(zone: float) -> dict:
    return {"zone": rounded(zone), "zone_text": zone_text(zone)}


def answer(photos: Sequence[dict], metered: Metered, order: Order) -> dict:
    """The whole answer of `stopgap read`."""
    k = order.k
    return {
        "photos": list(photos),
        "average": reading_answer(metered.average, k) | _zone(metered.average_zone),
        "center": reading_answer(metered.center, k) | _zone(metered.center_zone),
        "spots": [spot_answer(spot, k) for spot in metered.spots],
        "shadow": spot_answer(metered.shadow, k) if metered.shadow else None,
        "highlight": spot_answer(metered.highlight, k) if metered.highlight else None,
        "range_stops": rounded(metered.range_stops),
        "range_sigma": rounded(metered.range_sigma),
        "range_bound": metered.range_bound,
        "development": metered.development,
        "development_why": metered.development_why,
        **settings_answer(order, metered.exposure, metered.settled, metered.cautions),
    }
