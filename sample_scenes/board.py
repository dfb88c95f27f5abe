"""The test board that stands in every scene: an 18 % card, nine greys and twelve colours of our own, matte."""

import numpy as np

from sample_scenes.colour import linear
from sample_scenes.materials import Material, wood
from sample_scenes.scene import Camera, Spot
from sample_scenes.shapes import Quad, beam

CARD = 0.18
GREYS = tuple(round(0.90 * 2 ** (-0.6 * k), 4) for k in range(9))  # 0.90 to 0.032, three fifths of a stop apart
COLOURS = (  # sRGB of the reflectance: things of the harbour
    (168, 62, 48), (214, 128, 52), (222, 188, 82), (112, 134, 68), (56, 108, 84), (64, 132, 148),
    (52, 88, 142), (92, 76, 130), (156, 88, 116), (206, 166, 138), (126, 90, 64), (236, 228, 208),
)  # fmt: skip
PAPER = 0.55
WIDTH, HEIGHT = 0.60, 0.80  # of the printed sheet [m]


def sheet(pixels: int = 600) -> np.ndarray:
    """The printed sheet (rows from the top, columns, 3): reflectance. Card above, greys below it, then colours."""
    wide, high = pixels, pixels * 4 // 3
    out = np.full((high, wide, 3), PAPER, np.float32)
    m = pixels // 20
    out[m : high // 2, m : wide - m] = CARD
    top, tall = high // 2 + m, high // 7
    for k, grey in enumerate(GREYS):
        step = (wide - 2 * m) / 9
        out[top : top + tall, int(m + k * step) : int(m + (k + 1) * step)] = grey
    top += tall + m
    tall = (high - m - top) / 2
    step = (wide - 2 * m) / 6
    for k, colour in enumerate(COLOURS):
        row, column = divmod(k, 6)
        y, x = int(top + row * tall), int(m + column * step)
        out[y : int(y + tall) - 3, x : int(x + step) - 3] = linear(*colour)
    return out


def board(foot, facing: float, lean: float = 8.0, scale: float = 1.0, lift: float = 0.35) -> list:
    """Shapes of a board on two legs: foot (3,) is the middle of its stand, facing an azimuth [degrees from +y to +x].

    lean: degrees by which it leans back; lift: height of the sheet's lower edge above the foot [m].
    """
    a, b = np.radians(facing), np.radians(lean)
    out = np.array([np.sin(a), np.cos(a), 0])
    right = np.array([np.cos(a), -np.sin(a), 0]) * -1  # as seen by who looks at the face
    up = np.array([0, 0, np.cos(b)]) - out * np.sin(b)
    wide, high = WIDTH * scale, HEIGHT * scale
    face_out = np.cross(right, up)
    foot = np.asarray(foot, float)
    corner = foot + up * lift - right * wide / 2
    paper = Material(np.full(3, 0.3, np.float32), picture=sheet(), metres=wide)
    shapes = [Quad(corner, right * wide, up * high, paper, own_texture=True)]
    timber = wood()
    for side in (-0.42, 0.42):
        base = foot + right * side * wide - face_out * 0.03
        top = base + up * (lift + high + 0.06)
        shapes.append(beam(base, top, 0.05, 0.035, timber, up=face_out))
        shapes.append(beam(top, base - out * 0.55 * (lift + high), 0.04, 0.03, timber, up=face_out))
    middle = corner + right * wide / 2 + up * high / 2 - face_out * 0.014
    shapes.append(
        beam(middle - up * (high / 2 + 0.03), middle + up * (high / 2 + 0.03), wide + 0.06, 0.02, timber, face_out)
    )
    return shapes


def card_spot(camera: Camera, foot, facing: float, lean: float = 8.0, scale: float = 1.0, lift: float = 0.35) -> Spot:
    """The spot in the middle of the 18 % card of the board with these settings, 1.2 degrees across."""
    a, b = np.radians(facing), np.radians(lean)
    up = np.array([0, 0, np.cos(b)]) - np.array([np.sin(a), np.cos(a), 0]) * np.sin(b)
    return Spot("card", *camera.project(np.asarray(foot, float) + up * (lift + HEIGHT * scale * 0.73)), 1.2)
