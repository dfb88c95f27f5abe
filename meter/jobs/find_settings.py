"""Settings without a photo: from an EV, or from the published daylight guide."""

from dataclasses import dataclass

from meter.errors import BadInput
from meter.jobs.load_order import Wish, load_order
from meter.ladder import exposure_ev
from meter.order import Exposure, Order
from meter.settings_answer import settings_answer
from meter.settle import settle
from meter.shelf.reader import Shelf
from meter.zones import MIDDLE, Placement, zone_text

EV_RANGE = (-12.0, 25.0)


@dataclass(frozen=True)
class Found:
    """The order as understood and the answer as plain data."""

    order: Order
    answer: dict


def find_settings(wish: Wish, ev100: float | None, daylight: str | None, zone: float = MIDDLE) -> Found:
    """The ladder for an EV at ISO 100, or for a row of the daylight guide, put on a zone.

    Exactly one of ev100 and daylight. Raises BadInput or ShelfError.
    """
    if (ev100 is None) == (daylight is None):
        raise BadInput('give the light once: --ev 12.3, or --daylight "open shade"')
    order = load_order(wish)
    cautions = []
    if daylight is not None:
        row = Shelf(wish.shelf_dir).daylight_row(daylight)
        ev100 = row.ev100
        why = f"{row.name}: EV {ev100:.1f} by the daylight guide, give or take {row.sigma_stops:.1f} stop"
        if row.ev100_high > row.ev100_low:
            cautions.append(f"the guide gives EV {row.ev100_low:g} to {row.ev100_high:g}: the middle is used")
        if row.note:
            cautions.append(row.note)
    else:
        if not EV_RANGE[0] <= ev100 <= EV_RANGE[1]:
            raise BadInput(f"an EV from {EV_RANGE[0]:g} to {EV_RANGE[1]:g} is needed; got {ev100:g}")
        why = f"EV {ev100:.1f} at ISO 100, as given"
    if zone != MIDDLE:
        why += f", placed on {zone_text(zone)}"
    ev_film = exposure_ev(Placement(ev100, zone).middle_ev100, order.ei, order.filter_stops, order.closeup_stops)
    exposure = Exposure(ev_film, order.ei, order.filter_stops, order.closeup_stops, why)
    return Found(order, settings_answer(order, exposure, settle(order, ev_film), cautions))
