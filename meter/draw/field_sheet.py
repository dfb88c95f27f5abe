"""The field sheet: one page to carry, with what a kit and a film need in the field. Vector, in points."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from meter.draw.lettering import broken, fitted, width_of
from meter.draw.strip import Strip, strip_svg
from meter.draw.svg import INK, SOFT_INK, Fragment, document, element, group, line, moved, words
from meter.errors import BadInput

PAGES_MM = {"A6": (105.0, 148.0), "A5": (148.0, 210.0)}  # ISO 216
SMALLEST_TYPE_PT = 6.0
TYPE = 0.74  # size of type in a table, as a part of the distance between its lines
POINTS_PER_MM = 72 / 25.4
ZONE_WORDS = (  # our own short words for the tones of a print (common practice)
    ("I", "all but black, no detail"),
    ("II", "dark, a hint of texture"),
    ("III", "dark, full texture: shadows"),
    ("IV", "shade on skin, dark leaves"),
    ("V", "middle grey, the 18 % card"),
    ("VI", "pale skin, stone in sun"),
    ("VII", "light, full texture"),
    ("VIII", "bright, texture fading"),
    ("IX", "all but white, no detail"),
)


@dataclass(frozen=True)
class Sheet:
    """What a field sheet shows, every figure already as text; rows may be missing.

    kit, film: names. ei: "EI 200". marks, clicks: as in Strip. speeds: the shutter's engraved times, slowest first.
    daylight: (scene, EV, aperture) rows, the aperture at daylight_shutter, or "aperture, speed" for another one.
    reciprocity: (metered, hold) rows. hyperfocal: (aperture, hyperfocal distance, near limit) rows.
    zones: (numeral, words) rows, dark to light.
    *_note: a line under each table: conditions, source, or why there are no rows. notes: lines at the foot of the page.
    """

    kit: str
    film: str
    ei: str
    marks: Sequence[tuple[str, float]]
    clicks: Sequence[float] = ()
    speeds: Sequence[str] = ()
    daylight: Sequence[tuple[str, str, str]] = ()
    daylight_shutter: str = ""
    daylight_note: str = ""
    reciprocity: Sequence[tuple[str, str]] = ()
    reciprocity_note: str = ""
    hyperfocal: Sequence[tuple[str, str, str]] = ()
    hyperfocal_note: str = ""
    zones: Sequence[tuple[str, str]] = ZONE_WORDS
    notes: Sequence[str] = ()


@dataclass(frozen=True)
class _Column:
    head: str
    share: float  # of the table's width
    anchor: str = "start"


@dataclass(frozen=True)
class _Table:
    title: str
    note: str
    columns: tuple[_Column, ...]
    rows: Sequence[tuple[str, ...]]

    @property
    def heads(self) -> tuple[str, ...]:
        return tuple(column.head for column in self.columns) if self.rows else ()

    @property
    def lines(self) -> float:
        """How many lines it takes: its title, heads, rows, and the space under the table."""
        return 1 + bool(any(self.heads)) + len(self.rows) + 1.2


_GUTTER = 16.0  # between the two columns of tables, at A6 [pt]


def field_sheet_svg(sheet: Sheet, size: str = "A6") -> str:
    """Draw one page as an SVG file that states its size in millimetres; one user unit is one point.

    size: "A6" or "A5". Raises BadInput for another size, for marks that do not grow, and where the rows would need type
    below SMALLEST_TYPE_PT.
    """
    if size not in PAGES_MM:
        raise BadInput(f"a field sheet is A6 or A5, not '{size}'")
    width_mm, height_mm = PAGES_MM[size]
    page = _Page(width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM)
    parts = [element("rect", width=page.width, height=page.height, fill="#fff"), *_head(sheet, page)]
    strip = strip_svg(Strip(sheet.marks, clicks=sheet.clicks), page.inner / (0.44 * page.scale))
    y = page.margin + 46 * page.scale
    parts.append(moved(strip, page.margin, y, 0.44 * page.scale))
    y += strip.height * 0.44 * page.scale + 4 * page.scale
    if sheet.speeds:
        parts += _speeds(sheet.speeds, page, y)
        y += 24 * page.scale
    foot = [part for note in sheet.notes for part in broken(note, page.small, page.inner)]
    bottom = page.height - page.margin - len(foot) * page.small * 1.25
    parts += _tables(sheet, page, y + 8 * page.scale, bottom)
    for row, text in enumerate(foot, start=1):
        baseline = bottom + row * page.small * 1.25
        parts.append(words(page.margin, baseline, text, page.small, color=SOFT_INK, font_style="italic"))
    whole = Fragment("".join(parts), page.width, page.height)
    return document(whole, title=f"{sheet.kit}, {sheet.film}", width=f"{width_mm:g}mm", height=f"{height_mm:g}mm")


@dataclass(frozen=True)
class _Page:
    width: float
    height: float

    @property
    def scale(self) -> float:
        """1 at A6."""
        return self.width / (PAGES_MM["A6"][0] * POINTS_PER_MM)

    @property
    def margin(self) -> float:
        return 15 * self.scale

    @property
    def inner(self) -> float:
        return self.width - 2 * self.margin

    @property
    def small(self) -> float:
        """The size of notes. [pt]"""
        return max(6.2 * self.scale, SMALLEST_TYPE_PT)


def _head(sheet: Sheet, page: _Page) -> Iterator[str]:
    """Kit and film on the left, the exposure index on the right, a double rule below."""
    k, right = page.scale, page.width - page.margin
    index, index_size = fitted(sheet.ei, 19 * k, page.inner * 0.35, 8 * k)
    room = page.inner - width_of(index, index_size) - 12 * k
    kit, kit_size = fitted(sheet.kit, 15 * k, room, 8 * k)
    film, film_size = fitted(sheet.film, 10.5 * k, room, 7 * k)
    yield words(page.margin, page.margin + 13 * k, kit, kit_size, font_weight="600")
    yield words(page.margin, page.margin + 27 * k, film, film_size, color=SOFT_INK, font_style="italic")
    yield words(right, page.margin + 20 * k, index, index_size, anchor="end", font_weight="600")
    yield line(page.margin, page.margin + 34 * k, right, page.margin + 34 * k, 1.1 * k)
    yield line(page.margin, page.margin + 36 * k, right, page.margin + 36 * k, 0.4 * k)


def _speeds(speeds: Sequence[str], page: _Page, y: float) -> Iterator[str]:
    """The shutter's engraved times on a line of their own, evenly apart as on the ring."""
    k = page.scale
    step = page.inner / len(speeds)
    size = min([8 * k, *(fitted(speed, 8 * k, step - 3 * k, SMALLEST_TYPE_PT)[1] for speed in speeds)])
    yield line(page.margin, y, page.width - page.margin, y, 0.7 * k)
    for place, speed in enumerate(speeds):
        x = page.margin + step * (place + 0.5)
        yield line(x, y, x, y + 5 * k, 0.7 * k)
        yield words(x, y + 15 * k, fitted(speed, size, step - 2 * k, size)[0], size, anchor="middle", font_weight="600")


def _tables(sheet: Sheet, page: _Page, top: float, bottom: float) -> Iterator[str]:
    """Four tables in two columns, on one grid of lines."""
    aperture = f"at {sheet.daylight_shutter}" if sheet.daylight_shutter else "f/"
    share = 0.37 if any("," in row[2] for row in sheet.daylight) else 0.24  # room for a speed beside the aperture
    daylight = _Table(
        "Daylight",
        sheet.daylight_note,
        (_Column("scene", 0.85 - share), _Column("EV", 0.15, "end"), _Column(aperture, share, "end")),
        sheet.daylight,
    )
    hold = _Table(
        "Long exposures",
        sheet.reciprocity_note,
        (_Column("metered", 0.5), _Column("hold", 0.5, "end")),
        sheet.reciprocity,
    )
    zones = _Table("Zones", "", (_Column("", 0.1), _Column("", 0.17), _Column("", 0.73)), _toned(sheet.zones))
    focus = _Table(
        "Hyperfocal",
        sheet.hyperfocal_note,
        (_Column("f/", 0.24), _Column("focus at", 0.38, "end"), _Column("near", 0.38, "end")),
        sheet.hyperfocal,
    )
    left = (page.inner - _GUTTER * page.scale) * 0.56
    right = page.inner - _GUTTER * page.scale - left
    rows = ((daylight, left), (hold, right)), ((zones, left), (focus, right))
    heights = [[_note_height(table, page, width) for table, width in pair] for pair in rows]
    room = bottom - top - sum(max(pair) for pair in heights)
    lines = [max(table.lines for table, _ in pair) for pair in rows]
    leading = min(room / sum(lines), 13.5 * page.scale)
    if leading * TYPE < SMALLEST_TYPE_PT:
        raise BadInput(
            f"the tables one above the other need {sum(lines):.0f} lines and this page holds "
            f"{room / SMALLEST_TYPE_PT * TYPE:.0f} that can be read: take A5, or fewer rows"
        )
    y = top
    for pair, count, height in zip(rows, lines, heights, strict=True):
        for (table, width), x in zip(pair, (page.margin, page.margin + left + _GUTTER * page.scale), strict=True):
            yield group(_table(table, page, width, leading), transform=f"translate({x:.2f} {y:.2f})")
        y += count * leading + max(height)


def _note_height(table: _Table, page: _Page, width: float) -> float:
    return len(broken(table.note, page.small, width)) * page.small * 1.2


def _toned(zones: Sequence[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """Zone rows with a tone in front, as "#rrggbb": even steps of lightness from near black to near white."""
    steps = max(len(zones) - 1, 1)
    tones = [round(28 + (248 - 28) * step / steps) for step in range(len(zones))]
    return [(f"#{tone:02x}{tone:02x}{tone:02x}", *row) for tone, row in zip(tones, zones, strict=True)]


def _table(table: _Table, page: _Page, width: float, leading: float) -> Iterator[str]:
    """Title, rule, heads, rows and note, from y = 0 down."""
    if not table.rows and not table.note:
        return
    size, y = leading * TYPE, leading
    yield words(0, y, *fitted(table.title, leading * 0.9, width, SMALLEST_TYPE_PT), font_weight="600")
    yield line(0, y + leading * 0.3, width, y + leading * 0.3, 0.5 * page.scale)
    edges = [0.0]
    for column in table.columns:
        edges.append(edges[-1] + column.share * width)
    y += leading * 0.2
    if any(table.heads):
        y += leading
        yield from _row(table.heads, table.columns, edges, y, size * 0.94, color=SOFT_INK, font_style="italic")
    for row in table.rows:
        y += leading
        yield from _row(row, table.columns, edges, y, size)
    y += leading * 0.2
    for text in broken(table.note, page.small, width):
        y += page.small * 1.2
        yield words(0, y, text, page.small, color=SOFT_INK, font_style="italic")


def _row(
    cells: tuple[str, ...], columns: Sequence[_Column], edges: Sequence[float], y: float, size: float, **how: str
) -> Iterator[str]:
    for cell, column, (start, end) in zip(cells, columns, pairwise(edges), strict=True):
        if cell.startswith("#"):
            yield element(
                "rect", x=start, y=y - size * 0.72, width=(end - start) * 0.8, height=size * 0.82, fill=cell,
                stroke=INK, stroke_width=0.3,
            )  # fmt: skip
            continue
        text, fitting = fitted(cell, max(size, SMALLEST_TYPE_PT), end - start - 2, SMALLEST_TYPE_PT)
        yield words(start if column.anchor == "start" else end, y, text, fitting, anchor=column.anchor, **how)
