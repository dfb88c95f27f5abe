"""A place: its shapes, lights and camera, and what a bundle of rays meets in it."""

from dataclasses import dataclass, field

import numpy as np

from sample_scenes.colour import light_colour
from sample_scenes.shapes import dot
from sample_scenes.sky import Sky
from sample_scenes.tree import Tree

DIAGONAL_FULL_FRAME = 43.2666  # of 36 x 24 mm


@dataclass(frozen=True)
class Sun:
    """direction: unit vector (3,) towards it; lux: (3,) linear sRGB illuminance on a surface that faces it."""

    direction: np.ndarray
    lux: np.ndarray


@dataclass(frozen=True)
class Lamp:
    """A lamp that shines evenly to all sides below its cap: lumens, colour, radius of the glowing part [m].

    The cap keeps the light of directions steeper upwards than 30 degrees; the intensity is lumens / (3 pi) below it.
    """

    position: tuple[float, float, float]
    lumens: float
    kelvin: float = 2700
    radius: float = 0.12

    @property
    def candela(self) -> np.ndarray:
        """Luminous intensity (3,) linear sRGB: the lit part of the sphere is 3 pi steradians."""
        return light_colour(self.kelvin) * np.float32(self.lumens / (3 * np.pi))


@dataclass(frozen=True)
class Opening:
    """A rectangle through which the day comes in: corner, edges u and v (3,), inward normal by u x v."""

    corner: np.ndarray
    u: np.ndarray
    v: np.ndarray


@dataclass(frozen=True)
class Camera:
    """Where the picture is taken from and what it looks at; 26 mm by the diagonal of a 4:3 frame unless said."""

    position: tuple[float, float, float]
    target: tuple[float, float, float]
    focal_35mm: float = 26.0

    def axes(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Unit vectors: ahead, right, up."""
        ahead = np.subtract(self.target, self.position).astype(np.float64)
        ahead /= np.linalg.norm(ahead)
        right = np.cross(ahead, (0, 0, 1.0))
        right /= np.linalg.norm(right)
        return ahead, right, np.cross(right, ahead)

    def half_width(self) -> float:
        """Tangent of half the horizontal field of view."""
        return 0.8 * DIAGONAL_FULL_FRAME / 2 / self.focal_35mm

    def project(self, point) -> tuple[float, float]:
        """Where a point (3,) appears: x, y fractions of the picture."""
        ahead, right, up = self.axes()
        way = np.subtract(point, self.position)
        across = self.half_width() * (way @ ahead)
        return float((way @ right / across + 1) / 2), float((1 - way @ up / across / 0.75) / 2)

    def rays(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Unit directions (3, N) through points of the picture: x, y fractions, (0, 0) top left."""
        ahead, right, up = self.axes()
        across = self.half_width()
        a, b = (2 * x - 1) * across, (1 - 2 * y) * across * 0.75
        d = ahead[:, None] + right[:, None] * a + up[:, None] * b
        return (d / np.sqrt((d * d).sum(axis=0))).astype(np.float32)


@dataclass(frozen=True)
class Spot:
    """Where a reading is taken: a disc of the picture. x, y fractions, degrees across."""

    name: str
    x: float
    y: float
    degrees: float = 1.0


@dataclass
class Place:
    """One scene. air: extinction by haze [1/m]; floor: reflectance of the land beyond all shapes, (3,).

    volume: low and high corner of the space in which bounced light is kept, and how many probes along x, y, z.
    rays: along each side of a pixel, as many as a core can follow in some three minutes at full size.
    """

    name: str
    title: str
    light: str
    shapes: list
    camera: Camera
    sky: Sky
    sun: Sun | None = None
    lamps: list[Lamp] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    air: float = 0.0
    floor: np.ndarray = field(default_factory=lambda: np.array([0.15, 0.15, 0.13], np.float32))
    volume: tuple = ((-20, -5, 0.3), (20, 60, 12), (9, 14, 5))
    spots: tuple[Spot, ...] = ()
    rays: int = 3

    def __post_init__(self):
        self.tree = Tree(self.shapes)
        self.rough = Tree([getattr(s, "rough", None) or s for s in self.shapes if not is_slight(s)])
        sun = 0 if self.sun is None else self.sun.lux * max(float(self.sun.direction[2]), 0)
        self.floor_light = (self.floor / np.pi * (sun + self.sky.lux * light_colour(self.sky.zenith_kelvin))).astype(
            np.float32
        )

    def surfaces(self, tree: Tree, which, p, d):
        """Yield (shape, indices, normals, u, v) for the points p on each shape of a tree that was hit."""
        order = np.argsort(which, kind="stable")
        cuts = np.flatnonzero(np.diff(which[order])) + 1
        for mine in np.split(order, cuts):
            if mine.size and which[mine[0]] >= 0:
                shape = tree.shapes[which[mine[0]]]
                yield shape, mine, *shape.surface(p[:, mine], d[:, mine])

    def indoors(self, p) -> np.ndarray:
        """Which points (3, N) lie in the room that the openings light."""
        low, high = (np.asarray(c, np.float32)[:, None] for c in self.volume[:2])
        return np.all((p > low - 0.25) & (p < high + 0.25), axis=0) & bool(self.openings)

    def open_light(self, d, seen: bool = False) -> np.ndarray:
        """Light (3, N) from where no shape is: sky, or land fading into the horizon."""
        sky = self.sky.seen(d) if seen else self.sky.rgb(d)
        below = np.clip(-d[2] * 12, 0, 1)
        return sky * (1 - below) + self.floor_light[:, None] * below


def is_slight(shape) -> bool:
    """Whether a shape is too thin to matter for bounced light: ropes, stays, window bars."""
    return bool(np.sort(shape.high - shape.low)[1] < 0.10) or getattr(shape, "cut", None) is not None


def face(n, d):
    """Normals turned towards the viewer."""
    return np.where(dot(n, d) > 0, -n, n)
