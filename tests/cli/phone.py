"""Photos by a simulated phone of places whose light is known, as files."""

from pathlib import Path

import cv2
import numpy as np

from meter.pixels.decode import open_photo
from sample_scenes.camera import Card, bracket, photograph
from sample_scenes.truth import Truth, load_truth
from tests.photos import TAGS, write_jpeg

SIZE = (480, 360)


def series(folder: Path, place: str, card: Card, biases=(-2, -1, 0, 1, 2), seed: int = 0) -> Path:
    """A folder with one photo of the place a bias, named by its number."""
    folder.mkdir(parents=True)
    for number, shot in enumerate(bracket(load_truth(place).rgb, card, biases, seed=seed)):
        (folder / f"{number}.jpg").write_bytes(shot.jpeg)
    return folder


def photo(file: Path, place: str, card: Card, bias: float = 0.0, seed: int = 50) -> Path:
    file.write_bytes(photograph(load_truth(place).rgb, card, bias=bias, seed=seed).jpeg)
    return file


def flat(file: Path, card: Card, falloff: float, slope: float = 0.0, turned: bool = False) -> Path:
    """A white surface, falloff stops darker in the corners [stops], its light sloping from left to right [stops]."""
    width, height = SIZE
    x, y = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
    r2 = (x**2 * width**2 + y**2 * height**2) / (width**2 + height**2)
    light = 100 * 2.0 ** (falloff * r2 + (-slope if turned else slope) * x / 2)
    file.write_bytes(photograph(np.repeat(light[..., None], 3, axis=2), card, bias=1.0, seed=int(turned)).jpeg)
    return file


def retagged(file: Path, source: Path, **tags) -> Path:
    """The same picture with other EXIF values."""
    opened = open_photo(source)
    kept = {name: opened.tags[name] for name in TAGS if name in opened.tags}
    kept |= {name: int(kept[name]) for name in ("PhotographicSensitivity", "FocalLengthIn35mmFilm", "Orientation")}
    return write_jpeg(file, cv2.cvtColor(opened.pixels, cv2.COLOR_BGR2RGB), kept | tags)


def card_of(place: str) -> tuple[float, float, float]:
    """Where the grey card of a place is, and its true luminance. [cd/m²]"""
    spot = place_of(place).find("card")
    return spot.x, spot.y, spot.luminance


def place_of(place: str) -> Truth:
    return load_truth(place)
