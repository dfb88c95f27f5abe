"""Zones 0-X: place a reading, see where others fall, and what development the range asks for.

One zone is one stop; V is the mid-tone that a meter aims at. After Adams, The Negative (1981), ch. 4 (memory).
"""

from dataclasses import dataclass
from math import floor

from meter.errors import BadInput
from meter.plain import plain_number

NUMERALS = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
MIDDLE = 5.0
TEXTURED_SHADOW = 3.0  # where negative film wants the darkest part that must show texture
TEXTURED_HIGHLIGHT = 8.0  # the lightest part that still shows texture on a normally developed negative
REVERSAL_HIGHLIGHT = 7.5  # reversal film: the lightest textured part lies here or lower (common practice)
DEVELOPMENTS = (-2, -1, 0, 1, 2)
_PARTS = ((0.0, ""), (1 / 3, "⅓"), (0.5, "½"), (2 / 3, "⅔"), (1.0, ""))
_SIGNS = {"½": 1 / 2, "⅓": 1 / 3, "⅔": 2 / 3, "¼": 1 / 4, "¾": 3 / 4}


@dataclass(frozen=True)
class Placement:
    """One reading put on one zone: everything else follows. ev100: of the reading."""

    ev100: float
    zone: float

    @property
    def middle_ev100(self) -> float:
        """The EV at ISO 100 that the exposure must be set for: the reading's, moved from its zone to V."""
        return self.ev100 - (self.zone - MIDDLE)

    def zone_of(self, ev100: float) -> float:
        """The zone on which another reading falls; may lie outside 0-10."""
        return self.zone + (ev100 - self.ev100)


def parse_zone(text: str) -> float:
    """Read "III", "iii", "3", "7.5", "VII½", "III+1/3" or "IV-1/2" as a zone. Raises BadInput outside 0-X.

    >>> parse_zone("VII½"), round(parse_zone("iii+1/3"), 3), parse_zone("6.5")
    (7.5, 3.333, 6.5)
    """
    plain = text.strip().upper().replace("−", "-")
    plain = plain.removeprefix("ZONE").strip()
    complaint = BadInput(f"zone '{text}' is not readable: write 0 to X in Roman numerals or figures (III, VII½, 3.5)")
    past = 0.0
    if plain and plain[-1] in _SIGNS:
        past, plain = _SIGNS[plain[-1]], plain[:-1]
    for sign in "+-":
        head, found, tail = plain.partition(sign)
        if found and head:
            try:
                past, plain = plain_number(tail) * (1 if sign == "+" else -1), head
            except ValueError:
                raise complaint from None
    try:
        zone = float(NUMERALS.index(plain)) if plain in NUMERALS else plain_number(plain)
    except ValueError:
        raise complaint from None
    zone += past
    if not 0 <= zone <= 10:
        raise complaint
    return zone


def zone_text(zone: float) -> str:
    """A zone in Roman numerals with thirds and halves: "III", "VI⅔", "VII½"; "below 0" and "above X" outside.

    >>> zone_text(6.7), zone_text(2.97), zone_text(7.5), zone_text(-2.0), zone_text(12)
    ('VI⅔', 'III', 'VII½', 'below 0', 'above X')
    """
    if not -1 / 6 < zone < 10 + 1 / 6:
        return "below 0" if zone < 5 else "above X"
    whole = floor(zone)
    nearest, sign = min(_PARTS, key=lambda part: abs(zone - whole - part[0]))
    return NUMERALS[min(max(whole + (nearest == 1.0), 0), 10)] + sign


def development_for(range_stops: float) -> int:
    """The N for negatives with the shadow on III that brings a highlight of this range above it to VIII.

    range_stops: from the textured shadow to the textured highlight; 5 is normal. [stops]
    Returns -2 .. +2; a range beyond what N±2 holds gives the end (see range_left_over).

    >>> development_for(5.2), development_for(3.1), development_for(9)
    (0, 2, -2)
    """
    wanted = round(TEXTURED_HIGHLIGHT - TEXTURED_SHADOW - range_stops)
    return min(max(wanted, DEVELOPMENTS[0]), DEVELOPMENTS[-1])


def range_left_over(range_stops: float) -> float:
    """Stops of range that N-2 cannot hold; 0 where it can. [stops]"""
    return max(0.0, range_stops - (TEXTURED_HIGHLIGHT - TEXTURED_SHADOW - DEVELOPMENTS[0]) - 0.5)


def development_text(n: int) -> str:
    """N-2, N-1, N, N+1, N+2."""
    return f"N{n:+d}" if n else "N"
