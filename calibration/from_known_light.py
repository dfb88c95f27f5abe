"""Anchor a phone's absolute scale: compare what it read with light that is known, and combine the differences.

Each Anchor says how many stops to add to the phone's readings. Its uncertainty has two parts: its own, and one that all
anchors of its kind share (the same meter, the same card), which more of them cannot average away. All is in luminance:
the phone's reading of the spot in cd/m2 against the spot's known one.

Sources, with evidence:
[1] L = K 2^EV / 100; K 10.6 to 13.4 by ISO 2720:1974, 12.5 and 14 in use, 0.163 EV apart (secondary texts).
[2] L = rho E / pi for a matt card: definition of a Lambertian reflector.
[3] Illuminance is hard to measure better than to 10 % = 0.14 stop (diracdelta.co.uk, read).
[4] Clear-sky illuminance: 127.5 klx outside the air, extinction 0.21, air mass 1 / sin h (IES model, by way of a
    mailing-list post of 2003, secondary); sky 0.8 + 15.5 sqrt(sin h) klx (memory). Against a second fit (Explanatory
    Supplement; memory) it differs by 0.1 stop at 90, 0.2 at 30 and 0.5 at 5 degrees of altitude. Real days: up to half
    or twice (serd.ait.ac.th, read).
[5] Daylight exposure guide, ANSI PH2.7 (secondary): full sun EV 15 and so on; front-lit, from two hours after sunrise
    to two hours before sunset.
[6] Weighted mean with a shared part, chi-square, and Huber weights: textbook; checked against a numpy GLS in the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, hypot, inf, isfinite, log2, pi, radians, sin, sqrt

from meter.errors import BadInput
from meter.light import K, luminance_from_ev100

METER_SIGMA = 0.1  # a good meter's own repeatability, and aiming it at the same spot (common practice) [stops]
METER_COMMON = 0.1  # a meter's calibration (common practice) [stops]
K_COMMON = 0.12  # not knowing whether it was built for K = 12.5 or 14: 0.163 / sqrt 2 [1]
LUMINANCE_METER_SIGMA = 0.07  # 5 % (common practice) [stops]
LUX_METER_COMMON = 0.14  # [3]
CARD_SIGMA = 0.1  # tilt, sheen and place of a card (common practice) [stops]
SUN_SIGMA = 0.15  # a card's tilt to the sun, thin cloud (assumed) [stops]
SUN_COMMON_HIGH, SUN_COMMON_LOW = 0.3, 0.45  # haze, and what the models differ by: from 20 degrees up, and below [4]
SUN_RANGE_DEGREES = (5.0, 90.0)
GUIDE_SIGMA = 0.3  # from one scene to another under the same words (common practice) [stops]
GUIDE_COMMON = 0.4  # guide rows are whole stops, and made to be safe (common practice) [stops]
GROUND = 0.2  # reflectance of the ground before an upright card (common practice)
CONTRADICTION_SIGMAS = 3.0
HUBER_SIGMAS = 1.5


@dataclass(frozen=True)
class Anchor:
    """One comparison with known light.

    offset_stops: to add to the phone's readings; positive when the phone reads too low. [stops]
    sigma_stops: its own standard uncertainty, independent of the others. [stops]
    label: what messages call it.
    kind: "meter", "luminance", "illuminance", "sun" or "guide"; anchors of one kind share common_stops.
    common_stops: standard uncertainty that all anchors of this kind have together. [stops]
    """

    offset_stops: float
    sigma_stops: float
    label: str
    kind: str = "own"
    common_stops: float = 0.0

    def __post_init__(self):
        if not (isfinite(self.offset_stops) and 0 < self.sigma_stops < inf and 0 <= self.common_stops < inf):
            raise BadInput(
                f"{self.label}: an offset must be finite and its uncertainty above 0; got {self.offset_stops} stops, "
                f"+/- {self.sigma_stops} and {self.common_stops}"
            )

    @property
    def total_stops(self) -> float:
        """Standard uncertainty if this were the only anchor. [stops]"""
        return hypot(self.sigma_stops, self.common_stops)


@dataclass(frozen=True)
class KnownOffset:
    """What to add to a phone's readings.

    offset_stops, sigma_stops: robust weighted mean and its standard uncertainty. [stops]
    chi_square: of the anchors about the mean; about anchors - 1 when they agree as well as they claim.
    anchors: how many.
    """

    offset_stops: float
    sigma_stops: float
    chi_square: float
    anchors: int


def from_meter(
    read_luminance: float, read_sigma: float, known_ev100: float, label: str, k: float | None = None
) -> Anchor:
    """A trusted meter's EV at ISO 100 of the spot that the phone read.

    read_luminance: phone's reading of the spot [cd/m2]; read_sigma: how well it repeats [stops], 0 or more.
    k: the meter's constant, 10 to 15 [cd s/m2]; None: not known, K is taken and 0.12 stop added to the shared part.
    """
    if not -10 <= known_ev100 <= 25:
        raise BadInput(f"{label}: an EV at ISO 100 lies between -10 and 25; got {known_ev100}")
    if k is not None and not 10 <= k <= 15:
        raise BadInput(f"{label}: a meter's K lies between 10 and 15 cd s/m2; got {k}")
    common = METER_COMMON if k is not None else hypot(METER_COMMON, K_COMMON)
    return _anchor(
        read_luminance, read_sigma, luminance_from_ev100(known_ev100, k or K), METER_SIGMA, label, "meter", common
    )


def from_luminance(read_luminance: float, read_sigma: float, luminance: float, label: str) -> Anchor:
    """The spot's luminance by a luminance meter. [cd/m2]"""
    sigma = LUMINANCE_METER_SIGMA
    return _anchor(read_luminance, read_sigma, luminance, sigma, label, "luminance", sigma)


def from_illuminance(
    read_luminance: float, read_sigma: float, illuminance: float, reflectance: float, label: str
) -> Anchor:
    """A matt card under an illuminance meter: L = rho E / pi.

    illuminance: on the card, in the card's own plane [lux]. reflectance: of the card, above 0.01 and below 1.
    """
    luminance = _card_luminance(illuminance, reflectance, label)
    return _anchor(read_luminance, read_sigma, luminance, CARD_SIGMA, label, "illuminance", LUX_METER_COMMON)


def from_sun(
    read_luminance: float, read_sigma: float, altitude: float, reflectance: float, label: str, facing: bool = False
) -> Anchor:
    """A matt card in full sun under a clear sky, with the sun's altitude above the horizon. Common practice.

    altitude: 5 to 90 degrees. reflectance: of the card. facing: False for a card lying flat, True for one held square
    to the sun. Turn your back to the sun: never look at it, or aim a camera at it, to find its altitude.
    """
    illuminance = clear_sky_illuminance(altitude, facing)
    common = SUN_COMMON_HIGH if altitude >= 20 else SUN_COMMON_LOW
    luminance = _card_luminance(illuminance, reflectance, label)
    return _anchor(read_luminance, read_sigma, luminance, hypot(SUN_SIGMA, CARD_SIGMA), label, "sun", common)


def from_guide(read_luminance: float, read_sigma: float, guide_ev100: float, label: str) -> Anchor:
    """A row of the daylight exposure guide against the phone's average of such a scene. Common practice. [5]"""
    anchor = from_meter(read_luminance, read_sigma, guide_ev100, label, k=K)
    return replace(anchor, sigma_stops=hypot(GUIDE_SIGMA, read_sigma), kind="guide", common_stops=GUIDE_COMMON)


def clear_sky_illuminance(altitude: float, facing: bool = False) -> float:
    """Illuminance of a card in full sun under a clear sky. [lux] Source [4]; true within a third to half a stop.

    altitude: of the sun, 5 to 90 degrees. facing: square to the sun (with the part of the sky and of the ground, of
    reflectance 0.2, that a tilted card sees) instead of lying flat.

    >>> round(clear_sky_illuminance(60.0), -3)
    102000.0
    """
    low, high = SUN_RANGE_DEGREES
    if not (low <= altitude <= high):
        raise BadInput(f"the sun must stand {low:.0f} to {high:.0f} degrees above the horizon; got {altitude}")
    height = sin(radians(altitude))
    direct = 127_500 * exp(-0.21 / height)
    sky = 800 + 15_500 * sqrt(height)
    flat = direct * height + sky
    if not facing:
        return flat
    return direct + sky * (1 + height) / 2 + GROUND * flat * (1 - height) / 2


def combine(anchors: Sequence[Anchor]) -> KnownOffset:
    """The weighted robust mean of all anchors, each kind's shared uncertainty counted once. [6]

    Anchors more than 1.5 sigma out count less; where the rest scatter more than they claim, the uncertainty grows.
    Raises BadInput without anchors, and names the anchor that contradicts the others by more than 3 sigma.
    """
    if not anchors:
        raise BadInput(
            "no known light was given: give an EV of a meter, a luminance, an illuminance or the sun's altitude"
        )
    _refuse_contradiction(anchors)
    used = list(anchors)
    for _ in range(20):
        offset, sigma = _mean(used)
        used = [_softened(anchor, offset) for anchor in anchors]
    chi_square = sum(((a.offset_stops - offset) / a.total_stops) ** 2 for a in anchors)
    grown = sqrt(max(chi_square / max(len(anchors) - 1, 1), 1.0)) if len(anchors) > 1 else 1.0
    return KnownOffset(offset, sigma * grown, chi_square, len(anchors))


def _anchor(read: float, read_sigma: float, known: float, sigma: float, label: str, kind: str, common: float) -> Anchor:
    for what, value in (("the phone's reading", read), ("the known luminance", known)):
        if not 1e-5 <= value <= 1e9:
            raise BadInput(f"{label}: {what} must be a luminance between 0.00001 and 1e9 cd/m2; got {value}")
    if not 0 <= read_sigma < inf:
        raise BadInput(f"{label}: the uncertainty of the phone's reading is 0 or more stops; got {read_sigma}")
    return Anchor(log2(known / read), hypot(sigma, read_sigma), label, kind, common)


def _card_luminance(illuminance: float, reflectance: float, label: str) -> float:
    if not 0.01 <= reflectance < 1:
        raise BadInput(
            f"{label}: a card's reflectance lies between 0.01 and 1 (0.18 for a grey card); got {reflectance}"
        )
    if not 0.001 <= illuminance <= 200_000:
        raise BadInput(f"{label}: an illuminance lies between 0.001 and 200000 lux; got {illuminance}")
    return reflectance * illuminance / pi


def _mean(anchors: Sequence[Anchor]) -> tuple[float, float]:
    """Generalised least squares for 'independent + shared by kind': mean within each kind, then over the kinds."""
    kinds: dict[tuple[str, float], list[Anchor]] = {}
    for anchor in anchors:
        kinds.setdefault((anchor.kind, anchor.common_stops), []).append(anchor)
    total = weighted = 0.0
    for (_, common), members in kinds.items():
        precision = sum(a.sigma_stops**-2 for a in members)
        center = sum(a.offset_stops * a.sigma_stops**-2 for a in members) / precision
        weight = 1 / (1 / precision + common**2)
        total, weighted = total + weight, weighted + weight * center
    return weighted / total, total**-0.5


def _softened(anchor: Anchor, offset: float) -> Anchor:
    """The anchor with its own uncertainty widened as Huber's weight asks."""
    out = abs(anchor.offset_stops - offset) / anchor.total_stops
    return replace(anchor, sigma_stops=anchor.sigma_stops * sqrt(max(out / HUBER_SIGMAS, 1.0)))


def _refuse_contradiction(anchors: Sequence[Anchor]) -> None:
    """Each anchor against the mean of the others."""
    if len(anchors) < 2:
        return
    outs = []
    for i, anchor in enumerate(anchors):
        rest = [*anchors[:i], *anchors[i + 1 :]]
        center, sigma = _mean(rest)
        outs.append((_apart_sigmas(anchor, rest, center, sigma), anchor, center))
    apart, anchor, center = max(outs, key=lambda out: out[0])
    if apart > CONTRADICTION_SIGMAS:
        others = f"'{next(a.label for a in anchors if a is not anchor)}'" if len(anchors) == 2 else "the others"
        raise BadInput(
            f"'{anchor.label}' asks for {anchor.offset_stops:+.2f} stops, {others} for {center:+.2f}: {apart:.1f} "
            "sigma apart; check that the same spot was read and the numbers are right, or leave it out"
        )


def _apart_sigmas(anchor: Anchor, rest: Sequence[Anchor], center: float, sigma: float) -> float:
    """How far an anchor is from the mean of the rest; what it shares with all of them does not part them."""
    same_kind = all((a.kind, a.common_stops) == (anchor.kind, anchor.common_stops) for a in rest)
    shared = anchor.common_stops if same_kind else 0.0
    variance = anchor.total_stops**2 + sigma**2 - 2 * shared**2
    return abs(anchor.offset_stops - center) / sqrt(variance)
