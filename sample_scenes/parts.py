"""Things of which the town is built: houses, windows, boats, posts, lamps, birds. Each function returns shapes."""

from itertools import pairwise

import numpy as np

from sample_scenes import materials as m
from sample_scenes.materials import Material
from sample_scenes.scene import Lamp
from sample_scenes.shapes import Ball, Carved, Post, Quad, beam, box, roof, vector

FACES = {"+x": (1, 0), "-x": (-1, 0), "+y": (0, 1), "-y": (0, -1)}


def frame_cut(width: float, height: float, bars: tuple[int, int], rim: float = 0.07, bar: float = 0.03):
    """A mask for window frames: a rim and so many panes across and up."""

    def cut(u, v):
        inside = (u > rim) & (u < width - rim) & (v > rim) & (v < height - rim)
        pu = (u - rim) / (width - 2 * rim) * bars[0]
        pv = (v - rim) / (height - 2 * rim) * bars[1]
        du = np.abs(pu - np.round(pu)) * (width - 2 * rim) / bars[0]
        dv = np.abs(pv - np.round(pv)) * (height - 2 * rim) / bars[1]
        return ~inside | (du < bar / 2) | (dv < bar / 2)

    return cut


def window(middle, face: str, width=0.9, height=1.3, bars=(2, 3), trim=None, shutters=None, lit=None) -> list:
    """A window on a wall that faces +x, -x, +y or -y; middle (3,) on the wall. lit: luminance (3,) behind it."""
    ox, oy = FACES[face]
    out, right, up = np.array([ox, oy, 0.0]), np.array([-oy, ox, 0.0]), np.array([0, 0, 1.0])
    middle = np.asarray(middle, float)
    corner = middle - right * width / 2 - up * height / 2
    trim = trim or m.paint(228, 224, 212)
    pane = m.glass() if lit is None else m.lit_window(lit)
    shapes = [
        Quad(corner + out * 0.012, right * width, up * height, pane, own_texture=True),
        Quad(corner + out * 0.03, right * width, up * height, trim, cut=frame_cut(width, height, bars)),
    ]
    rim = 0.09
    for along, at, length in ((right, -height / 2 - rim / 2, width), (right, height / 2 + rim / 2, width)):
        c = middle + up * at
        reach = 0.10 if at < 0 else 0.06
        shapes.append(
            box_about(
                c + out * reach / 2, along, length / 2 + rim, out, reach / 2, rim / 2, m.ashlar() if at < 0 else trim
            )
        )
    for side in (-1, 1):
        c = middle + right * side * (width / 2 + rim / 2)
        shapes.append(box_about(c + out * 0.03, right, rim / 2, out, 0.03, height / 2, trim))
        if shutters:
            c = middle + right * side * (width / 2 + rim + width / 4 + 0.02)
            shapes.append(box_about(c + out * 0.03, right, width / 4, out, 0.025, height / 2, shutters))
    return shapes


def box_about(middle, right, half_right, out, half_out, half_up, material):
    """A box on a wall: middle (3,), half sizes along the wall, out of it, and up."""
    half = np.abs(right) * half_right + np.abs(out) * half_out + np.array([0, 0, half_up])
    return box(middle - half, middle + half, material)


def door(foot, face: str, width=1.0, height=2.1, material=None) -> list:
    """A panelled door with a stone frame and a step; foot (3,) is the middle of its sill."""
    ox, oy = FACES[face]
    out, right = np.array([ox, oy, 0.0]), np.array([-oy, ox, 0.0])
    foot = np.asarray(foot, float)
    up = np.array([0, 0, 1.0])
    material = material or m.paint(60, 92, 104)
    middle = foot + up * height / 2
    shapes = [box_about(middle + out * 0.01, right, width / 2, out, 0.02, height / 2, material)]
    for side in (-1, 1):
        jamb = middle + right * side * (width / 2 + 0.08) + out * 0.03
        shapes.append(box_about(jamb, right, 0.08, out, 0.06, height / 2, m.ashlar()))
        for k in (0.28, 0.72):
            panel = foot + right * side * width / 4 + up * height * k + out * 0.035
            shapes.append(box_about(panel, right, width * 0.17, out, 0.012, height * 0.17, material))
    lintel, step = foot + up * (height + 0.1) + out * 0.04, foot + up * 0.07 + out * 0.25
    shapes.append(box_about(lintel, right, width / 2 + 0.2, out, 0.08, 0.1, m.ashlar()))
    shapes.append(box_about(step, right, width / 2 + 0.25, out, 0.3, 0.07, m.ashlar()))
    return shapes


def house(low, high, eaves: float, rise: float, wall: Material, cover: Material, ridge="x", base=None, chimney=True):
    """Walls and a gable roof with eaves over a rectangle (x, y) to (x, y); `eaves` and `rise` are heights [m]."""
    (x0, y0), (x1, y1) = low[:2], high[:2]
    z0 = 0.0 if len(low) == 2 else low[2]
    shapes = [box((x0, y0, z0), (x1, y1, eaves), wall)]
    over = 0.3
    across = (y1 - y0) if ridge == "x" else (x1 - x0)
    drop = rise / (across / 2) * over
    shapes.append(roof((x0, y0, eaves), (x1, y1), rise, wall, ridge))
    if ridge == "x":
        outer = ((x0 - 0.12, y0 - over, eaves - drop + 0.14), (x1 + 0.12, y1 + over))
    else:
        outer = ((x0 - over, y0 - 0.12, eaves - drop + 0.14), (x1 + over, y1 + 0.12))
    shapes.append(roof(outer[0], outer[1], rise + drop, cover, ridge))
    if base is not None:
        shapes.append(box((x0 - 0.05, y0 - 0.05, z0), (x1 + 0.05, y1 + 0.05, z0 + 0.7), base))
    if chimney:
        cx, cy = (x0 + 0.7, (y0 + y1) / 2) if ridge == "x" else ((x0 + x1) / 2, y0 + 0.7)
        top = eaves + rise
        shapes.append(box((cx - 0.35, cy - 0.35, top - 0.8), (cx + 0.35, cy + 0.35, top + 0.9), m.rubble()))
        for k in (-0.15, 0.15):
            shapes.append(Post((cx + k, cy, top + 0.9), (cx + k, cy, top + 1.25), 0.11, 0.09, m.tiles()))
    return shapes


def hull_form(length: float, beam_m: float, depth: float, thick: float = 0.05, sheer: float = 0.25):
    """Signed distance (a bound) of an open boat that lies along +y, its keel's lowest point at the origin."""

    def form(p):
        s = np.clip(p[1] / length, -0.5, 0.5) * 2  # -1 stern, 1 bow
        plan = np.where(s > 0, 1 - np.abs(s) ** 2.4, 1 - 0.35 * np.abs(s) ** 3)
        top = depth * (1 + sheer * s * s * np.where(s > 0, 1.6, 0.7))
        rocker = depth * 0.22 * np.abs(s) ** 3
        up = np.clip((p[2] - rocker) / (top - rocker), 0, 1.2)
        half = beam_m / 2 * plan * np.sqrt(np.clip(up, 1e-4, 1)) ** 0.9
        strake = 0.012 * np.abs(((up * 7) % 1) - 0.5)
        side = np.abs(p[0]) - half - strake
        shell = np.abs(side + thick / 2) - thick / 2
        ends = np.maximum(np.maximum(p[2] - top, rocker - p[2]), np.abs(p[1]) - length / 2)
        wall = np.maximum(shell, ends)
        floor = np.maximum(np.maximum(side, ends), p[2] - (rocker + depth * 0.22))
        return np.minimum(wall, floor)

    return form


def placed(form, at, yaw: float = 0.0, roll: float = 0.0):
    """A form moved to a point (3,), turned about the vertical and rolled about its length. [degrees]"""
    at = np.asarray(at, np.float32)
    a, b = np.radians(yaw), np.radians(roll)
    ca, sa, cb, sb = (np.float32(w) for w in (np.cos(a), np.sin(a), np.cos(b), np.sin(b)))

    def moved(p):
        x, y, z = p[0] - at[0], p[1] - at[1], p[2] - at[2]
        x, y = ca * x + sa * y, ca * y - sa * x
        x, z = cb * x + sb * z, cb * z - sb * x
        return form(np.stack([x, y, z]))

    return moved


def boat(at, yaw=0.0, roll=0.0, length=4.2, beam_m=1.6, depth=0.7, colour=None, inside=None) -> list:
    """An open clinker boat with three thwarts; at (3,) is the lowest point of its keel."""
    colour = colour or m.paint(214, 218, 216)
    inside = inside or m.wood()
    at = np.asarray(at, float)
    reach = np.array([length / 2 + 0.3, length / 2 + 0.3, depth * 1.6 + 0.2])
    form = placed(hull_form(length, beam_m, depth), at, yaw, roll)
    shapes = [Carved(at - [reach[0], reach[1], 0.3], at + reach, form, colour, steps=60, care=0.7)]
    a, b = np.radians(yaw), np.radians(roll)

    def world(x, y, z):
        x, z = np.cos(b) * x - np.sin(b) * z, np.sin(b) * x + np.cos(b) * z
        return at + vector(np.cos(a) * x - np.sin(a) * y, np.sin(a) * x + np.cos(a) * y, z)

    for s in (-0.28, 0.0, 0.27):
        half = beam_m / 2 * (1 - abs(2 * s) ** 2.4) * 0.86
        z = depth * 0.72
        shapes.append(beam(world(-half, s * length, z), world(half, s * length, z), 0.22, 0.035, inside))
    return shapes


def mast(foot, height: float, radius: float = 0.07, boom: float = 0.0, yaw: float = 0.0, furled=None) -> list:
    """A mast with two stays and, if wanted, a boom with a furled sail."""
    foot = np.asarray(foot, float)
    top = foot + vector(0, 0, height)
    a = np.radians(yaw)
    ahead = np.array([-np.sin(a), np.cos(a), 0])
    side = np.array([np.cos(a), np.sin(a), 0])
    timber = m.wood()
    shapes = [Post(foot, top, radius, radius * 0.5, timber)]
    for end in (ahead * 2.3 + vector(0, 0, 0.2), side * 0.8, side * -0.8, ahead * -2.2):
        shapes.append(Post(top - vector(0, 0, 0.2), foot + end, 0.008, 0.008, m.rope()))
    if boom:
        a0, a1 = foot + vector(0, 0, 0.9), foot + vector(0, 0, 1.0) - ahead * boom
        shapes.append(Post(a0, a1, 0.04, 0.035, timber))
        shapes.append(
            Post(a0 + vector(0, 0, 0.11), a1 + vector(0, 0, 0.09), 0.12, 0.07, furled or m.cloth(206, 196, 172))
        )
    return shapes


def sag(start, end, drop: float, radius: float = 0.02, material=None, parts: int = 8) -> list:
    """A rope that hangs between two points, lowest in its middle by `drop`."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    s = np.linspace(0, 1, parts + 1)[:, None]
    points = start + (end - start) * s - np.array([0, 0, 4 * drop]) * s * (1 - s)
    return [Post(a, b, radius, radius, material or m.rope()) for a, b in pairwise(points)]


def bollard(at, scale: float = 1.0) -> list:
    """A cast mooring post with a mushroom head."""
    x, y, z = at
    return [
        Post((x, y, z), (x, y, z + 0.08 * scale), 0.24 * scale, 0.22 * scale, m.iron()),
        Post((x, y, z), (x, y, z + 0.48 * scale), 0.15 * scale, 0.13 * scale, m.iron()),
        Ball((x, y, z + 0.5 * scale), (0.22 * scale, 0.22 * scale, 0.1 * scale), m.iron()),
    ]


def barrel(at, height=0.9, radius=0.3) -> list:
    """A cask: two frustums and three hoops."""
    x, y, z = at
    middle = z + height / 2
    shapes = [Post((x, y, z), (x, y, middle), radius * 0.84, radius, m.wood()),
              Post((x, y, z + height), (x, y, middle), radius * 0.84, radius, m.wood())]  # fmt: skip
    for k, r in ((0.12, 0.885), (0.5, 1.0), (0.88, 0.885)):
        shapes.append(Post((x, y, z + height * k - 0.02), (x, y, z + height * k + 0.02), radius * r + 0.008,
                           radius * r + 0.008, m.iron()))  # fmt: skip
    return shapes


def crate(at, size=(0.6, 0.5, 0.45), yaw=0.0) -> list:
    """A slatted box for fish or tools; at (3,) is the middle of its floor."""
    at, half = np.asarray(at, float), np.array([size[0] / 2, size[1] / 2, 0])
    shapes = []
    for k in range(3):
        z = k * size[2] / 3
        low = at - half + vector(0, 0, z + 0.015)
        shapes.append(box(low, at + half + [0, 0, z + size[2] / 3], m.wood(), yaw, at))
    return shapes


def lantern(foot, height=3.4, lumens=900.0, kelvin=2500, globe=0.14) -> tuple[list, Lamp]:
    """A lamp post with an opal globe under a cap, and its light."""
    x, y, z = foot
    lamp = Lamp((x, y, z + height), lumens, kelvin, globe)
    bright = lamp.candela / np.float32(np.pi * globe**2)
    shapes = [
        Post((x, y, z), (x, y, z + 0.5), 0.10, 0.07, m.iron()),
        Post((x, y, z + 0.5), (x, y, z + height - globe), 0.05, 0.035, m.iron()),
        Ball((x, y, z + height), globe, m.glow(bright)),
        Post((x, y, z + height + globe * 0.9), (x, y, z + height + globe + 0.16), 0.24, 0.03, m.iron()),
    ]
    return shapes, lamp


def gull_form(p, span: float = 1.1):
    """A gull seen from afar: a body and two bent wings, flying towards +y."""
    body = np.sqrt(p[0] ** 2 + (p[1] * 0.35) ** 2 + p[2] ** 2) - 0.07
    s = np.abs(p[0])
    lift = 0.5 * s - 0.55 * np.maximum(s - span * 0.22, 0) * 1.1
    chord = 0.11 * (1 - s / (span * 0.52))
    wing = np.maximum(np.abs(p[2] - lift) - 0.018, np.abs(p[1] + s * 0.25) - np.maximum(chord, 0.0))
    return np.minimum(body, np.maximum(wing, s - span / 2))


def gull(at, yaw=0.0, roll=0.0) -> list:
    """One gull in flight."""
    at = np.asarray(at, float)
    return [Carved(at - 0.7, at + 0.7, placed(gull_form, at, yaw, roll), m.paint(232, 232, 230), steps=40, care=0.6)]


def coil(at, radius: float, thick: float = 0.026, pieces: int = 18) -> list:
    """One turn of a rope lying on the ground."""
    turn = np.linspace(0, 2 * np.pi, pieces + 1)
    points = np.asarray(at, float) + np.stack([np.cos(turn) * radius, np.sin(turn) * radius, 0 * turn], axis=1)
    return [Post(a, b, thick, thick, m.rope()) for a, b in pairwise(points)]
