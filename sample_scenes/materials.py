"""What surfaces are made of: pictures of reflectance and relief baked once, sampled by the renderer.

Reflectances are linear and stated; they are diffuse, for light of any direction.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from sample_scenes.colour import linear
from sample_scenes.textures import Pyramid, cells, courses, lookup, noise, smooth

SIZE = 1024


@dataclass(frozen=True)
class Material:
    """A surface. reflectance (3,) is the mean diffuse reflectance, linear sRGB.

    pattern: variation around the mean and slopes, over a tile `metres` wide; bump: factor on the slopes;
    f0: mirror reflectance at normal incidence, 0 for matte; shine: exponent of the highlight; mirror: share of the
    mirror reflection that is traced; emits: luminance [cd/m2] as (3,), lamp: it belongs to a lamp that lights
    the scene by its lumens; thin: light let through, as a share of what is reflected; water: two patterns of ripples;
    picture: reflectances (rows from the top, columns, 3) in place of a pattern; over: layers on top.
    """

    reflectance: np.ndarray
    pattern: Pyramid | None = None
    metres: float = 1.0
    bump: float = 1.0
    f0: float = 0.0
    shine: float = 30.0
    mirror: float = 0.0
    emits: np.ndarray | None = None
    lamp: bool = False
    thin: float = 0.0
    water: bool = False
    picture: np.ndarray | None = None
    over: tuple = field(default=())

    def coloured(self, *code: float, **changes) -> "Material":
        """The same pattern with the mean reflectance of an sRGB colour."""
        return replace(self, reflectance=linear(*code), **changes)


@dataclass(frozen=True)
class Layer:
    """Another material on top: share is a function of points (3, N) -> 0 to 1, how much of it covers."""

    material: Material
    share: Callable


def bake(colour: np.ndarray, height_m: np.ndarray, metres: float) -> Pyramid:
    """A pyramid of five channels: colour relative to its mean (3) and slopes along u and v (2)."""
    if colour.ndim == 2:
        colour = np.repeat(colour[..., None], 3, axis=2)
    colour = colour / colour.mean(axis=(0, 1))
    step = 2 * metres / height_m.shape[0]
    su = (np.roll(height_m, -1, 1) - np.roll(height_m, 1, 1)) / step
    sv = (np.roll(height_m, -1, 0) - np.roll(height_m, 1, 0)) / step
    return Pyramid(np.dstack([colour, np.clip(su, -3, 3), np.clip(sv, -3, 3)]).astype(np.float32))


def tinted(amount: np.ndarray, dark, light) -> np.ndarray:
    """Colours (size, size, 3) between two sRGB colours, by an amount from 0 to 1."""
    a = np.clip(amount, 0, 1)[..., None]
    return linear(*dark) * (1 - a) + linear(*light) * a


@cache
def ashlar() -> Material:
    """Dressed stone in courses, reflectance 0.28: the town's quay and bridge. Tile 3.2 m, 8 courses."""
    edge, tint, _ = courses(SIZE, 8, (4, 6), 11)
    rough, fine, stain = noise(SIZE, 12, 1.2, 6), noise(SIZE, 13, 0.6, 40), noise(SIZE, 14, 1.6, 1, 20)
    joint = smooth(0.0, 0.006, edge + rough * 0.0007)
    amount = 0.5 + 0.30 * (tint - 0.5) * 2 + 0.10 * rough + 0.07 * fine + 0.12 * stain
    colour = tinted(amount, (96, 90, 82), (186, 176, 158)) * (0.45 + 0.55 * joint[..., None])
    height = 0.018 * smooth(0, 0.012, edge) + 0.0022 * rough + 0.0009 * fine
    return Material(linear(146, 139, 126), bake(colour, height, 3.2), 3.2, f0=0.02, shine=12)


@cache
def rubble() -> Material:
    """A drystone wall, reflectance 0.16. Tile 2.4 m."""
    first, second, tint = cells(SIZE, 9, 15, 21, 0.95)
    rough, moss = noise(SIZE, 22, 1.1, 8), noise(SIZE, 23, 1.5, 2, 30)
    gap = smooth(0.02, 0.20, second - first)
    colour = tinted(0.5 + 0.5 * (tint - 0.5) + 0.14 * rough, (88, 86, 82), (160, 156, 146))
    mossy = smooth(0.8, 2.0, moss)[..., None]
    colour = (colour * (1 - mossy) + linear(150, 152, 112) * mossy) * (0.10 + 0.90 * gap[..., None])
    height = 0.07 * gap + 0.006 * rough
    return Material(linear(118, 114, 104), bake(colour, height, 2.4), 2.4)


@cache
def cobbles() -> Material:
    """Worn setts, reflectance 0.17, slightly polished. Tile 1.8 m."""
    first, second, tint = cells(SIZE, 14, 12, 31, 0.55)
    rough, dirt = noise(SIZE, 32, 1.0, 12), noise(SIZE, 33, 1.5, 2, 24)
    gap = smooth(0.03, 0.22, second - first)
    colour = tinted(0.5 + 0.6 * (tint - 0.5) + 0.12 * rough + 0.12 * dirt, (82, 80, 78), (150, 143, 132))
    height = 0.020 * np.sqrt(np.clip(second - first, 0, 0.6)) + 0.0010 * rough
    return Material(
        linear(116, 112, 105), bake(colour * (0.3 + 0.7 * gap[..., None]), height, 1.8), 1.8, f0=0.04, shine=50
    )


@cache
def planks() -> Material:
    """Weathered boards 0.16 m wide, along v; reflectance 0.22. Tile 2.56 m, 16 boards."""
    x = np.broadcast_to(((np.arange(SIZE) + 0.5) / SIZE * 16)[None, :], (SIZE, SIZE))
    board, part = x.astype(int), x % 1
    tint = np.random.default_rng(41).random(16)[board]
    grain = noise(SIZE, 42, 0.9, 14, stretch=(14, 1))
    fine = noise(SIZE, 43, 0.7, 30, stretch=(20, 1))
    shift = np.random.default_rng(44).integers(0, SIZE, 16)[board]
    rows = (np.arange(SIZE)[:, None] + shift) % SIZE
    grain, fine = np.take_along_axis(grain, rows, 0), np.take_along_axis(fine, rows, 0)
    stain = noise(SIZE, 45, 1.6, 1, 16)
    gap = smooth(0.0, 0.05, np.minimum(part, 1 - part))
    colour = tinted(
        0.5 + 0.55 * (tint - 0.5) + 0.08 * grain + 0.10 * fine + 0.04 * stain, (92, 80, 68), (172, 158, 140)
    )
    height = 0.006 * gap + 0.0007 * grain + 0.0006 * fine
    return Material(linear(132, 121, 106), bake(colour * (0.18 + 0.82 * gap[..., None]), height, 2.56), 2.56)


@cache
def wood() -> Material:
    """Plain timber, grain along v, reflectance 0.20. Tile 1 m."""
    grain, fine = noise(SIZE, 46, 1.1, 3, stretch=(10, 1)), noise(SIZE, 47, 0.6, 40, stretch=(14, 1))
    colour = tinted(0.5 + 0.16 * grain + 0.12 * fine, (84, 66, 48), (168, 142, 110))
    return Material(linear(128, 109, 86), bake(colour, 0.0005 * grain + 0.0004 * fine, 1.0), 1.0)


@cache
def plaster() -> Material:
    """Lime plaster, reflectance 0.55 unless coloured, with stains and a trowelled relief. Tile 4 m."""
    stain, rough, fine = noise(SIZE, 51, 1.7, 1, 40), noise(SIZE, 52, 1.3, 12), noise(SIZE, 53, 0.5, 80)
    run = noise(SIZE, 54, 1.2, 2, stretch=(0.25, 2.5))
    flake = smooth(1.5, 1.9, noise(SIZE, 55, 1.7, 3) + 0.25 * rough)
    amount = 1 + 0.055 * stain + 0.02 * rough + 0.015 * fine + 0.035 * run
    colour = amount[..., None] * np.ones(3, np.float32)
    colour = colour * (1 - flake[..., None]) + linear(170, 158, 140) / 0.55 * flake[..., None]
    height = 0.0022 * rough + 0.0006 * fine - 0.004 * flake
    return Material(linear(196, 190, 178), bake(colour, height, 4.0), 4.0)


@cache
def tiles() -> Material:
    """Clay pantiles in rows, reflectance 0.20, weathered. Tile 3 m, 10 rows of 14."""
    u, v = np.meshgrid((np.arange(SIZE) + 0.5) / SIZE * 14, (np.arange(SIZE) + 0.5) / SIZE * 10)
    tint = np.random.default_rng(61).random((10, 14))[v.astype(int), u.astype(int)]
    stain, fine = noise(SIZE, 62, 1.5, 2), noise(SIZE, 63, 0.6, 30)
    down = 1 - v % 1
    height = 0.025 * np.abs(np.sin(np.pi * u)) ** 0.8 + 0.030 * down + 0.001 * fine
    shade = smooth(0.0, 0.10, v % 1) * smooth(0.0, 0.12, np.abs(np.sin(np.pi * u)))
    colour = tinted(0.5 + 0.55 * (tint - 0.5) + 0.13 * stain + 0.08 * fine, (104, 58, 44), (186, 116, 84))
    return Material(
        linear(146, 92, 72), bake(colour * (0.3 + 0.7 * shade[..., None]), height, 3.0), 3.0, f0=0.02, shine=16
    )


@cache
def slates() -> Material:
    """Roof slates in courses, reflectance 0.11, a dull shine. Tile 2.4 m, 10 rows."""
    edge, tint, (_, up) = courses(SIZE, 10, (9, 11), 71)
    stain, fine = noise(SIZE, 72, 1.5, 2), noise(SIZE, 73, 0.7, 30)
    shade = smooth(0, 0.004, edge)
    colour = tinted(0.5 + 0.5 * (tint - 0.5) + 0.12 * stain + 0.07 * fine, (70, 76, 84), (122, 126, 128))
    height = 0.012 * (1 - up) + 0.0012 * fine
    return Material(
        linear(94, 99, 104), bake(colour * (0.3 + 0.7 * shade[..., None]), height, 2.4), 2.4, f0=0.04, shine=24
    )


@cache
def heather() -> Material:
    """Heather and rough grass from above, reflectance 0.09. Tile 6 m."""
    first, _, tint = cells(SIZE, 26, 26, 81, 0.95)
    clump, fine, sweep = noise(SIZE, 82, 1.3, 4, 80), noise(SIZE, 83, 0.5, 60), noise(SIZE, 84, 1.5, 1, 10)
    dome = np.clip(1 - first, 0, 1)
    colour = tinted(0.5 + 0.2 * clump + 0.22 * fine, (46, 44, 26), (112, 102, 66))
    bloom = smooth(0.35, 0.75, tint + 0.22 * sweep) * smooth(0.30, 0.8, dome) * smooth(-0.8, 0.6, fine)
    colour = colour * (1 - bloom[..., None]) + linear(134, 88, 116) * bloom[..., None]
    height = 0.16 * dome + 0.03 * clump + 0.012 * fine
    return Material(
        linear(84, 79, 60), bake(colour * (0.25 + 0.75 * smooth(0, 0.7, dome))[..., None], height, 6.0), 6.0
    )


@cache
def grass() -> Material:
    """Bleached grass, reflectance 0.15. Tile 4 m."""
    clump, fine = noise(SIZE, 86, 1.2, 4), noise(SIZE, 87, 0.5, 60, stretch=(0.6, 1))
    colour = tinted(0.5 + 0.2 * clump + 0.2 * fine, (74, 74, 38), (150, 138, 88))
    return Material(linear(116, 110, 68), bake(colour, 0.03 * clump + 0.012 * fine, 4.0), 4.0)


@cache
def gravel() -> Material:
    """A sandy track with stones, reflectance 0.22. Tile 2 m."""
    first, second, tint = cells(SIZE, 40, 40, 91, 0.95)
    rough, fine = noise(SIZE, 92, 1.3, 3), noise(SIZE, 93, 0.5, 90)
    stone = smooth(0.62, 0.72, tint) * smooth(0.02, 0.2, second - first)
    colour = tinted(0.5 + 0.18 * rough + 0.16 * fine + 0.3 * stone, (110, 98, 80), (178, 166, 144))
    return Material(linear(134, 124, 106), bake(colour, 0.006 * stone + 0.006 * rough + 0.001 * fine, 2.0), 2.0)


@cache
def snow() -> Material:
    """Settled snow, reflectance 0.86, wind-rippled. Tile 3 m."""
    ripple, grain = noise(SIZE, 101, 1.4, 3, 60, stretch=(2.2, 0.8)), noise(SIZE, 102, 0.4, 100)
    colour = (1 + 0.012 * ripple + 0.02 * grain)[..., None] * np.ones(3, np.float32)
    return Material(linear(237, 238, 240), bake(colour, 0.0045 * ripple + 0.0007 * grain, 3.0), 3.0, f0=0.01, shine=10)


@cache
def rope() -> Material:
    """Hemp rope, strands at a slant, reflectance 0.30. Tile 0.12 m."""
    u, v = np.meshgrid(np.arange(256) / 256, np.arange(256) / 256)
    strand = 0.5 + 0.5 * np.sin(2 * np.pi * (u * 2 + v * 3))
    colour = tinted(0.3 + 0.7 * strand, (98, 84, 58), (188, 168, 126))
    return Material(linear(160, 141, 104), bake(colour, 0.006 * strand, 0.12), 0.12)


@cache
def iron() -> Material:
    """Cast iron, rusted in places, reflectance 0.06. Tile 0.8 m."""
    rust, fine = noise(SIZE, 111, 1.3, 3), noise(SIZE, 112, 0.6, 40)
    colour = tinted(0.35 + 0.35 * rust + 0.1 * fine, (44, 42, 42), (112, 70, 48))
    return Material(linear(72, 62, 56), bake(colour, 0.001 * rust + 0.0004 * fine, 0.8), 0.8, f0=0.05, shine=20)


@cache
def bark() -> Material:
    """Needles and bark from afar, reflectance 0.05. Tile 1.2 m."""
    fine, clump = noise(SIZE, 121, 0.6, 20), noise(SIZE, 122, 1.2, 4)
    colour = tinted(0.4 + 0.22 * fine + 0.2 * clump, (22, 32, 24), (70, 84, 62))
    return Material(linear(54, 62, 50), bake(colour, 0.03 * clump + 0.012 * fine, 1.2), 1.2)


@cache
def water() -> Material:
    """Harbour water: a mirror with ripples over a body of reflectance 0.03. Tile 9 m of waves."""
    swell = noise(SIZE, 131, 2.1, 4, 200, stretch=(1.5, 0.9))
    return Material(
        linear(30, 52, 54),
        bake(np.ones((SIZE, SIZE), np.float32), 0.022 * swell, 9.0),
        9.0,
        f0=0.02,
        shine=900,
        mirror=1.0,
        water=True,
    )


def paint(*code: float, f0: float = 0.04, shine: float = 40.0) -> Material:
    """Oil paint on something smooth: an sRGB colour, a little worn."""
    return plaster().coloured(*code, metres=2.0, bump=0.35, f0=f0, shine=shine)


def glass() -> Material:
    """A window seen from outside: dark, with the reflection of what is opposite."""
    return Material(linear(30, 34, 38), noise_slopes(), 3.0, f0=0.06, shine=2000, mirror=1.0)


@cache
def noise_slopes() -> Pyramid:
    """Old window glass: flat, with slight waves."""
    return bake(np.ones((256, 256), np.float32), 0.0012 * noise(256, 141, 2.0, 2, 30), 3.0)


def lit_window(luminance) -> Material:
    """A window with a drawn curtain and a lamp behind it; luminance (3,) is its mean."""
    return Material(linear(120, 110, 90), curtain(), 1.6, emits=np.asarray(luminance, np.float32), bump=0.0)


@cache
def curtain() -> Pyramid:
    """Folds of a curtain with the light behind it; brighter in the middle than above and below."""
    fold = noise(512, 151, 1.3, 3, stretch=(0.15, 4))
    glow = noise(512, 152, 1.8, 1, 6)
    return bake(np.clip(1 + 0.16 * fold + 0.22 * glow, 0.15, None), np.zeros((512, 512), np.float32), 1.6)


def glow(luminance) -> Material:
    """Opal glass lit from within; luminance (3,)."""
    return Material(linear(200, 200, 200), emits=np.asarray(luminance, np.float32), lamp=True)


def cloth(*code: float) -> Material:
    """Canvas or linen of an sRGB colour, in soft folds."""
    return Material(linear(*code), folds(), 1.4, thin=0.6)


@cache
def folds() -> Pyramid:
    """Soft folds."""
    fold, weave = noise(512, 161, 1.6, 2, 60), noise(512, 162, 0.4, 60)
    return bake(1 + 0.06 * fold + 0.04 * weave, 0.012 * fold, 1.4)


def tuft_heights(across: int, height: float, size: int = 512) -> np.ndarray:
    """Seamless heights of tufts [m], highest `height`."""
    first, _, tint = cells(size, across, across, 81, 0.95)
    return (height * np.clip(1 - first, 0, 1) * (0.35 + 0.65 * tint) + 0.05 * height * noise(size, 88, 0.9, 8)).astype(
        np.float32
    )


def cover(base: Material, share: Callable, top: Material) -> Material:
    """A material with another laid over a part of it."""
    return replace(base, over=(*base.over, Layer(top, share)))


def snowed(base: Material) -> Material:
    """A material on which snow lies in patches."""
    patches = noise(256, 171, 1.2, 2)

    def share(p):
        return smooth(0.35, 0.75, lookup(patches, (p[0] * 60) % 256, (p[1] * 40 + p[2] * 90) % 256)[:, 0])

    return cover(base, share, snow())


@cache
def boulder() -> Material:
    """Granite out in the weather, with lichen; reflectance 0.19. Tile 2.2 m."""
    rough, fine, patch = noise(SIZE, 181, 1.3, 2), noise(SIZE, 182, 0.6, 60), noise(SIZE, 183, 1.4, 3, 60)
    colour = tinted(0.5 + 0.16 * rough + 0.14 * fine, (92, 91, 88), (158, 155, 148))
    lichen = smooth(0.9, 1.4, patch + 0.3 * fine)[..., None]
    colour = colour * (1 - lichen) + linear(176, 180, 158) * lichen
    return Material(linear(122, 121, 115), bake(colour, 0.012 * rough + 0.0016 * fine, 2.2), 2.2)


@cache
def striped() -> Material:
    """Awning canvas in broad stripes of blue and white, thin enough to glow. Tile 0.8 m."""
    u = np.broadcast_to(((np.arange(512) + 0.5) / 512)[None, :], (512, 512))
    blue = smooth(0.49, 0.51, (u * 2) % 1)[..., None]
    weave = (1 + 0.03 * noise(512, 191, 0.8, 3))[..., None]
    colour = (linear(58, 96, 138) * blue + linear(232, 228, 216) * (1 - blue)) * weave
    return Material(linear(160, 168, 180), bake(colour, 0.004 * noise(512, 192, 1.8, 1, 12), 0.8), 0.8, thin=0.4)


@cache
def netting() -> Material:
    """Fishing net in a heap, reflectance 0.12. Tile 0.7 m."""
    u, v = np.meshgrid((np.arange(512) + 0.5) / 512, (np.arange(512) + 0.5) / 512)
    warp = 0.04 * noise(512, 195, 1.7, 1, 12)
    mesh = np.minimum(np.abs(((u + v + warp) * 16) % 1 - 0.5), np.abs(((u - v + warp) * 16) % 1 - 0.5))
    thread = (1 - smooth(0.08, 0.2, mesh))[..., None]
    colour = linear(96, 124, 110) * thread + linear(40, 48, 44) * (1 - thread)
    return Material(linear(84, 106, 96), bake(colour, 0.006 * thread[..., 0] + 0.02 * warp, 0.7), 0.7)


@cache
def hillside() -> Material:
    """A far slope: pasture, scrub and woods; reflectance 0.10. Tile 160 m."""
    field, wood_at, fine = noise(SIZE, 201, 1.5, 3, 60), noise(SIZE, 202, 1.3, 3), noise(SIZE, 203, 0.7, 60)
    colour = tinted(0.5 + 0.25 * field + 0.1 * fine, (84, 92, 52), (140, 134, 84))
    dark = smooth(0.2, 0.9, wood_at + 0.3 * fine)[..., None]
    colour = colour * (1 - dark) + linear(48, 62, 40) * dark
    return Material(linear(94, 98, 64), bake(colour, 1.2 * dark[..., 0] * (1 + 0.5 * fine) + 0.6 * fine, 160.0), 160.0)
