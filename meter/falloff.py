"""Fall-off: how much darker a camera's picture is away from its optical centre, as an even polynomial of the radius.

Even powers up to the sixth are the usual model of vignetting: r^2 carries mechanical fall-off, and cos^4, which is
even too, is met to 0.01 stop by three terms up to 42 degrees (checked in tests/test_falloff.py). The natural law
itself is not applied: a phone's processed picture is mostly corrected already, so only a measurement tells.
"""

from dataclasses import dataclass
from math import isfinite

from meter.errors import BadInput


@dataclass(frozen=True)
class Falloff:
    """Fall-off of one camera and lens, in stops against the optical centre.

    center_x, center_y: optical centre, fractions of the frame as it is stored, before it is turned upright:
        the lens sits where it sits, however the phone is held. 0, 0 top left.
    k2, k4, k6: stops per r^2, r^4, r^6; r is the distance from the optical centre, 1 = half of the frame's diagonal.
        Negative where the picture darkens.
    sigma_stops: standard uncertainty of stops_at anywhere in the frame. [stops]
    """

    center_x: float
    center_y: float
    k2: float
    k4: float
    k6: float
    sigma_stops: float

    def __post_init__(self):
        numbers = (self.center_x, self.center_y, self.k2, self.k4, self.k6, self.sigma_stops)
        if not all(isfinite(number) for number in numbers):
            raise BadInput(f"a fall-off is made of finite numbers; got {numbers}")
        if not (0 <= self.center_x <= 1 and 0 <= self.center_y <= 1):
            raise BadInput(f"an optical centre lies inside the frame, 0 to 1; got {self.center_x}, {self.center_y}")
        if self.sigma_stops < 0:
            raise BadInput(f"an uncertainty is 0 or more; got {self.sigma_stops} stops")

    def stops_at(self, x: float, y: float, aspect: float) -> float:
        """How much the picture gets here against the optical centre: 0 there, negative where it is darker. [stops]

        Take it away from a reading to correct it. x, y are fractions of the stored frame, 0, 0 top left; aspect is
        width over height, above 0 and finite. Raises BadInput otherwise.

        >>> Falloff(0.5, 0.5, -1.0, 0.0, 0.0, 0.05).stops_at(1, 1, 4 / 3)
        -1.0
        """
        return self.stops_at_radius(self.radius_squared(x, y, aspect))

    def stops_at_radius(self, r2: float) -> float:
        """The polynomial alone, of the squared radius; also of an array of them. [stops]"""
        return r2 * (self.k2 + r2 * (self.k4 + r2 * self.k6))

    def radius_squared(self, x: float, y: float, aspect: float) -> float:
        """Squared distance from the optical centre, 1 = half of the frame's diagonal. [unitless]"""
        if not (isfinite(x) and isfinite(y) and isfinite(aspect) and aspect > 0):
            raise BadInput(f"a place is two finite fractions and the aspect is above 0; got {x}, {y} and {aspect}")
        across, down = (x - self.center_x) * aspect, y - self.center_y
        return 4 * (across * across + down * down) / (aspect * aspect + 1)
