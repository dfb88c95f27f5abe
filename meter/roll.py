"""A roll of film and its frames: what a record needs, how many are left, and one development for all of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf, isfinite

from meter.errors import BadInput

FEWER_ON_SOME_BACKS = {"6x4.5": 15}  # frames on 120; secondary: 15 or 16
DEVELOPMENTS = tuple(half / 2 for half in range(-6, 7))  # what one tank can be asked for, N-3 to N+3 [zones]
NOTICED = 0.75  # a frame this far from the development it asked for is said to lose something [zones]; our choice
TOO_WIDE = 2.0  # beyond this no single tank serves every frame [zones]; our choice


@dataclass(frozen=True)
class ZonedPart:
    """A part of the scene and its zone: placed there by choice, or where it fell. sigma: of the reading. [stops]"""

    name: str
    zone: float
    placed: bool = True
    sigma: float | None = None


@dataclass(frozen=True)
class FrameExposure:
    """What was set for one frame, and why.

    shutter: as engraved, or "B". time_s: what the film got. [s] f_number: exact; aperture: as the pointer stood.
    development: zones from N (-1 for N-1), None where nothing was asked. focus_m: inf for infinity. [m]
    photo: the name of the snapshot's file. where: a place, only if the photographer wrote one. reading: its number.
    """

    shutter: str
    time_s: float
    f_number: float
    aperture: str
    development: float | None = None
    placements: tuple[ZonedPart, ...] = ()
    filter: str | None = None
    focus_m: float | None = None
    note: str | None = None
    photo: str | None = None
    where: str | None = None
    reading: int | None = None

    def __post_init__(self):
        if not (0 < self.time_s < inf and 0 < self.f_number < inf):
            raise BadInput(f"a frame needs a time and an f-number above 0; got {self.time_s} s and f/{self.f_number}")


@dataclass(frozen=True)
class Frame:
    """One frame as it was recorded. An undone one keeps its record and frees its number. Times: ISO 8601 text."""

    number: int
    exposed_at: str
    exposure: FrameExposure
    undone_at: str | None = None


@dataclass(frozen=True)
class NewRoll:
    """What is known when a film goes into a camera.

    film, kit: slugs on the shelf; *_name: as people say it. iso: film speed; ei: what it is exposed at.
    capacity: frames that the back gives. facts: what later records need of kit and film (see keep_roll.facts_of).
    """

    film: str
    film_name: str
    iso: float
    ei: float
    kit: str
    kit_name: str
    format: str
    capacity: int
    facts: Mapping = field(default_factory=dict)

    def __post_init__(self):
        if not (0 < self.ei < inf and 0 < self.iso < inf):
            raise BadInput(f"the ISO speed and the exposure index must be above 0; got {self.iso} and {self.ei}")
        if not 1 <= self.capacity <= 200:
            raise BadInput(f"a roll has 1 to 200 frames; got {self.capacity}")


@dataclass(frozen=True)
class Roll:
    """A roll in the log. frames: in the order of recording, undone ones included."""

    id: int
    made: NewRoll
    loaded_at: str
    unloaded_at: str | None = None
    frames: tuple[Frame, ...] = ()

    @property
    def live(self) -> tuple[Frame, ...]:
        """The frames that were not undone, by number."""
        return tuple(sorted((f for f in self.frames if f.undone_at is None), key=lambda f: f.number))

    @property
    def next_number(self) -> int:
        """The number after the highest recorded one."""
        return max((frame.number for frame in self.live), default=0) + 1

    @property
    def left(self) -> int:
        """Frames that the film still has; 0 past the last."""
        return max(self.made.capacity - self.next_number + 1, 0)

    @property
    def develops_by_zones(self) -> bool:
        """Whether its development can be chosen (N-1, N+1): black-and-white negative; the others' process is fixed."""
        return self.made.facts.get("film_kind") == "negative" and self.made.facts.get("film_process") == "bw"

    @property
    def title(self) -> str:
        """One line that tells this roll from the others."""
        return f"Roll {self.id}: {self.made.film_name} at EI {self.made.ei:g} in {self.made.kit_name}"


def frame_warnings(number: int, capacity: int, format_name: str) -> list[str]:
    """What to know about a frame of this number on a back that gives `capacity` frames."""
    if number > capacity:
        return [f"frame {number} is past the last: this back gives {capacity} on {format_name}; recorded all the same"]
    if number == capacity:
        return [f"frame {number} is the last on this roll"]
    fewer = FEWER_ON_SOME_BACKS.get(format_name, capacity)
    if fewer < capacity and number == fewer:
        return [f"frame {number}: some {format_name} cameras stop at {fewer} on 120; check that yours gives {capacity}"]
    return []


def check_number(number: int | None, roll: Roll) -> None:
    """Raise BadInput for a frame number that is neither on this roll nor the next one; None means the next."""
    if number is not None and number > max(roll.made.capacity, roll.next_number):
        raise BadInput(
            f"roll {roll.id} has {roll.made.capacity} frames and the next is {roll.next_number}: "
            f"there is no frame {number} on it"
        )


def parse_development(text: str) -> float:
    """Read "N-1", "N", "N+1.5" or "-1" as zones from normal development. Raises BadInput.

    >>> parse_development("N-1"), parse_development("n"), parse_development("N+½")
    (-1.0, 0.0, 0.5)
    """
    plain = text.strip().upper().replace("−", "-").replace(" ", "").replace("½", ".5").removeprefix("N")
    try:
        zones = float(plain) if plain else 0.0
    except ValueError:
        zones = inf
    if not -3 <= zones <= 3:
        raise BadInput(f"development '{text}' is not readable: write N, N-1, N+1, up to three either way")
    return zones


def tank_text(zones: float) -> str:
    """Zones from normal development as people write it, half steps included: N, N-1, N+0.5."""
    return "N" if abs(zones) < 0.05 else f"N{zones:+.1f}".removesuffix(".0")


@dataclass(frozen=True)
class Loss:
    """A frame that does not get the development it asked for. excess: zones more contrast than asked (or fewer)."""

    number: int
    asked: float
    excess: float

    @property
    def text(self) -> str:
        zones = f"{abs(self.excess):.1f}".removesuffix(".0")
        unit = "zone" if zones == "1" else "zones"
        if self.excess > 0:
            return f"highlights land {zones} {unit} too high: softer paper or burning in, and VIII may block up"
        return f"highlights land {zones} {unit} too low: a flat negative, to print on harder paper"


@dataclass(frozen=True)
class TankAdvice:
    """One development for the whole roll: zones from N, the frames that lose by it, the frames that asked nothing."""

    development: float
    losses: tuple[Loss, ...]
    unasked: tuple[int, ...]
    too_wide: bool


def tank_advice(frames: Sequence[Frame]) -> TankAdvice | None:
    """The one development that costs the frames least, and which of them lose what. None if no frame asked for one.

    The cost of a frame is the square of its distance from what it asked (two zones off counts as four frames one zone
    off); of two equal choices the softer wins, because harder paper rescues a flat negative and nothing rescues a
    blocked highlight (common practice, memory). Half steps are allowed.
    """
    asked = {frame.number: frame.exposure.development for frame in frames}
    wanted = {number: zones for number, zones in asked.items() if zones is not None}
    if not wanted:
        return None
    tank = min(DEVELOPMENTS, key=lambda choice: (round(sum((choice - w) ** 2 for w in wanted.values()), 9), choice))
    losses = tuple(Loss(n, w, tank - w) for n, w in sorted(wanted.items()) if abs(tank - w) >= NOTICED)
    unasked = tuple(number for number, zones in sorted(asked.items()) if zones is None)
    return TankAdvice(tank, losses, unasked, any(abs(loss.excess) >= TOO_WIDE for loss in losses))


def plain_exposure(exposure: FrameExposure) -> dict:
    """An exposure as plain JSON-ready data; infinity focus is the text "inf"."""
    focus = exposure.focus_m
    return {
        "shutter": exposure.shutter,
        "time_s": exposure.time_s,
        "f_number": exposure.f_number,
        "aperture": exposure.aperture,
        "development": None if exposure.development is None else tank_text(exposure.development),
        "placements": [
            {"name": p.name, "zone": p.zone, "placed": p.placed, "sigma": p.sigma} for p in exposure.placements
        ],
        "filter": exposure.filter,
        "focus_m": focus if focus is None or isfinite(focus) else "inf",
        "note": exposure.note,
        "photo": exposure.photo,
        "where": exposure.where,
        "reading": exposure.reading,
    }


def plain_roll(roll: Roll, with_undone: bool = False) -> dict:
    """A roll as plain JSON-ready data, frames by number; undone ones only if asked."""
    frames = roll.frames if with_undone else roll.live
    made = roll.made
    return {
        "roll": roll.id,
        "film": made.film,
        "film_name": made.film_name,
        "iso": made.iso,
        "ei": made.ei,
        "kit": made.kit,
        "kit_name": made.kit_name,
        "format": made.format,
        "capacity": made.capacity,
        "left": roll.left,
        "loaded_at": roll.loaded_at,
        "unloaded_at": roll.unloaded_at,
        "frames": [
            {"number": f.number, "exposed_at": f.exposed_at, "undone_at": f.undone_at} | plain_exposure(f.exposure)
            for f in frames
        ],
    }
