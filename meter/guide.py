"""What is known without a meter: subjects whose zone people agree on, and the published daylight guide."""

from dataclasses import dataclass
from math import hypot, sqrt

GUIDE_SIGMA_STOPS = 0.5  # judging which row a scene belongs to; common practice (memory) [stops]


@dataclass(frozen=True)
class Subject:
    """Something whose zone is agreed on: zone is 5 for Zone V, thirds and decimals in between."""

    slug: str
    name: str
    zone: float
    source: str
    evidence: str
    note: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class DaylightRow:
    """One line of the exposure guide. ev100_low, ev100_high: the range the editions give, equal for one figure. [EV]"""

    slug: str
    name: str
    ev100_low: float
    ev100_high: float
    source: str
    evidence: str
    note: str = ""
    also: tuple[str, ...] = ()

    @property
    def ev100(self) -> float:
        """The middle of the row. [EV]"""
        return (self.ev100_low + self.ev100_high) / 2

    @property
    def sigma_stops(self) -> float:
        """Standard uncertainty: half a stop of judgement, and the row's range as equally likely throughout. [stops]"""
        return hypot(GUIDE_SIGMA_STOPS, (self.ev100_high - self.ev100_low) / sqrt(12))
