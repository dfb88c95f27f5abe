"""The use case on numbers: patches of light + kit + film -> readings, zones, development, settings.

Pure, so that a page can run it in a browser: whoever has pixels makes Patches of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from meter.decision import Decision, Read, decide, develop, range_between, range_of_placed
from meter.film import Film
from meter.ladder import exposure_ev
from meter.light import Reading
from meter.order import Exposure, Order
from meter.patch import Patch, Spot, SpotReading, glare_stops, reading_of
from meter.settle import Settled, settle
from meter.zones import REVERSAL_HIGHLIGHT, zone_text

GLARE_WORTH_A_WORD = 0.8  # in a textured shadow [stops]


@dataclass(frozen=True)
class Metered:
    """Everything a reading says.

    range_stops, range_sigma: between the textured extremes; None where there are none. range_bound: "at_least" where an
    end is only a bound. development: N-2 .. N+2, None where nothing asks for it; development_why: what it rests on.
    """

    average: Reading
    center: Reading
    average_zone: float
    center_zone: float
    spots: tuple[SpotReading, ...]
    shadow: SpotReading | None
    highlight: SpotReading | None
    range_stops: float | None
    range_sigma: float | None
    range_bound: str
    development: str | None
    development_why: str
    exposure: Exposure
    settled: Settled
    cautions: tuple[str, ...]


def meter(
    order: Order,
    frame: Patch,
    center: Patch,
    spots: Sequence[Spot] = (),
    extremes: tuple[Spot, Spot] | None = None,
) -> Metered:
    """Turn patches of light into an exposure and the settings that give it.

    extremes: the darkest and the lightest textured spot found in the picture, None where there are none.
    """
    read = [(spot, reading_of(spot.patch, frame, order.k)) for spot in spots]
    average, middle = (reading_of(patch, frame, order.k) for patch in (frame, center))
    ends = tuple((spot, reading_of(spot.patch, frame, order.k)) for spot in extremes) if extremes else ()
    decision = decide(order.film, average, read, ends)
    shadow, highlight = tuple(_placed(spot, r, decision) for spot, r in ends) or (None, None)
    found = range_between(shadow.reading, highlight.reading) if shadow and highlight else None
    if found and average.bound == "at_least":  # what is blown is brighter than the highlight that was found
        found = replace(found, bound="at_least")
    development, why, cautions = develop(order.film, range_of_placed(read) or found)
    ev_film = exposure_ev(decision.placement.middle_ev100, order.ei, order.filter_stops, order.closeup_stops)
    cautions = [
        *decision.cautions,
        *cautions,
        *_cautions(order.film, average, decision, highlight),
        *_glare(ends, frame),
    ]
    return Metered(
        average=average,
        center=middle,
        average_zone=decision.placement.zone_of(average.ev100),
        center_zone=decision.placement.zone_of(middle.ev100),
        spots=tuple(_placed(spot, r, decision) for spot, r in read),
        shadow=shadow,
        highlight=highlight,
        range_stops=found.stops if found else None,
        range_sigma=found.sigma if found else None,
        range_bound=found.bound if found else "exact",
        development=development,
        development_why=why,
        exposure=Exposure(ev_film, order.ei, order.filter_stops, order.closeup_stops, decision.why),
        settled=settle(order, ev_film),
        cautions=tuple(cautions),
    )


def _placed(spot: Spot, reading: Reading, decision: Decision) -> SpotReading:
    zone = decision.placement.zone_of(reading.ev100)
    return SpotReading(spot.x, spot.y, spot.degrees, reading, zone, spot in decision.by, spot.label)


def _cautions(film: Film, average: Reading, decision: Decision, highlight: SpotReading | None) -> list[str]:
    cautions = []
    if average.bound == "at_least":
        cautions.append("part of the snapshot is blown: the average is at least this; expose another snapshot darker")
    if highlight and film.kind == "reversal" and highlight.zone > REVERSAL_HIGHLIGHT + 0.05:
        cautions.append(f"the lightest textured area falls on {zone_text(highlight.zone)}: reversal film will lose it")
    if film.kind == "negative" and decision.placement.zone_of(average.ev100) > 8:
        cautions.append("the average falls above VIII: check that the darkest area found is one that matters to you")
    return cautions


def _glare(ends: Read, frame: Patch) -> list[str]:
    stops = glare_stops(ends[0][0].patch, frame) if ends else 0.0
    if stops < GLARE_WORTH_A_WORD:
        return []
    return [
        f"bright parts of the frame may make the shadow read {stops:.1f} stops or more too bright: take another "
        "snapshot of the shadow alone, the window or lamp out of the frame"
    ]
