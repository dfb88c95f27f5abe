"""What the photographer works with, and what the film is to be given."""

from dataclasses import dataclass

from meter.camera import Kit
from meter.errors import BadInput
from meter.film import Film
from meter.light import K
from meter.reciprocity import Curve

EI_RANGE = (0.1, 1_000_000.0)


@dataclass(frozen=True)
class DepthWish:
    """What must be sharp. coc_mm: circle of confusion. focus_m: where the lens is focused, None for the best place.

    wanted: (near, far) to keep sharp, None where only the depth of each setting is asked for. [m]
    """

    coc_mm: float
    focus_m: float | None = None
    wanted: tuple[float, float] | None = None


@dataclass(frozen=True)
class Order:
    """What the photographer works with.

    ei: exposure index. curve: reciprocity, None where unknown. filter_stops, closeup_stops: what they cost. filters:
    their slugs on the shelf, in the order of stacking. depth: None where nobody asked. k: meter constant. [cd·s/m²]
    """

    kit: Kit
    film: Film
    ei: float
    curve: Curve | None
    filter_stops: float = 0.0
    closeup_stops: float = 0.0
    tripod: bool = False
    depth: DepthWish | None = None
    k: float = K
    filters: tuple[str, ...] = ()


@dataclass(frozen=True)
class Exposure:
    """What the film is given. ev_film: log2(N²/t). why: what decided it, one sentence."""

    ev_film: float
    ei: float
    filter_stops: float
    closeup_stops: float
    why: str


def index_for(kit: Kit, film: Film, ei: float | None = None) -> float:
    """The exposure index to use: as asked, else the kit's where this is its film, else the film's. Raises BadInput.

    The kit may name its film by slug, name or another name; case, spaces and punctuation do not count.
    """
    if ei is None:
        names = {_plain(name) for name in (film.slug, film.name, *film.also)}
        of_kit = kit.ei if kit.film is not None and _plain(kit.film) in names else None
        return film.ei_default if of_kit is None else of_kit
    low, high = EI_RANGE
    if not low <= ei <= high:
        raise BadInput(f"an exposure index from 0.1 to 1 000 000 is needed; got {ei:g}")
    return ei


def _plain(name: str) -> str:
    return "".join(filter(str.isalnum, name.casefold()))
