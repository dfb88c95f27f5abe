"""The half of an answer that needs no photo: exposure and settings as plain data (add names, don't rename)."""

from collections.abc import Sequence
from math import isfinite

from meter.ladder import Rung
from meter.order import Exposure, Order
from meter.settle import Settled


def rung_answer(rung: Rung) -> dict:
    between = rung.between
    return {
        "shutter": rung.shutter,
        "time_s": rung.time_s,
        "f_number": rounded(rung.f_number),
        "aperture": rung.aperture,
        "mark_below": between.below if between else None,
        "mark_above": between.above if between else None,
        "fraction": rounded(between.fraction) if between else None,
        "error_stops": rounded(rung.error_stops),
        "bulb": rung.bulb,
        "metered_s": rounded(rung.metered_s, 6),
        "hold_s": rounded(rung.hold_s),
        "usable": rung.usable,
        "notes": list(rung.notes),
    }


def settings_answer(order: Order, exposure: Exposure, settled: Settled, cautions: Sequence[str]) -> dict:
    """Exposure, settings, the preferred one and cautions; with depth of field where it was asked for.

    filters: slugs. far_m, focus_m: null for infinity. [m]
    """
    settings = [rung_answer(rung) for rung in settled.rungs]
    answer = {
        "exposure": {
            "ev_film": rounded(exposure.ev_film),
            "ei": exposure.ei,
            "filter_stops": rounded(exposure.filter_stops),
            "closeup_stops": rounded(exposure.closeup_stops),
            "why": exposure.why,
        },
        "settings": settings,
        "preferred": settled.preference.index,
        "preferred_why": settled.preference.why,
        "cautions": [*cautions, *([settled.caution] if settled.caution else [])],
        "kit": order.kit.slug,
        "film": order.film.slug,
        "filters": list(order.filters),
    }
    if settled.focus:
        for i, (setting, depth) in enumerate(zip(settings, settled.focus.depths, strict=True)):
            setting |= {"near_m": rounded(depth.near_m), "far_m": rounded(depth.far_m)}
            setting["sharp"] = i in settled.focus.both
        answer["focus"] = {"focus_m": rounded(settled.focus.focus_m), "coc_mm": rounded(order.depth.coc_mm)}
    return answer


def rounded(value: float | None, digits: int = 4) -> float | None:
    """A number without digits nobody can use; None where there is none."""
    return round(value, digits) if value is not None and isfinite(value) else None
