"""The light map: luminance as contour lines over the snapshot, one line a stop, labelled with zone numerals."""

from base64 import b64encode
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from meter.draw.labels import Box, Line, cut, labelled
from meter.draw.lettering import fitted, width_of
from meter.draw.strip import Strip, strip_svg
from meter.draw.svg import INK, PAPER, SOFT_INK, Fragment, Point, document, element, group, line, moved, path_of, words
from meter.errors import BadInput

LONG_SIDE = 1200.0  # of the photo as drawn [units]
MARGIN, TITLE_ROOM, LEGEND_ROOM = 36.0, 60.0, 58.0
MIDDLE = 5  # the zone that the others are counted from
NUMERAL_SIZE, SPOT_SIZE = 17.0, 18.0


@dataclass(frozen=True)
class Contour:
    """The line where the scene lies exactly on a zone.

    zone: 0 to 10; label: its numeral. points: (x, y) fractions of the upright picture, 0,0 top left; a closed line
    ends where it begins. Zone V is drawn stronger; lines below it are light on dark, the others dark on light.
    """

    zone: int
    label: str
    points: Sequence[Point]


@dataclass(frozen=True)
class SpotMark:
    """A spot: centre as fractions of the picture, radius as a fraction of its width, and its words ("shadow III")."""

    x: float
    y: float
    radius: float
    label: str


def light_map_svg(
    photo_jpeg: bytes,
    size: tuple[int, int],
    contours: Sequence[Contour] = (),
    spots: Sequence[SpotMark] = (),
    blown: Sequence[Sequence[Point]] = (),
    black: Sequence[Sequence[Point]] = (),
    strip: Strip | None = None,
    *,
    title: str = "",
    subtitle: str = "",
) -> str:
    """Draw a light map as an SVG file.

    photo_jpeg: the upright photo, embedded as it is (about 1200 pixels wide is enough). size: its pixels (w, h).
    blown, black: rings around areas, (x, y) fractions, filled by the even-odd rule.
    Raises BadInput for a picture without size or bytes that are no JPEG, and what strip_svg raises.
    """
    if min(size) < 1 or not photo_jpeg.startswith(b"\xff\xd8"):
        raise BadInput(f"the light map needs a JPEG with at least one pixel; got {len(photo_jpeg)} bytes, {size}")
    factor = LONG_SIDE / max(size)
    width, height = size[0] * factor, size[1] * factor
    sheet = _Sheet(width, height)
    head = TITLE_ROOM if title or subtitle else MARGIN
    picture = _picture(photo_jpeg, sheet, contours, spots, blown, black)
    legend = _legend(sheet.column, contours, spots, blown, black)
    parts = [
        *_heading(title, subtitle, sheet.column),
        group(picture, transform=f"translate({sheet.left:g} {head:g})"),
        group(legend, transform=f"translate({MARGIN:g} {head + height:g})"),
    ]
    bottom = head + height + LEGEND_ROOM
    if strip is not None:
        drawn = strip_svg(strip, sheet.column)
        parts.append(moved(drawn, MARGIN, bottom + 10))
        bottom += 10 + drawn.height
    whole = sheet.column + 2 * MARGIN, bottom + MARGIN / 2
    paper = element("rect", width=whole[0], height=whole[1], fill=PAPER)
    return document(Fragment(paper + "".join(parts), *whole), title=title or "Light map")


@dataclass(frozen=True)
class _Sheet:
    """The size of the photo as drawn; lettering under it never gets a column narrower than 640."""

    width: float
    height: float

    @property
    def column(self) -> float:
        return max(self.width, 640.0)

    @property
    def left(self) -> float:
        return MARGIN + (self.column - self.width) / 2

    def units(self, points: Sequence[Point]) -> list[Point]:
        return [(x * self.width, y * self.height) for x, y in points]


def _heading(title: str, subtitle: str, room: float) -> Iterator[str]:
    small, small_size = fitted(subtitle, 17, room * 0.5, 11)
    big, big_size = fitted(title, 27, room - width_of(small, small_size) - 24, 14)
    if title:
        yield words(MARGIN, 41, big, big_size, font_weight="600")
    if subtitle:
        yield words(MARGIN + room, 41, small, small_size, anchor="end", color=SOFT_INK, font_style="italic")


def _picture(
    photo: bytes,
    sheet: _Sheet,
    contours: Sequence[Contour],
    spots: Sequence[SpotMark],
    blown: Sequence[Sequence[Point]],
    black: Sequence[Sequence[Point]],
) -> Iterator[str]:
    """The photo, and over it hatching, lines, numerals, spots and the frame."""
    frame = {"width": sheet.width, "height": sheet.height}
    data = f"data:image/jpeg;base64,{b64encode(photo).decode()}"
    yield element("image", href=data, preserveAspectRatio="none", **frame)
    yield element("defs", element("clipPath", element("rect", **frame), id="picture"))
    yield group(
        [
            *_hatching("blown", [sheet.units(ring) for ring in blown]),
            *_hatching("black", [sheet.units(ring) for ring in black]),
            *_lines(contours, sheet, spots),
            *_spots(spots, sheet),
        ],
        clip_path="url(#picture)",
    )
    yield element("rect", fill="none", stroke=INK, stroke_width=1.2, **frame)
    yield element(
        "rect", x=-5, y=-5, width=sheet.width + 10, height=sheet.height + 10, fill="none", stroke=INK, stroke_width=0.5
    )


def _lines(contours: Sequence[Contour], sheet: _Sheet, spots: Sequence[SpotMark]) -> Iterator[str]:
    """The lines, light below Zone V and dark from there on, each over an edge of the opposite tone; their numerals."""
    drawn = [contour for contour in contours if len(contour.points) > 1]
    lines = [Line(c.label, float(c.zone == MIDDLE), sheet.units(c.points)) for c in drawn]
    half_sizes = {c.label: (width_of(c.label, NUMERAL_SIZE) / 2 + 3, NUMERAL_SIZE * 0.42) for c in drawn}
    named = [box for box, *_ in _spot_lettering(spots, sheet)]
    taken = [*named, *(_circle_box(spot, sheet) for spot in spots)]
    boxes = labelled(lines, (sheet.width, sheet.height), half_sizes, taken)
    paths: dict[int, str] = defaultdict(str)
    for contour, one in zip(drawn, lines, strict=True):
        paths[contour.zone] += "".join(path_of(piece) for piece in cut(one.points, [*boxes, *named]))
    yield element("defs", "".join(element("path", id=f"zone{zone}", d=data) for zone, data in paths.items()))
    low, high = [zone for zone in paths if zone < MIDDLE], [zone for zone in paths if zone >= MIDDLE]
    for zones, ink, edge in ((low, PAPER, INK), (high, INK, PAPER)):
        yield _strokes(zones, edge, 3.2, 4.4, 0.6)
        yield _strokes(zones, ink, 1.0, 2.1, 1.0)
    low_labels = {contour.label for contour in drawn if contour.zone < MIDDLE}
    for box in boxes:
        colors = (PAPER, INK) if box.text in low_labels else (INK, PAPER)
        yield from _haloed(box.x, box.y + NUMERAL_SIZE * 0.33, box.text, NUMERAL_SIZE, colors)


def _strokes(zones: Sequence[int], color: str, width: float, middle_width: float, opacity: float) -> str:
    uses = (
        element("use", href=f"#zone{zone}", stroke_width=middle_width if zone == MIDDLE else width) for zone in zones
    )
    return group(uses, fill="none", stroke=color, stroke_linejoin="round", opacity=opacity)


def _haloed(x: float, y: float, text: str, size: float, colors: tuple[str, str]) -> Iterator[str]:
    """Lettering with an edge of the opposite tone, so that it reads on dark and on light."""
    how = {"anchor": "middle", "font_weight": "600"}
    edge = {"stroke": colors[1], "stroke_width": size * 0.24, "stroke_linejoin": "round", "opacity": 0.85}
    yield words(x, y, text, size, color=colors[1], **how, **edge)
    yield words(x, y, text, size, color=colors[0], **how)


def _hatching(kind: str, rings: Sequence[Sequence[Point]]) -> Iterator[str]:
    """Blown areas: dark strokes rising to the right. Black areas: light strokes falling to the right."""
    if not rings:
        return
    yield element("defs", _hatch(kind))
    outline = "".join(path_of(ring) + "z" for ring in rings if len(ring) > 2)
    color = INK if kind == "blown" else PAPER
    yield element("path", d=outline, fill=f"url(#{kind})", fill_rule="evenodd", stroke=color, stroke_width=0.6)


def _hatch(kind: str) -> str:
    color, turn = (INK, -45) if kind == "blown" else (PAPER, 45)
    tile = {"width": 9, "height": 7, "patternUnits": "userSpaceOnUse", "patternTransform": f"rotate({turn})"}
    return element("pattern", line(0, 3.5, 9, 3.5, 0.9, color), id=kind, **tile)


def _spot_lettering(spots: Sequence[SpotMark], sheet: _Sheet) -> list[tuple[Box, SpotMark, str, float]]:
    """Each spot's words beside its circle, where the picture and the other spots leave room: box, spot, text, size."""
    circles = [_circle_box(spot, sheet) for spot in spots]
    placed: list[tuple[Box, SpotMark, str, float]] = []
    for spot, circle in zip(spots, circles, strict=True):
        text, size = fitted(spot.label, SPOT_SIZE, sheet.width * 0.4, 9)
        half = width_of(text, size) / 2 + 2, size * 0.56
        others = [box for box in circles if box is not circle] + [box for box, *_ in placed]
        candidates = [_kept_inside(box, sheet) for box in _beside(circle, *half)]
        free = [box for box in candidates if not any(box.near(other) for other in [circle, *others])]
        placed.append(((free or candidates)[0], spot, text, size))
    return placed


def _circle_box(spot: SpotMark, sheet: _Sheet) -> Box:
    radius = max(spot.radius * sheet.width, 1.5) + 2
    return Box("", spot.x * sheet.width, spot.y * sheet.height, radius, radius)


def _beside(circle: Box, half_width: float, half_height: float) -> Iterator[Box]:
    """Boxes to the right, left, below and above of a circle, then at its four corners."""
    across, down = circle.half_width + 4 + half_width, circle.half_height + 4 + half_height
    for right, below in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)):
        yield Box("", circle.x + right * across, circle.y + below * down, half_width, half_height)


def _kept_inside(box: Box, sheet: _Sheet) -> Box:
    x = min(max(box.x, box.half_width + 3), sheet.width - box.half_width - 3)
    y = min(max(box.y, box.half_height + 3), sheet.height - box.half_height - 3)
    return Box(box.text, x, y, box.half_width, box.half_height)


def _spots(spots: Sequence[SpotMark], sheet: _Sheet) -> Iterator[str]:
    for box, spot, text, size in _spot_lettering(spots, sheet):
        circle = {"cx": spot.x * sheet.width, "cy": spot.y * sheet.height, "r": max(spot.radius * sheet.width, 1.5)}
        yield element("circle", fill="none", stroke=PAPER, stroke_width=5.4, opacity=0.9, **circle)
        yield element("circle", fill="none", stroke=INK, stroke_width=1.8, **circle)
        if text:
            plate = {
                "x": box.x - box.half_width,
                "y": box.y - box.half_height,
                "rx": 2.5,
                "fill": PAPER,
                "opacity": 0.9,
            }
            yield element("rect", width=2 * box.half_width, height=2 * box.half_height, **plate)
            yield words(box.x, box.y + size * 0.33, text, size, anchor="middle", font_weight="600")


def _legend(
    room: float,
    contours: Sequence[Contour],
    spots: Sequence[SpotMark],
    blown: Sequence[Sequence[Point]],
    black: Sequence[Sequence[Point]],
) -> Iterator[str]:
    """A row of samples, only of what the picture shows; two rows where one is too short."""
    entries = []
    if contours:
        night = element("rect", y=-9, width=17, height=18, fill=INK) + line(0, 0, 17, 0, 1.2, PAPER)
        day = element("rect", y=-9, width=34, height=18, fill="none", stroke=INK, stroke_width=0.8)
        entries.append((night + day + line(17, 0, 34, 0, 1.2), "one line a stop"))
    middle = next((contour.label for contour in contours if contour.zone == MIDDLE), "")
    if middle:
        entries.append((line(0, 0, 34, 0, 2.1), f"Zone {middle}"))
    if spots:
        entries.append((element("circle", cx=17, cy=0, r=8, fill="none", stroke=INK, stroke_width=1.8), "spot"))
    for kind, rings, meaning in (
        ("blown", blown, "blown: this bright or more"),
        ("black", black, "black: this dark or more"),
    ):
        if rings:
            ground = element("rect", y=-9, width=34, height=18, fill="#fff" if kind == "blown" else INK)
            hatch = element("rect", y=-9, width=34, height=18, fill=f"url(#{kind})", stroke=INK, stroke_width=0.8)
            entries.append((ground + hatch, meaning))
    x, y = 0.0, 28.0
    for sample, meaning in entries:
        needed = 34 + 9 + width_of(meaning, 16)
        if x + needed > room and x > 0:
            x, y = 0.0, y + 24
        yield group([sample, words(43, 5, meaning, 16, color=SOFT_INK)], transform=f"translate({x:.1f} {y:g})")
        x += needed + 30
