"""Render the scenes and photograph them: python -m sample_scenes render, python -m sample_scenes shoot."""

import importlib
from dataclasses import replace
from pathlib import Path

import click
import numpy as np

from sample_scenes.colour import LUMINANCE

PLACES = ("bridge", "lane", "moor", "quay", "shed", "snowfield")
HERE = Path(__file__).parent
MOST_BYTES = 500_000  # of a shipped photo


class Size(click.ParamType):
    """WIDTHxHEIGHT in pixels, 4:3."""

    name = "WxH"

    def convert(self, value, param, ctx):
        try:
            wide, high = (int(w) for w in value.lower().split("x"))
        except ValueError:
            self.fail(f"{value!r} is not a size; write it like 1600x1200", param, ctx)
        if wide * 3 != high * 4 or wide < 32:
            self.fail(f"{value} is not 4:3 or too small; try 1600x1200 or 400x300", param, ctx)
        return wide, high


def chosen(names: tuple[str, ...]) -> tuple[str, ...]:
    """The places asked for, all when none is named."""
    for name in names:
        if name not in PLACES:
            raise click.UsageError(f"there is no scene {name!r}; there are {', '.join(PLACES)}")
    return names or PLACES


def build(name: str):
    """The place of that name."""
    return importlib.import_module(f"sample_scenes.places.{name}").build()


def picture_of(name: str, size: tuple[int, int], rays: int | None = None, directions: int = 64):
    """The place and its picture (H, W, 3) in cd/m2."""
    from sample_scenes.render import render as render_place

    place = build(name)
    return place, render_place(place, *size, rays or place.rays, directions)


def preview(rgb: np.ndarray) -> np.ndarray:
    """A viewable picture (H, W, 3) uint8, RGB: balanced half-way to grey, placed by its log mean, shoulder rolled."""
    light = np.maximum(rgb @ LUMINANCE, 1e-6)
    scale = 0.16 / np.exp(np.log(light).mean())
    mean = rgb.reshape(-1, 3).mean(axis=0)
    x = rgb * scale * (mean @ LUMINANCE / mean) ** 0.4
    x = x * (1 + x / 16) / (1 + x)
    x = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 0.0031308) ** (1 / 2.4) - 0.055)
    return (np.clip(x * 1.08, 0, 1) * 255 + 0.5).astype(np.uint8)


@click.group()
def main():
    """Six places of one harbour town whose light is known."""


@main.command()
@click.argument("names", nargs=-1, metavar="[NAME ...]")
@click.option("--size", type=Size(), default="1600x1200", show_default=True, help="Size of the rendering.")
@click.option("--out", type=click.Path(path_type=Path), default=HERE / "shipped", help="Folder for the truth.")
@click.option(
    "--rays", type=click.IntRange(1, 8), help="Rays along each side of a pixel.  [default: the scene's own, 2 or 3]"
)
@click.option(
    "--directions",
    type=click.IntRange(4, 1024),
    default=64,
    show_default=True,
    help="Directions from which ambient light is gathered.",
)
@click.option("--keep", type=click.Path(path_type=Path), help="Folder for the rendering itself, NAME.npy, for shoot.")
@click.option("--preview", "previews", type=click.Path(path_type=Path), help="Folder for a picture to look at.")
def render(names, size, out, rays, directions, keep, previews):
    """Render scenes and keep their truth: NAME.truth.png and NAME.toml.

    Example: python -m sample_scenes render quay --size 400x300 --out try
    """
    from PIL import Image

    from sample_scenes.truth import Truth, measure, save_truth

    for name in chosen(names):
        place, rgb = picture_of(name, size, rays, directions)
        spots = measure(rgb, place.spots, place.camera.focal_35mm)
        save_truth(Truth(name, rgb, place.title, place.light, place.camera.focal_35mm, spots), out)
        if keep:
            keep.mkdir(parents=True, exist_ok=True)
            np.save(keep / f"{name}.npy", rgb)
        if previews:
            previews.mkdir(parents=True, exist_ok=True)
            Image.fromarray(preview(rgb)).save(previews / f"{name}.png")
        card = next(s for s in spots if s.name == "card")
        click.echo(f"{name}: card {card.luminance:.4g} cd/m2, EV100 {np.log2(card.luminance * 8):.2f}")


@main.command()
@click.argument("names", nargs=-1, metavar="[NAME ...]")
@click.option("--card", default="harbour", show_default=True, help="Camera card, see the folder cards.")
@click.option("--kept", type=click.Path(path_type=Path), help="Folder of renderings that render --keep made.")
@click.option("--out", type=click.Path(path_type=Path), default=HERE / "shipped", help="Folder for the photos.")
def shoot(names, card, kept, out):
    """Photograph scenes at 1600x1200 with a simulated camera: NAME.jpg, below 500 kB.

    Example: python -m sample_scenes shoot quay --kept renderings --out photos
    """
    from sample_scenes.camera import cards, photograph

    found = {c.name: c for c in cards()}
    if card not in found:
        raise click.UsageError(f"there is no camera card {card!r}; there are {', '.join(sorted(found))}")
    out.mkdir(parents=True, exist_ok=True)
    for name in chosen(names):
        kept_file = kept / f"{name}.npy" if kept else None
        if kept_file and not kept_file.exists():
            raise click.UsageError(f"{kept_file} is not there; make it with: render {name} --keep {kept}")
        rgb = np.load(kept_file) if kept_file else picture_of(name, (1600, 1200))[1]
        camera = found[card]
        shot = photograph(rgb, camera)
        while len(shot.jpeg) > MOST_BYTES and camera.output.quality > 40:  # a noisy night takes room
            camera = replace(camera, output=replace(camera.output, quality=camera.output.quality - 4))
            shot = photograph(rgb, camera)
        (out / f"{name}.jpg").write_bytes(shot.jpeg)
        seen = f"f/{shot.f_number:g}, {shot.time_s:.3g} s, ISO {shot.iso:g}"
        click.echo(f"{name}: {seen}, JPEG quality {camera.output.quality}, {len(shot.jpeg) / 1000:.0f} kB")


if __name__ == "__main__":
    main()
