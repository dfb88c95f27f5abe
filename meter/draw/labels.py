"""Where numerals stand on contour lines, and the gaps that they need: pure geometry on polylines."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from meter.draw.svg import Point

STEP = 7.0  # lines are looked at every so many units
REPEAT = 620.0  # one numeral more for each such length of line [units]
APART_SAME, APART_OTHER = 150.0, 7.0  # the least room between two equal and two different numerals [units]
FREE = 3  # samples of other lines that a good place may hold; a place for a zone's only numeral may hold any


@dataclass(frozen=True)
class Box:
    """An upright box around a numeral: its centre and half its size."""

    text: str
    x: float
    y: float
    half_width: float
    half_height: float

    def near(self, other: "Box", apart: float = 0.0) -> bool:
        """Whether two boxes come closer than apart, both across and down."""
        return (
            abs(self.x - other.x) < self.half_width + other.half_width + apart
            and abs(self.y - other.y) < self.half_height + other.half_height + apart
        )


@dataclass(frozen=True)
class Line:
    """A contour line in drawing units: its numeral, how much its labels matter (higher first), its points."""

    text: str
    rank: float
    points: Sequence[Point]


@dataclass(frozen=True)
class _Place:
    box: Box
    line: int
    cost: float
    crowd: int


def labelled(
    lines: Sequence[Line], size: tuple[float, float], half_sizes: dict[str, tuple[float, float]], taken: Sequence[Box]
) -> list[Box]:
    """Choose where numerals stand: on straight, uncrowded stretches, well apart, inside the picture.

    half_sizes: of each text's box. taken: boxes of other lettering that numerals keep clear of.
    Each text gets one place at least wherever any of its lines has one.
    """
    samples = [_sampled(line.points) for line in lines]
    crowd = _Crowd(samples)
    places = {
        index: sorted(_places(index, line.text, samples[index], size, half_sizes[line.text], crowd), key=_cost)
        for index, line in enumerate(lines)
    }
    chosen: list[Box] = []
    for index in sorted(places, key=lambda index: (-lines[index].rank, -len(samples[index]))):
        wanted = 1 + int(len(samples[index]) * STEP / REPEAT)
        for place in places[index]:
            if wanted and place.crowd <= FREE and _is_clear(place.box, chosen, taken):
                chosen.append(place.box)
                wanted -= 1
    missing = {line.text for line in lines} - {box.text for box in chosen}
    for text in sorted(missing):
        least = sorted((p for i in places for p in places[i] if p.box.text == text), key=lambda p: (p.crowd, p.cost))
        chosen += [place.box for place in least if _is_clear(place.box, chosen, taken)][:1]
    return chosen


def cut(points: Sequence[Point], boxes: Sequence[Box]) -> list[list[Point]]:
    """The pieces of a polyline that lie outside all boxes."""
    across, down = [x for x, _ in points], [y for _, y in points]
    whole = Box("", (min(across) + max(across)) / 2, (min(down) + max(down)) / 2, 0, 0)
    half = (max(across) - min(across)) / 2, (max(down) - min(down)) / 2
    near = [box for box in boxes if box.near(Box("", whole.x, whole.y, *half))]
    if not near:
        return [list(points)]
    pieces: list[list[Point]] = []
    for start, end in pairwise(points):
        for enter, leave in _outside(start, end, near):
            first, last = _between(start, end, enter), _between(start, end, leave)
            if enter > 0 or not pieces or pieces[-1][-1] != first:
                pieces.append([first])
            pieces[-1].append(last)
    return pieces


def _cost(place: _Place) -> float:
    return place.cost


def _is_clear(box: Box, chosen: Sequence[Box], taken: Sequence[Box]) -> bool:
    return not any(box.near(other, APART_SAME if other.text == box.text else APART_OTHER) for other in chosen) and (
        not any(box.near(other, 3.0) for other in taken)
    )


def _sampled(points: Sequence[Point]) -> list[Point]:
    """Points every STEP along a polyline."""
    found, ahead = [points[0]], STEP
    for (x0, y0), (x1, y1) in pairwise(points):
        length = hypot(x1 - x0, y1 - y0)
        while ahead <= length:
            found.append((x0 + (x1 - x0) * ahead / length, y0 + (y1 - y0) * ahead / length))
            ahead += STEP
        ahead -= length
    return found


class _Crowd:
    """Counts samples of other lines in a box."""

    def __init__(self, samples: Sequence[Sequence[Point]], cell: float = 24.0):
        self.cell = cell
        self.cells: dict[tuple[int, int], list[tuple[float, float, int]]] = defaultdict(list)
        for line, points in enumerate(samples):
            for x, y in points:
                self.cells[int(x // cell), int(y // cell)].append((x, y, line))

    def others(self, box: Box, line: int) -> int:
        left, right = int((box.x - box.half_width) // self.cell), int((box.x + box.half_width) // self.cell)
        top, bottom = int((box.y - box.half_height) // self.cell), int((box.y + box.half_height) // self.cell)
        return sum(
            other != line and abs(x - box.x) < box.half_width and abs(y - box.y) < box.half_height
            for column in range(left, right + 1)
            for row in range(top, bottom + 1)
            for x, y, other in self.cells.get((column, row), ())
        )


def _places(
    line: int, text: str, samples: Sequence[Point], size: tuple[float, float], half: tuple[float, float], crowd: _Crowd
) -> Iterator[_Place]:
    """Places on one line with their cost: how bent the line is there, and how crowded."""
    reach = max(round(1.8 * half[0] / STEP), 2)
    margin_x, margin_y = half[0] + 6, half[1] + 6
    for middle in range(reach, len(samples) - reach, 2):
        x, y = samples[middle]
        if not (margin_x < x < size[0] - margin_x and margin_y < y < size[1] - margin_y):
            continue
        (x0, y0), (x1, y1) = samples[middle - reach], samples[middle + reach]
        straight = hypot(x1 - x0, y1 - y0) / (2 * reach * STEP)
        box = Box(text, x, y, *half)
        count = crowd.others(Box(text, x, y, half[0] * 1.35, half[1] * 1.5), line)
        yield _Place(box, line, (1 - straight) * 6 + count * 0.5, count)


def _outside(start: Point, end: Point, boxes: Sequence[Box]) -> list[tuple[float, float]]:
    """The parts (from 0 to 1) of a segment that lie in no box."""
    free = [(0.0, 1.0)]
    for box in boxes:
        inside = _inside(start, end, box)
        if inside:
            low, high = inside
            free = [part for a, b in free for part in ((a, min(b, low)), (max(a, high), b)) if part[1] - part[0] > 1e-9]
    return free


def _inside(start: Point, end: Point, box: Box) -> tuple[float, float] | None:
    """The part of a segment inside a box, by clipping against its two pairs of sides (Liang and Barsky 1984)."""
    low, high = 0.0, 1.0
    for a, b, centre, half in (
        (start[0], end[0], box.x, box.half_width),
        (start[1], end[1], box.y, box.half_height),
    ):
        if max(a, b) <= centre - half or min(a, b) >= centre + half:
            return None
        if a != b:
            ends = sorted(((centre - half - a) / (b - a), (centre + half - a) / (b - a)))
            low, high = max(low, ends[0]), min(high, ends[1])
    return (low, high) if low < high else None


def _between(start: Point, end: Point, part: float) -> Point:
    if part in (0.0, 1.0):
        return end if part else start
    return start[0] + (end[0] - start[0]) * part, start[1] + (end[1] - start[1]) * part
