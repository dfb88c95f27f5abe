"""Reads drawings back: where each line of lettering stands on the page, transforms applied."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

from meter.draw.lettering import width_of

SVG = "{http://www.w3.org/2000/svg}"
_MOVE = re.compile(r"translate\(([-\d.]+) ([-\d.]+)\)(?: scale\(([\d.]+)\))?")


@dataclass(frozen=True)
class Seen:
    """A line of lettering as it stands on the page, in the page's units; y is its baseline."""

    text: str
    left: float
    right: float
    y: float
    size: float

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


def lettering(svg: str) -> list[Seen]:
    """Every line of lettering in a drawing, in drawing order."""
    return list(_walk(ElementTree.fromstring(svg), 0.0, 0.0, 1.0))


def _walk(node: ElementTree.Element, x: float, y: float, scale: float) -> Iterator[Seen]:
    move = _MOVE.search(node.get("transform", ""))
    if move and node.tag != f"{SVG}pattern":
        x, y, scale = x + float(move[1]) * scale, y + float(move[2]) * scale, scale * float(move[3] or 1)
    if node.tag == f"{SVG}text":
        size = float(node.get("font-size"))
        width = width_of(node.text, size) * scale
        start = {"start": 0.0, "middle": 0.5, "end": 1.0}[node.get("text-anchor")]
        left = x + float(node.get("x")) * scale - start * width
        yield Seen(node.text, left, left + width, y + float(node.get("y")) * scale, size * scale)
    for child in node:
        yield from _walk(child, x, y, scale)


def overlapping(seen: list[Seen]) -> list[tuple[str, str]]:
    """Pairs of different words whose boxes (baseline to cap height) cut each other."""
    pairs = []
    for place, one in enumerate(seen):
        for other in seen[place + 1 :]:
            across = one.left < other.right - 0.01 and other.left < one.right - 0.01
            down = one.y - 0.62 * one.size < other.y and other.y - 0.62 * other.size < one.y
            if across and down and one.text.strip() and other.text.strip() and one.text != other.text:
                pairs.append((one.text, other.text))
    return pairs
