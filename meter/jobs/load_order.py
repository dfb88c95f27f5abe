"""From names and options to an Order: what the photographer works with and what stands before the lens."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from meter.camera import Kit
from meter.errors import BadInput
from meter.factors import close_up_stops, magnification_from_extension, stacked_stops
from meter.film import Film
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
    shelf = Shelf(wish.shelf_dir)
    kit = shelf.kit(wish.kit or DEFAULT_KIT)
    film = film_in(kit, wish.film, shelf)
    filters = [shelf.filter(name, film) for name in wish.filters]
    return Order(
        kit=kit,
        film=film,
        ei=index_for(kit, film, wish.ei),
        curve=film.curve(wish.reciprocity),
        filter_stops=stacked_stops(filters, wish.light),
        closeup_stops=closeup_cost(kit, wish.magnification, wish.extension_mm),
        tripod=wish.tripod,
        depth=_depth(wish, kit),
        k=check_k(wish.k),
        filters=tuple(one.slug for one in filters),
    )


def film_in(kit: Kit, wished: str | None, shelf: Shelf) -> Film:
    """The film asked for, else the kit's own. Raises BadInput where neither names one."""
    if wished is None and kit.film is None:
        raise BadInput(f"kit '{kit.slug}' names no film: choose one with --film (stopgap film list)")
    return shelf.film(wished or kit.film)


def closeup_cost(kit: Kit, magnification: float | None, extension_mm: float | None) -> float:
    """What focusing close costs, said in one of two ways or not at all. Raises BadInput for both. [stops]"""
    if magnification is not None and extension_mm is not None:
        raise BadInput("--magnification and --extension say the same thing twice: give one of them")
    if extension_mm is not None:
        magnification = magnification_from_extension(extension_mm, kit.lens.focal_length_mm)
    return close_up_stops(magnification or 0.0)


def _depth(wish: Wish, kit: Kit) -> DepthWish | None:
    if wish.focus_m is None and wish.sharp is None:
        if wish.coc_mm is not None or wish.coc_divisor is not None:
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
