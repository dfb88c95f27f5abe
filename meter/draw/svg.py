"""SVG as text: elements, paths, lettering. Every string that comes from outside passes through `clean`."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from meter.draw.lettering import FAMILY

INK = "#241c15"  # engraver's black, a little warm
SOFT_INK = "#6e6252"  # for words that explain
PAPER = "#f8f4ea"

Point = tuple[float, float]

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production Char
_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}


@dataclass(frozen=True)
class Fragment:
    """A piece of SVG without its root element, drawn from (0, 0) to (width, height) in user units."""

    svg: str
    width: float
    height: float


def clean(text: str) -> str:
    """Text made safe inside XML: markup escaped, what XML cannot hold replaced, line breaks turned into spaces."""
    flat = " ".join(_NOT_XML.sub("\ufffd", text).split())
    return "".join(_ENTITIES.get(letter, letter) for letter in flat)


def num(value: float) -> str:
    """A coordinate in as few letters as a hundredth of a unit allows."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(tag: str, content: str = "", **attributes: str | float) -> str:
    """One element; attribute names with `_` for `-`, numbers shortened. Content is taken as SVG already."""
    pairs = "".join(
        f' {name.strip("_").replace("_", "-")}="{num(value) if isinstance(value, int | float) else clean(value)}"'
        for name, value in attributes.items()
    )
    return f"<{tag}{pairs}>{content}</{tag}>" if content else f"<{tag}{pairs}/>"


def group(parts: Iterable[str], **attributes: str | float) -> str:
    """A <g> around parts."""
    return element("g", "".join(parts), **attributes)


def moved(fragment: Fragment, x: float, y: float, scale: float = 1.0) -> str:
    """A fragment put at (x, y), scaled."""
    size = "" if scale == 1 else f" scale({scale:.4f})"
    return group([fragment.svg], transform=f"translate({num(x)} {num(y)}){size}")


def line(x1: float, y1: float, x2: float, y2: float, width: float, color: str = INK) -> str:
    """A straight stroke."""
    return element("path", d=f"M{num(x1)} {num(y1)}L{num(x2)} {num(y2)}", stroke=color, stroke_width=width, fill="none")


def path_of(points: Sequence[Point]) -> str:
    """Path data through points, in tenths of a unit, relative after the first: a third shorter than absolute."""
    tenths = [(round(x * 10), round(y * 10)) for x, y in points]
    steps = [f"M{num(tenths[0][0] / 10)} {num(tenths[0][1] / 10)}l"]
    for (x0, y0), (x1, y1) in pairwise(tenths):
        if (x1, y1) != (x0, y0):
            steps.append(f"{num((x1 - x0) / 10)} {num((y1 - y0) / 10)}")
    return steps[0] + " ".join(steps[1:]) if len(steps) > 1 else ""


def words(
    x: float, y: float, text: str, size: float, *, anchor: str = "start", color: str = INK, **more: str | float
) -> str:
    """One line of lettering with its baseline at y."""
    return element("text", clean(text) or " ", x=x, y=y, font_size=size, text_anchor=anchor, fill=color, **more)


def document(fragment: Fragment, *, title: str, width: str | None = None, height: str | None = None) -> str:
    """A whole SVG file around a fragment. width, height: with a unit ("105mm") where the size on paper matters."""
    return element(
        "svg",
        element("title", clean(title) or " ") + fragment.svg,
        xmlns="http://www.w3.org/2000/svg",
        width=width or fragment.width,
        height=height or fragment.height,
        viewBox=f"0 0 {num(fragment.width)} {num(fragment.height)}",
        font_family=FAMILY,
    )
