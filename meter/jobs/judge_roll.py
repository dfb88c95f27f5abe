"""Judge a developed roll: densities of parts whose zones are known, typed or read off a linear scan."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from math import hypot
from pathlib import Path

from meter.development import (
    DENSITY_RANGE,
    DENSITY_SIGMA,
    PLACEMENT_SIGMA,
    SCAN_DENSITY_SIGMA,
    NegativePatch,
    Verdict,
    judge,
)
from meter.errors import BadInput
from meter.roll import Frame, Roll, tank_advice
from meter.zones import parse_zone

MOST_DENSITY = 6.0
CHEMISTRY = (
    "Darkroom chemicals can harm skin, eyes and lungs: wear gloves, air the room, follow the maker's safety data "
    "sheet and your local rules, and ask a qualified person when in doubt."
)


@dataclass(frozen=True)
class Judgement:
    """A verdict with what it was made of. ei: what the film was exposed at."""

    patches: tuple[NegativePatch, ...]
    ei: float
    density_range: float
    verdict: Verdict
    cautions: tuple[str, ...]


def judge_densities(
    densities: Sequence[str],
    base_fog: float,
    *,
    ei: float,
    wanted: float = 0.0,
    enlarger: str = "diffusion",
    density_range: float | None = None,
    placement_sigma: float = PLACEMENT_SIGMA,
    frame: Frame | None = None,
) -> Judgement:
    """Judge densitometer readings.

    densities: "ZONE=DENSITY", or "NAME=DENSITY" for a part that `frame` placed by that name; base plus fog included.
    base_fog: density of the bare film. Raises BadInput for what cannot be read or judged.
    """
    if not 0 <= base_fog <= MOST_DENSITY:
        raise BadInput(f"base plus fog of {base_fog:g} is no density: give what the clear film reads, such as 0.08")
    patches = []
    for text in densities:
        part, found, density = text.rpartition("=")
        patches.append(
            _patch(part.strip(), _density(text, found, density) - base_fog, DENSITY_SIGMA, placement_sigma, frame)
        )
    return _judged(patches, ei, wanted, enlarger, density_range)


@dataclass(frozen=True)
class ScanWish:
    """One scan and where to read it.

    base: "X,Y" on bare film. spots: "X,Y=ZONE", or "X,Y=NAME" for a part that `frame` placed by that name.
    """

    scan: Path
    base: str
    spots: tuple[str, ...]
    frame: Frame | None = None


def judge_scans(
    wishes: Sequence[ScanWish],
    *,
    ei: float,
    size: float | None = None,
    wanted: float = 0.0,
    enlarger: str = "diffusion",
    density_range: float | None = None,
    placement_sigma: float = PLACEMENT_SIGMA,
) -> Judgement:
    """Judge spots of 16-bit linear scans, each against its own bare film, all as one roll.

    size: diameter of a spot, parts of the picture's short side. Raises BadInput or PhotoError.
    """
    patches, cautions = [], ["a scan judges well only if it is linear: no tone curve, no automatic levels, same light"]
    for wish in wishes:
        found, left_out = _patches_of(wish, size, placement_sigma)
        patches += [replace(patch, source=wish.scan.name) for patch in found] if len(wishes) > 1 else found
        cautions += left_out
    return _judged(patches, ei, wanted, enlarger, density_range, cautions)


def _patches_of(wish: ScanWish, size: float | None, zone_sigma: float) -> tuple[list[NegativePatch], list[str]]:
    """The patches of one scan, and a caution for each spot that was too dense for it."""
    from meter.pixels.scan_densities import DEFAULT_SIZE, read_densities

    places = [text.partition("=") for text in wish.spots]
    found = read_densities(wish.scan, _point(wish.base), [_point(at) for at, *_ in places], size=size or DEFAULT_SIZE)
    patches, left_out = [], []
    for (at, _, part), spot in zip(places, found, strict=True):
        if spot.bound == "at_least":
            left_out.append(f"{wish.scan}: {at} is too dense for this scan and was left out: scan it with more light")
            continue
        sigma = hypot(SCAN_DENSITY_SIGMA, spot.sigma)
        patches.append(_patch(part.strip(), spot.density, sigma, zone_sigma, wish.frame))
    return patches, left_out


def _judged(patches, ei, wanted, enlarger, density_range, cautions: Sequence[str] = ()) -> Judgement:
    if enlarger not in DENSITY_RANGE:
        raise BadInput(f"enlarger '{enlarger}' is not known: {' or '.join(DENSITY_RANGE)}")
    span = DENSITY_RANGE[enlarger] if density_range is None else density_range
    verdict = judge(patches, ei, wanted, span)
    ordered = tuple(sorted(patches, key=lambda p: p.zone))
    return Judgement(ordered, ei, span, verdict, (*cautions, *verdict.cautions, CHEMISTRY))


def _density(text: str, found: str, density: str) -> float:
    try:
        value = float(density) if found else -1.0
    except ValueError:
        value = -1.0
    if not 0 <= value <= MOST_DENSITY:
        raise BadInput(
            f"density '{text}' is not readable: write ZONE=DENSITY, such as III=0.38, from 0 to {MOST_DENSITY:g}"
        )
    return value


def _patch(part: str, density: float, density_sigma: float, zone_sigma: float, frame: Frame | None) -> NegativePatch:
    """A patch by the name of what the frame placed, else by its zone."""
    placements = {p.name.lower(): p for p in frame.exposure.placements} if frame else {}
    placed = placements.get(part.lower())
    if placed:
        sigma = zone_sigma if placed.sigma is None else hypot(zone_sigma, placed.sigma)
        return NegativePatch(placed.zone, density, density_sigma, sigma, placed.name)
    try:
        return NegativePatch(parse_zone(part), density, density_sigma, zone_sigma)
    except BadInput:
        names = ", ".join(p.name for p in frame.exposure.placements) if frame else ""
        also = f", or what frame {frame.number} placed ({names})" if names else ""
        raise BadInput(f"'{part}' is neither a zone from 0 to X{also}: write such as III=0.38") from None


def _point(text: str) -> tuple[float, float]:
    x, found, y = text.partition(",")
    try:
        point = (float(x), float(y)) if found else (-1.0, -1.0)
    except ValueError:
        point = (-1.0, -1.0)
    if not all(0 <= value <= 1 for value in point):
        raise BadInput(f"'{text}' is no place on the scan: write X,Y from 0 to 1, 0,0 at the top left")
    return point


def frame_of(roll: Roll, number: int) -> Frame:
    """A recorded frame of a roll. Raises BadInput if there is none."""
    found = [frame for frame in roll.live if frame.number == number]
    if not found:
        raise BadInput(f"roll {roll.id} has no frame {number}: see roll show")
    return found[0]


def check_judgeable(roll: Roll) -> tuple[str, ...]:
    """Cautions for a roll that is judged. Raises BadInput for reversal film, which has no negative."""
    if roll.made.facts.get("film_kind") == "reversal":
        raise BadInput(f"{roll.made.film_name} is reversal film: judge reads negatives, not slides")
    if not roll.develops_by_zones:
        return (f"{roll.made.film_name} has a fixed process: take the EI from here, leave the development alone",)
    return ()


def wanted_of(roll: Roll | None) -> float:
    """The development asked for: the whole tank's, since one roll is developed in one; N where nothing was asked."""
    advice = tank_advice(roll.live) if roll else None
    return 0.0 if advice is None else advice.development


def plain_judgement(judgement: Judgement) -> dict:
    """A judgement as plain JSON-ready data."""
    verdict = asdict(judgement.verdict)
    verdict.pop("cautions")
    return {
        "ei_used": judgement.ei,
        "density_range": judgement.density_range,
        "patches": [asdict(patch) for patch in judgement.patches],
        **verdict,
        "cautions": list(judgement.cautions),
    }
