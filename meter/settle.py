"""Which rung of the ladder to take when depth of field has a say as well."""

from dataclasses import dataclass, replace

from meter.distance import metres_text, span_text
from meter.focus import RungFocus, depth_for, focus_ladder
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

    Where a range must be sharp only rungs that keep it so are preferred; where none does, the one that comes nearest,
    and the caution says what would do both.
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
    if focus.remedy is None:
        return Settled(rungs, prefer(order.kit, rungs, tripod=order.tripod), focus)
    return _nearest_miss(order, rungs, focus)


def _nearest_miss(order: Order, rungs: tuple[Rung, ...], focus: RungFocus) -> Settled:
    """Where no rung keeps it all sharp: the smallest aperture there is, focused to keep the far end."""
    index = max((i for i, rung in enumerate(rungs) if rung.usable), key=lambda i: (rungs[i].f_number, -rungs[i].time_s))
    if focus.remedy.give_near and order.depth.focus_m is None:
        focus_m, _ = focus.remedy.give_near
        lens = order.kit.lens
        depths = tuple(depth_for(r.f_number, focus_m, lens.focal_length_mm, order.depth.coc_mm) for r in rungs)
        focus = replace(focus, focus_m=focus_m, depths=depths)
    kept = focus.depths[index]
    why = (
        f"the nearest there is: sharp from {span_text(kept.near_m, kept.far_m)}, "
        f"where {span_text(*order.depth.wanted)} was asked for"
    )
    if rungs[index].time_s > order.kit.handheld_s and not order.tripod:
        why += "; use a tripod"
    return Settled(rungs, Preference(index, why), focus, _remedy_text(focus, order))


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
