"""Which rung of the ladder to take when depth of field has a say as well."""

from dataclasses import dataclass

from meter.distance import metres_text, span_text
from meter.focus import RungFocus, focus_ladder
from meter.ladder import Preference, Rung, ladder, prefer
from meter.order import Order
from meter.stops import aperture_text


@dataclass(frozen=True)
class Settled:
    """The ladder for one exposure, the rung to prefer, and what each rung keeps sharp (None where nobody asked)."""

    rungs: tuple[Rung, ...]
    preference: Preference
    focus: RungFocus | None = None
    caution: str = ""


def settle(order: Order, ev_film: float) -> Settled:
    """The rungs that give ev_film on the order's kit, and the one to take.

    Where a range must be sharp only rungs that keep it so are preferred; where none does, the choice is by exposure
    alone and the caution says what would do both.
    """
    rungs = ladder(order.kit, ev_film, order.curve)
    wish, lens = order.depth, order.kit.lens
    if wish is None:
        return Settled(rungs, prefer(order.kit, rungs, tripod=order.tripod))
    focus = focus_ladder(
        [rung.f_number for rung in rungs],
        [rung.usable for rung in rungs],
        focal_mm=lens.focal_length_mm,
        coc_mm=wish.coc_mm,
        smallest_f_number=lens.exact_marks[-1],
        nearest_focus_m=0.0 if order.closeup_stops else lens.nearest_focus_m,  # close-up gear begins nearer
        focus_m=wish.focus_m,
        wanted=wish.wanted,
    )
    if focus.both:
        preference = prefer(order.kit, rungs, tripod=order.tripod, among=focus.both)
        return Settled(rungs, Preference(preference.index, f"keeps it sharp; {preference.why}"), focus)
    preference = prefer(order.kit, rungs, tripod=order.tripod)
    if focus.remedy:
        why = f"does not keep all of {span_text(*wish.wanted)} sharp, and nor does any other; {preference.why}"
        preference = Preference(preference.index, why)
    return Settled(rungs, preference, focus, _remedy_text(focus, order))


def _remedy_text(focus: RungFocus, order: Order) -> str:
    """What would give exposure and depth where no rung does; "" where nothing was wanted or nothing is usable."""
    remedy = focus.remedy
    if remedy is None:
        return ""
    near, far = order.depth.wanted
    more = f"{remedy.stops:.1f} stops more light, film speed or time"
    cure = f"f/{remedy.f_number:.3g} would keep it all sharp, with {more}"
    if not remedy.reachable:
        cure = f"it would take f/{remedy.f_number:.3g}, beyond this lens"
    ways = []
    if remedy.give_near:
        focus_m, from_m = remedy.give_near
        ways.append(f"on {metres_text(focus_m)} for {span_text(from_m, far)}")
    if remedy.give_far:
        focus_m, to_m = remedy.give_far
        ways.append(f"on {metres_text(focus_m)} for {span_text(near, to_m)}")
    if not ways:
        return cure
    return f"{cure}; or at {aperture_text(remedy.from_f_number, order.kit.lens.marks)} focus {', or '.join(ways)}"
