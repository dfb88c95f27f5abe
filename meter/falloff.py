"""What a lens leaves less light of towards its corners."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Falloff:
    """Light lost at a point of the frame: k2·r² + k4·r⁴ + k6·r⁶ stops.

    center_x, center_y: the optical centre, fractions of the frame as the sensor reads it (before any turn upright).
    r is 1 at half the frame's diagonal. sigma_stops: what remains unexplained. [stops]
    """

    center_x: float
    center_y: float
    k2: float
    k4: float
    k6: float
    sigma_stops: float

    def stops_at(self, x: float, y: float, aspect: float) -> float:
        """Stops lost at fractions x, y of a frame of this width / height."""
        dx, dy = (x - self.center_x) * aspect, y - self.center_y
        r2 = (dx * dx + dy * dy) * 4 / (aspect * aspect + 1)
        return r2 * (self.k2 + r2 * (self.k4 + r2 * self.k6))
