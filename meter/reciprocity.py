"""Reciprocity failure: the time a meter asks for and the time to hold the shutter open so that the film gets it.

A curve is data with a source. Where the source gives no upper limit its curve has none; beyond a limit it is continued
and flagged. Short-time failure (1/1000 s and less; a third of a stop at 1/10 000 s on F-4016) is not modelled.
"""

from bisect import bisect_right
from dataclasses import dataclass
from math import exp, inf, log, log2

from meter.errors import BadInput

EXTRA_EXPONENT = 1.62  # fitted to five measured films at once; apug.org, forum 37, thread 11566 (secondary)
LONGEST_S = 1e7  # nobody meters a longer time than this, 116 days [s]

MODELS = {
    "power": "Tc = Tm^P above 1 s",
    "extra": "Tc = Tm + a·Tm^1.62",
    "table": "rows of the source, interpolated in log time against log time",
    "log_stops": "stops = a·ln(Tm) − b, never below 0",
    "none": "no correction",
}


@dataclass(frozen=True)
class Row:
    """One line of a table. metered_s, corrected_s: [s].

    opened_stops: set where the source opens the lens by so much instead of giving a time; corrected_s is then
        metered·2^stops, the least that can be meant: F-4017, which prints both, opens by 2 and 3 stops where it asks
        for 2.3 and 3.6 stops of time.
    evidence and source are those of this figure; note says what else the source asks for (development, a filter).
    """

    metered_s: float
    corrected_s: float
    opened_stops: float | None = None
    source: str = ""
    evidence: str = ""
    note: str = ""


@dataclass(frozen=True)
class Curve:
    """How one source corrects long exposures of one film.

    name: what --reciprocity calls it: "sheet", "measured", "book" ... model: a key of MODELS.
    begins_s: up to this metered time nothing is corrected; 0 for "extra", which is smooth. A table whose first row is
        that very time steps up just beyond it. [s]
    published_to_s: the longest metered time the source covers; inf where it sets no limit. [s]
    exponent: P of "power". extra_s: a of "extra", the extra seconds at 1 s.
    slope, offset: a and b of "log_stops". rows: of "table", ascending in both times.
    """

    name: str
    model: str
    source: str
    evidence: str
    begins_s: float = 1.0
    published_to_s: float = inf
    note: str = ""
    exponent: float = 1.0
    extra_s: float = 0.0
    slope: float = 0.0
    offset: float = 0.0
    rows: tuple[Row, ...] = ()

    def __post_init__(self):
        if self.model not in MODELS:
            raise BadInput(f"reciprocity model '{self.model}' is not known; there are {', '.join(MODELS)}")
        if self.model == "table" and not self.rows:
            raise BadInput(f"reciprocity curve '{self.name}' is a table without rows")

    def corrected_s(self, metered_s: float) -> float:
        """The time to hold so that the film is exposed as if it had not failed; never less than metered_s. [s]

        Strictly increasing. Raises BadInput unless 0 < metered_s <= LONGEST_S.

        >>> sheet = Curve("sheet", "power", "technical sheet", "secondary", exponent=1.31)
        >>> round(sheet.corrected_s(10.0), 1), sheet.corrected_s(0.5)
        (20.4, 0.5)
        """
        if not 0 < metered_s <= LONGEST_S:
            raise BadInput(f"a metered time must be above 0 and at most {LONGEST_S:.0f} s; got {metered_s}")
        if self.model == "extra":
            return metered_s + self.extra_s * metered_s**EXTRA_EXPONENT
        if self.model == "none" or metered_s <= self._starts_s:
            return metered_s
        if self.model == "power":
            return metered_s**self.exponent
        if self.model == "log_stops":
            return metered_s * 2.0 ** (self.slope * log(metered_s) - self.offset)
        return exp(_along(self._knots, log(metered_s)))

    def metered_s(self, held_s: float) -> float:
        """The metered time for which holding held_s is right, the inverse of corrected_s. [s]

        Where a table steps up, a time inside the step answers with the foot of the step. Raises BadInput for a time
        that is not above 0, or longer than the correction of LONGEST_S.

        >>> Curve("sheet", "power", "technical sheet", "secondary", exponent=2.0).metered_s(100.0)
        10.0
        """
        if not 0 < held_s <= self.corrected_s(LONGEST_S):
            raise BadInput(f"a held time must be above 0 and below {self.corrected_s(LONGEST_S):.3g} s; got {held_s}")
        if self.model == "extra":
            return _undo_extra(held_s, self.extra_s)
        if self.model == "none" or held_s <= self._starts_s:
            return held_s
        if self.model == "power":
            return held_s ** (1 / self.exponent)
        if self.model == "log_stops":
            return (held_s * 2.0**self.offset) ** (1 / (1 + self.slope * log(2)))
        return max(self._starts_s, exp(_along([(y, x) for x, y in self._knots], log(held_s))))

    def stops(self, metered_s: float) -> float:
        """How much longer the held time is, log2(corrected/metered). [stops]"""
        return log2(self.corrected_s(metered_s) / metered_s)

    def extrapolated(self, metered_s: float) -> bool:
        """Whether the source says nothing about so long a time, so that the answer is a continuation or a guess."""
        return metered_s > self.published_to_s

    def caution(self, metered_s: float) -> str:
        """One sentence to show beside an extrapolated answer; empty where the source covers the time."""
        if not self.extrapolated(metered_s):
            return ""
        if self.model == "none":
            return f"no published figure beyond {self.published_to_s:.4g} s: left uncorrected, test first"
        return f"beyond the {self.published_to_s:.4g} s that the '{self.name}' figures cover: continued as a guess"

    @property
    def _starts_s(self) -> float:
        """The metered time from which the formula is more than none. [s]"""
        return exp(self.offset / self.slope) if self.model == "log_stops" else self.begins_s

    @property
    def _knots(self) -> list[tuple[float, float]]:
        """Table rows as (ln metered, ln corrected), and one knot before and after them.

        Before: no correction at begins_s, unless the table steps up there. After: the slope between the last two rows;
        a single row has no slope and its stops are kept.
        """
        knots = [(log(row.metered_s), log(row.corrected_s)) for row in self.rows]
        if self.rows[0].metered_s > self.begins_s:
            knots.insert(0, (log(self.begins_s), log(self.begins_s)))
        (x0, y0), (x1, y1) = knots[-2:] if len(self.rows) > 1 else ((0.0, 0.0), (1.0, 1.0))
        steepness = max(1.0, (y1 - y0) / (x1 - x0))  # never towards less correction than the last row has
        last_x, last_y = knots[-1]
        return [*knots, (last_x + 1, last_y + steepness)]


def _along(knots: list[tuple[float, float]], x: float) -> float:
    """Straight lines through knots ascending in both; continued at both ends."""
    place = bisect_right(knots, x, key=lambda knot: knot[0])
    index = min(max(place - 1, 0), len(knots) - 2)
    (x0, y0), (x1, y1) = knots[index], knots[index + 1]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def _undo_extra(held_s: float, extra_s: float) -> float:
    """Solve t + a·t^e = held by Newton's steps from above, where the convex sum makes each step safe."""
    t = held_s
    for _ in range(200):
        surplus = t + extra_s * t**EXTRA_EXPONENT - held_s
        step = surplus / (1 + extra_s * EXTRA_EXPONENT * t ** (EXTRA_EXPONENT - 1))
        t -= step
        if abs(step) <= 1e-15 * t:
            break
    return t
