"""The use case on numbers: patches of light + kit + film -> readings, zones, development, settings.

Pure, so that a page can run it in a browser: whoever has pixels makes Patches of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log2

from meter.film import Film
from meter.ladder import exposure_ev
from meter.light import K, Reading, ev100_from_luminance
from meter.order import Exposure, Order
from meter.settle import Settled, settle
from meter.zones import (
    MIDDLE,
    REVERSAL_HIGHLIGHT,
    TEXTURED_SHADOW,
    Placement,
    development_for,
    development_text,
    range_left_over,
    zone_text,
)

BLOWN_SHARE = 0.05  # of a patch's light: from here on its luminance is "at least" (twice the light there adds 0.07 stop)
BLACK_SHARE = 0.5  # of a patch: from here on its luminance is "at most"
GLARE_SHARE = 0.01  # veiling glare as a share of the frame's mean luminance: half the 2 % recalled of phones (memory)
OVER_CLIP = 11.0  # what is blown counts this many times its clipping level in that mean (tuned on simulated cameras)
GLARE_WORTH_A_WORD = 0.8  # in a textured shadow [stops]
LEAST_LUMINANCE = 1e-6  # darker than any night; keeps log2 finite [cd/m²]


@dataclass(frozen=True)
class Patch:
    """A part of a light map as numbers.

    luminance: mean. [cd/m²] sigma: of the response there, sampling noise apart. noise: of the mean itself. [stops]
    blown: share of its light that comes from blown pixels. black: share of its pixels that are black. [0-1]
    """

    luminance: float
    sigma: float
    noise: float = 0.0
    blown: float = 0.0
    black: float = 0.0


@dataclass(frozen=True)
class Spot:
    """A patch with a place. x, y: fractions of the upright picture. degrees: angular diameter.

    wanted_zone: where it is placed by the user, None for one that falls where it falls. label: what it is, or "".
    """

    x: float
    y: float
    degrees: float
    patch: Patch
    wanted_zone: float | None = None
    label: str = ""


@dataclass(frozen=True)
class SpotReading:
    """A spot as metered: where it is, how bright, on which zone; placed where the exposure was set by it."""

    x: float
    y: float
    degrees: float
    reading: Reading
    zone: float
    placed: bool
    label: str = ""


@dataclass(frozen=True)
class Metered:
    """Everything a reading says. range_stops and development are None where no range was found."""

    average: Reading
    center: Reading
    spots: tuple[SpotReading, ...]
    shadow: SpotReading | None
    highlight: SpotReading | None
    range_stops: float | None
    development: str | None
    exposure: Exposure
    settled: Settled
    cautions: tuple[str, ...]


def glare_stops(patch: Patch, frame: Patch) -> float:
    """How much too bright a patch may read for the light that the rest of the frame scatters over it. [stops]"""
    veil = GLARE_SHARE * frame.luminance * (1 + (OVER_CLIP - 1) * frame.blown)
    return log2(1 + veil / max(patch.luminance, LEAST_LUMINANCE))


def reading_of(patch: Patch, frame: Patch, k: float = K) -> Reading:
    """EV of a patch, with its sigma made whole: response, sampling noise, and glare from the rest of the frame."""
    luminance = max(patch.luminance, LEAST_LUMINANCE)
    bound = "at_least" if patch.blown >= BLOWN_SHARE else "at_most" if patch.black >= BLACK_SHARE else "exact"
    sigma = hypot(patch.sigma, patch.noise, glare_stops(patch, frame))
    return Reading(ev100_from_luminance(luminance, k), sigma, bound)


def meter(
    order: Order,
    frame: Patch,
    center: Patch,
    spots: Sequence[Spot] = (),
    extremes: tuple[Spot, Spot] | None = None,
    wanted_middle: Placement | None = None,
) -> Metered:
    """Turn patches of light into an exposure and the settings that give it.

    extremes: the darkest and the lightest textured spot found in the picture, None where there are none.
    wanted_middle: a placement that overrules spots and film kind (such as "average on V").
    """
    read = [(spot, reading_of(spot.patch, frame, order.k)) for spot in spots]
    average, middle = (reading_of(patch, frame, order.k) for patch in (frame, center))
    ends = tuple((spot, reading_of(spot.patch, frame, order.k)) for spot in extremes) if extremes else ()
    placement, why, by = _decide(order.film, average, read, ends, wanted_middle)
    shadow, highlight = tuple(_placed(spot, r, placement, spot is by) for spot, r in ends) or (None, None)
    range_stops = highlight.reading.ev100 - shadow.reading.ev100 if shadow and highlight else None
    n, cautions = _development(order.film, read, range_stops)
    ev_film = exposure_ev(placement.middle_ev100, order.ei, order.filter_stops, order.closeup_stops)
    return Metered(
        average=average,
        center=middle,
        spots=tuple(_placed(spot, r, placement, spot is by) for spot, r in read),
        shadow=shadow,
        highlight=highlight,
        range_stops=range_stops,
        development=n,
        exposure=Exposure(ev_film, order.ei, order.filter_stops, order.closeup_stops, why),
        settled=settle(order, ev_film),
        cautions=tuple(cautions + _cautions(order.film, average, placement, highlight) + _glare(ends, frame)),
    )


def _placed(spot: Spot, reading: Reading, placement: Placement, placed: bool) -> SpotReading:
    zone = placement.zone_of(reading.ev100)
    return SpotReading(spot.x, spot.y, spot.degrees, reading, zone, placed, spot.label)


_Read = Sequence[tuple[Spot, Reading]]


def _decide(
    film: Film, average: Reading, read: _Read, ends: _Read, wanted: Placement | None
) -> tuple[Placement, str, Spot | None]:
    """Which reading decides the exposure: the user's spot, else the film kind's own habit, else the average on V."""
    if wanted:
        return wanted, f"EV {wanted.ev100:.1f} placed on {zone_text(wanted.zone)}, as asked", None
    chosen = [(spot, reading) for spot, reading in read if spot.wanted_zone is not None]
    if chosen:
        pick = max if film.kind == "reversal" else min
        spot, reading = pick(chosen, key=lambda pair: pair[0].wanted_zone)
        what = spot.label or f"the spot at {spot.x:g},{spot.y:g}"
        return (
            Placement(reading.ev100, spot.wanted_zone),
            f"{what} (EV {reading.ev100:.1f}) placed on {zone_text(spot.wanted_zone)}",
            spot,
        )
    on_middle = Placement(average.ev100, MIDDLE)
    if not ends:
        return on_middle, f"no textured shadow or highlight stands out: average (EV {average.ev100:.1f}) on V", None
    (dark_spot, dark), (light_spot, light) = ends
    if film.kind == "negative":
        why = f"darkest textured area (EV {dark.ev100:.1f}) placed on {zone_text(TEXTURED_SHADOW)}, for negative film"
        return Placement(dark.ev100, TEXTURED_SHADOW), why, dark_spot
    if on_middle.zone_of(light.ev100) > REVERSAL_HIGHLIGHT:
        why = f"lightest textured area (EV {light.ev100:.1f}) kept at VII½, for reversal film"
        return Placement(light.ev100, REVERSAL_HIGHLIGHT), why, light_spot
    return on_middle, f"average (EV {average.ev100:.1f}) on V; the lightest textured area stays below VII½", None


def _development(film: Film, read: _Read, range_stops: float | None) -> tuple[str | None, list[str]]:
    """N for the range between two placed spots, else between the textured extremes; and what to be careful about."""
    chosen = sorted(((s.wanted_zone, r.ev100) for s, r in read if s.wanted_zone is not None), key=lambda pair: pair[0])
    if len(chosen) >= 2 and chosen[-1][0] > chosen[0][0]:
        # What the placed zones ask for, expressed as the range that N would stretch from III to VIII.
        range_stops = (chosen[-1][1] - chosen[0][1]) - (chosen[-1][0] - chosen[0][0]) + 5.0
    if range_stops is None:
        return None, []
    if film.process != "bw":
        held = 5.0 if film.kind == "reversal" else 7.0
        caution = f"the range of {range_stops:.1f} stops is more than this film holds well (about {held:.0f}, common practice)"
        return "N", [caution] if range_stops > held else []
    left = range_left_over(range_stops)
    cautions = [
        f"{left:.1f} stops of the range are more than N-2 holds: give up shadow or highlight, or soften the light"
    ]
    return development_text(development_for(range_stops)), cautions if left > 0 else []


def _cautions(film: Film, average: Reading, placement: Placement, highlight: SpotReading | None) -> list[str]:
    cautions = []
    if average.bound == "at_least":
        cautions.append("part of the snapshot is blown: the average is at least this; expose another snapshot darker")
    if highlight and film.kind == "reversal" and highlight.zone > REVERSAL_HIGHLIGHT + 0.05:
        cautions.append(f"the lightest textured area falls on {zone_text(highlight.zone)}: reversal film will lose it")
    if film.kind == "negative" and placement.zone_of(average.ev100) > 8:
        cautions.append("the average falls above VIII: check that the darkest area found is one that matters to you")
    return cautions


def _glare(ends: _Read, frame: Patch) -> list[str]:
    stops = glare_stops(ends[0][0].patch, frame) if ends else 0.0
    if stops < GLARE_WORTH_A_WORD:
        return []
    return [
        f"bright parts of the frame may make the shadow read {stops:.0f} stops or more too bright: take another snapshot "
        "of the shadow alone, the window or lamp out of the frame"
    ]
