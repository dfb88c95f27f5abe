"""How long a shutter was open, once: what the ear, the light sensor and the frame counter hand on."""

from dataclasses import dataclass
from math import sqrt

MODES = ("sound", "light", "frames")

# The part of an open time's uncertainty that repeating the release does not average away. [s]
# sound: a click tells when a part hit its stop, not when the light came or went; 2 ms makes sound good to 0.19 stop at
#   1/64 s and to a quarter of a stop at 1/87 s, which is common practice ("trust sound to about 1/60 s") as a number.
#   One published hobby measurement of a leaf shutter by microphone (2012, secondary) had 5, 7 and 5 ms for marks of
#   1/500, 1/250 and 1/125 s: errors of +3, +3 and -3 ms, of the same size.
# light, frames: none known beyond what each release states.
SYSTEMATIC_S = {"sound": 0.002, "light": 0.0, "frames": 0.0}


@dataclass(frozen=True)
class OpenTime:
    """One release.

    start_s: when it opened, from the start of the recording. [s]
    open_s: how long it stayed open. [s]
    sigma_s: standard uncertainty of open_s, systematic part included. [s]
    mode: "sound", "light" or "frames".
    """

    start_s: float
    open_s: float
    sigma_s: float
    mode: str

    @property
    def random_s(self) -> float:
        """The part of sigma_s that differs from release to release. [s]"""
        return sqrt(max(self.sigma_s**2 - SYSTEMATIC_S[self.mode] ** 2, 0.0))
