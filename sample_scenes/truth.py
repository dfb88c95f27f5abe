"""The true light of each shipped scene, kept in a small file, and the spots at which it is known."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from sample_scenes.colour import LUMINANCE
from sample_scenes.scene import DIAGONAL_FULL_FRAME

SHIPPED = Path(__file__).parent / "shipped"
SIZE = (480, 360)  # width, height of the stored truth
FORMAT = 1
_STEPS = 2048  # codes a stop
_LOWEST = -16  # log2 of the light that code 0 stands for


@dataclass(frozen=True)
class TrueSpot:
    """A disc of the upright picture: x, y fractions from top left, degrees across, true mean luminance [cd/m2]."""

    name: str
    x: float
    y: float
    degrees: float
    luminance: float


@dataclass(frozen=True)
class Truth:
    """The light of a scene: rgb (H, W, 3) float32, linear sRGB, scaled so that its luminance is in cd/m2."""

    name: str
    rgb: np.ndarray
    title: str
    light: str
    focal_35mm: float
    spots: tuple[TrueSpot, ...]

    @property
    def luminance(self) -> np.ndarray:
        """Luminance (H, W). [cd/m2]"""
        return self.rgb @ LUMINANCE

    def find(self, name: str) -> TrueSpot:
        """The spot of that name; KeyError names those there are."""
        for spot in self.spots:
            if spot.name == name:
                return spot
        raise KeyError(f"{self.name} has no spot {name!r}; it has {', '.join(s.name for s in self.spots)}")


def disc(shape: tuple[int, int], x: float, y: float, degrees: float, focal_35mm: float) -> np.ndarray:
    """Which pixels (H, W) lie in a disc of that angular diameter in a picture of that field of view."""
    high, wide = shape
    across = wide / np.hypot(wide, high) * DIAGONAL_FULL_FRAME / 2 / focal_35mm
    a = (2 * (np.arange(wide) + 0.5) / wide - 1) * across
    b = (1 - 2 * (np.arange(high) + 0.5) / high) * across * high / wide
    ca, cb = (2 * x - 1) * across, (1 - 2 * y) * across * high / wide
    a, b = np.meshgrid(a, b)
    cosine = (a * ca + b * cb + 1) / np.sqrt((a * a + b * b + 1) * (ca * ca + cb * cb + 1))
    inside = cosine >= np.cos(np.radians(degrees / 2))
    inside[min(int(y * high), high - 1), min(int(x * wide), wide - 1)] = True  # at least the pixel in its middle
    return inside


def measure(rgb: np.ndarray, spots, focal_35mm: float) -> tuple[TrueSpot, ...]:
    """The spots with the mean luminance of their discs in a picture (H, W, 3)."""
    light = rgb @ LUMINANCE
    found = []
    for s in spots:
        mean = float(light[disc(light.shape, s.x, s.y, s.degrees, focal_35mm)].mean())
        found.append(TrueSpot(s.name, round(s.x, 4), round(s.y, 4), s.degrees, mean))
    return tuple(found)


def save_truth(truth: Truth, folder: Path) -> None:
    """Write NAME.truth.png (16-bit log light, 480 x 360) and NAME.toml into a folder."""
    rgb = truth.rgb
    if rgb.shape[:2] != SIZE[::-1]:
        rgb = cv2.resize(rgb, SIZE, interpolation=cv2.INTER_AREA)
    code = np.clip(np.round((np.log2(np.maximum(rgb, 2.0**_LOWEST)) - _LOWEST) * _STEPS), 0, 65535)
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    ok, data = cv2.imencode(".png", code.astype(np.uint16)[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 9])
    if not ok:
        raise OSError(f"{truth.name}.truth.png could not be encoded")
    (folder / f"{truth.name}.truth.png").write_bytes(data.tobytes())
    lines = [
        f"format = {FORMAT}",
        f'title = "{truth.title}"',
        f'light = "{truth.light}"',
        f"focal_35mm = {truth.focal_35mm}",
        'made_by = "The founders of Stopgap, with the renderer of this folder"',
        'evidence = "computed"',
    ]
    for s in truth.spots:
        lines += ["", "[[spot]]", f'name = "{s.name}"', f"x = {s.x}", f"y = {s.y}", f"degrees = {s.degrees}"]
        lines.append(f"luminance_cd_m2 = {s.luminance:.6g}")
    (folder / f"{truth.name}.toml").write_text("\n".join(lines) + "\n", "utf-8")


def load_truth(name: str, folder: Path = SHIPPED) -> Truth:
    """The truth of a scene from a folder; FileNotFoundError says which scenes are there."""
    picture, card = Path(folder) / f"{name}.truth.png", Path(folder) / f"{name}.toml"
    if not picture.exists() or not card.exists():
        raise FileNotFoundError(f"no scene {name!r} in {folder}; there are {', '.join(names(folder)) or 'none'}")
    code = cv2.imdecode(np.frombuffer(picture.read_bytes(), np.uint8), cv2.IMREAD_UNCHANGED)[..., ::-1]
    rgb = np.exp2(code.astype(np.float32) / _STEPS + _LOWEST)
    facts = tomllib.loads(card.read_text("utf-8"))
    spots = tuple(TrueSpot(s["name"], s["x"], s["y"], s["degrees"], s["luminance_cd_m2"]) for s in facts["spot"])
    return Truth(name, np.ascontiguousarray(rgb), facts["title"], facts["light"], facts["focal_35mm"], spots)


def names(folder: Path = SHIPPED) -> tuple[str, ...]:
    """The scenes in a folder, in order of their names."""
    return tuple(sorted(p.name.removesuffix(".truth.png") for p in Path(folder).glob("*.truth.png")))
