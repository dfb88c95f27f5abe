"""What a ray finds where it ends: position, normals, reflectance, gloss."""

from dataclasses import dataclass, fields

import numpy as np

from sample_scenes.scene import Place, face
from sample_scenes.shapes import dot, unit


@dataclass
class Skin:
    """Everything about the points of a bundle that shading needs; vectors are (3, N), numbers (N,)."""

    p: np.ndarray
    flat: np.ndarray  # normal of the shape
    n: np.ndarray  # normal with the relief of the material
    reflectance: np.ndarray
    glow: np.ndarray
    f0: np.ndarray
    shine: np.ndarray
    mirror: np.ndarray
    thin: np.ndarray

    def part(self, some) -> "Skin":
        """The same for some of the points."""
        return Skin(*(getattr(self, f.name)[..., some] for f in fields(self)))


def skin(place: Place, o, d, t, which, footprint, rng) -> Skin:
    """Surfaces where rays end (all of them hit something); footprint: width of a ray there [m]."""
    count = t.size
    p = o + t * d
    out = Skin(p, *(np.zeros_like(p) for _ in range(4)), *(np.zeros(count, np.float32) for _ in range(4)))
    for shape, mine, flat, u, v in place.surfaces(place.tree, which, p, d):
        dm = d[:, mine]
        flat = face(flat, dm).astype(np.float32)
        reflectance, slopes = paint(shape.material, p[:, mine], u, v, footprint[mine], flat, dm, rng)
        material = shape.material
        out.flat[:, mine] = flat
        out.n[:, mine] = tilt(flat, slopes) if slopes is not None else flat
        out.reflectance[:, mine] = reflectance
        if material.emits is not None:
            out.glow[:, mine] = np.asarray(material.emits, np.float32)[:, None] * (
                reflectance / np.maximum(material.reflectance[:, None], 1e-6)
            )
        out.f0[mine], out.shine[mine] = material.f0, material.shine
        out.mirror[mine], out.thin[mine] = material.mirror, material.thin
    return out


def paint(material, p, u, v, footprint, n, d, rng):
    """Reflectance (3, N) and slopes (N, 2) or None of a material at texture coordinates in metres."""
    count = u.size
    if material.picture is not None:
        high, wide = material.picture.shape[:2]
        x = np.clip((u / material.metres * wide).astype(int), 0, wide - 1)
        y = np.clip(((1 - v / (material.metres * high / wide)) * high).astype(int), 0, high - 1)
        return material.picture[y, x].T, None
    base = np.repeat(material.reflectance.astype(np.float32)[:, None], count, axis=1)
    slopes = None
    if material.pattern is not None:
        grazing = footprint / np.sqrt(np.maximum(-dot(d, n), 0.02))
        tile = np.float32(material.metres)
        found = material.pattern.sample(u / tile, v / tile, grazing / tile, rng.random(count, np.float32))
        slopes = found[:, 3:] * np.float32(material.bump)
        base = base * found[:, :3].T
        if material.water:
            more = material.pattern.sample(
                v / tile * 0.31, u / tile * 0.37, grazing / tile * 0.37, rng.random(count, np.float32)
            )
            slopes = slopes * 0.6 + more[:, 3:] * 0.8
    for layer in material.over:
        share = layer.share(p)
        some = np.flatnonzero(share > 0.02)
        if some.size:
            top, more = paint(
                layer.material, p[:, some], u[some], v[some], footprint[some], n[:, some], d[:, some], rng
            )
            base[:, some] += (top - base[:, some]) * share[some]
            if slopes is not None and more is not None:
                slopes[some] += (more - slopes[some]) * share[some][:, None]
    return base, slopes


def tilt(n, slopes):
    """Normals bent by the slopes of a relief along u and v."""
    level = np.abs(n[2]) > 0.968
    flat = np.maximum(np.hypot(n[0], n[1]), 1e-6)
    tx, ty = np.where(level, 1, -n[1] / flat), np.where(level, 0, n[0] / flat)
    bx, by, bz = -n[2] * ty, n[2] * tx, n[0] * ty - n[1] * tx
    su, sv = slopes.T
    return unit(np.stack([n[0] - su * tx - sv * bx, n[1] - su * ty - sv * by, n[2] - sv * bz])).astype(np.float32)


def shine(skin: Skin, d, to_light, slant, lux):
    """Light (3, N) of the highlight: normalised Blinn-Phong with Schlick's Fresnel term."""
    half = unit(to_light - d)
    toward = np.maximum(dot(half, skin.n), 0)
    fresnel = skin.f0 + (1 - skin.f0) * (1 - np.clip(dot(half, to_light), 0, 1)) ** 5
    lobe = (skin.shine + 8) / (8 * np.pi) * toward**skin.shine * fresnel
    return lux * np.where(skin.f0 > 0, lobe * (slant > 0), 0)
