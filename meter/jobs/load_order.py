"""From names and options to an Order: what the photographer works with and what stands before the lens."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from meter.camera import Kit
from meter.errors import BadInput
from meter.factors import close_up_stops, magnification_from_extension, stacked_stops
from meter.light import K, check_k
from meter.order import DepthWish, Order, index_for
from meter.shelf.reader import Shelf


@dataclass(frozen=True)
class Wish:
    """The options that read and settings share. None means: the kit's or the film's own."""

    kit: str | None = None
    film: str | None = None
    ei: float | None = None
    reciprocity: str | None = None
    filters: Sequence[str] = ()
    light: str = "daylight"
    magnification: float | None = None
    extension_mm: float | None = None
    tripod: bool = False
    focus_m: float | None = None
    sharp: tuple[float, float] | None = None
    coc_mm: float | None = None
    coc_divisor: float | None = None
    k: float = K
    shelf_dir: Path | None = None


DEFAULT_KIT = "breakwater"


def load_order(wish: Wish) -> Order:
    """Look up kit, film and filters and add up what they cost. Raises BadInput or ShelfError."""
    if wish.magnification is not None and wish.extension_mm is not None:
        raise BadInput("--magnification and --extension say the same thing twice: give one of them")
    shelf = Shelf(wish.shelf_dir)
    kit = shelf.kit(wish.kit or DEFAULT_KIT)
    film_name = wish.film or kit.film
    if film_name is None:
        raise BadInput(f"kit '{kit.slug}' names no film: choose one with --film (stopgap film list)")
    film = shelf.film(film_name)
    magnification = wish.magnification or 0.0
    if wish.extension_mm is not None:
        magnification = magnification_from_extension(wish.extension_mm, kit.lens.focal_length_mm)
    filters = [shelf.filter(name, film) for name in wish.filters]
    return Order(
        kit=kit,
        film=film,
        ei=index_for(kit, film, wish.ei),
        curve=film.curve(wish.reciprocity),
        filter_stops=stacked_stops(filters, wish.light),
        closeup_stops=close_up_stops(magnification),
        tripod=wish.tripod,
        depth=_depth(wish, kit),
        k=check_k(wish.k),
        filters=tuple(one.slug for one in filters),
    )


def _depth(wish: Wish, kit: Kit) -> DepthWish | None:
    if wish.focus_m is None and wish.sharp is None:
        if wish.coc_mm or wish.coc_divisor:
            raise BadInput("--coc and --coc-divisor serve --focus or --sharp: give one of those too")
        return None
    from meter.distance import check_focus
    from meter.jobs.plan_focus import check_range, choose_circle

    circle = choose_circle(kit, coc_mm=wish.coc_mm, divisor=wish.coc_divisor)
    if not (wish.magnification or wish.extension_mm):  # with close-up gear a lens focuses nearer than its scale
        if wish.focus_m is not None:
            check_focus(kit.lens, wish.focus_m)
        if wish.sharp:
            check_range(kit.lens, wish.sharp, circle.coc_mm)
    return DepthWish(circle.coc_mm, wish.focus_m, wish.sharp)
