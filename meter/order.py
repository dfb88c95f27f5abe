"""What the photographer works with, and what the film is to be given."""

from dataclasses import dataclass

from meter.camera import Kit
from meter.film import Film
from meter.light import K
from meter.reciprocity import Curve


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

    ei: exposure index. curve: reciprocity, None where unknown. filter_stops, closeup_stops: what they cost. depth: None
    where nobody asked. k: meter constant. [cd·s/m²]
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


@dataclass(frozen=True)
class Exposure:
    """What the film is given. ev_film: log2(N²/t). why: what decided it, one sentence."""

    ev_film: float
    ei: float
    filter_stops: float
    closeup_stops: float
    why: str
