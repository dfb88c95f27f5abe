"""What the photographer works with, and what the film is to be given."""

from dataclasses import dataclass

from meter.camera import Kit
from meter.film import Film
from meter.light import K
from meter.reciprocity import Curve


@dataclass(frozen=True)
class Order:
    """What the photographer works with.

    ei: exposure index. curve: reciprocity, None where unknown. filter_stops, closeup_stops: what they cost. k: meter
    constant. [cd·s/m²]
    """

    kit: Kit
    film: Film
    ei: float
    curve: Curve | None
    filter_stops: float = 0.0
    closeup_stops: float = 0.0
    tripod: bool = False
    k: float = K


@dataclass(frozen=True)
class Exposure:
    """What the film is given. ev_film: log2(N²/t). why: what decided it, one sentence."""

    ev_film: float
    ei: float
    filter_stops: float
    closeup_stops: float
    why: str
