"""A field sheet for a kit and a film: fills the page from the shelf, draws it, writes it whole or not at all."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2
from pathlib import Path

from meter.bulb import CARD_TIMES_S, card
from meter.camera import CLICKS_PER_STOP, Kit, Lens, Speed
from meter.distance import feet_text, metres_text
from meter.draw.field_sheet import PAGES_MM, Sheet, field_sheet_svg
from meter.errors import BadInput
from meter.film import Film
from meter.guide import DaylightRow
from meter.jobs.hold_bulb import chosen_curve
from meter.jobs.load_order import DEFAULT_KIT, film_in
from meter.jobs.plan_focus import Circle, choose_circle, hyperfocals
from meter.jobs.whole_file import whole_file
from meter.order import index_for
from meter.reciprocity import Curve
from meter.shelf.reader import Shelf
from meter.stops import aperture_stops, aperture_text, click_positions, ev_text, f_number_at, mark_text, time_text

KINDS = (".svg", ".pdf", ".png")
PRINT_DPI = 300
ROWS = {"A6": (8, 8), "A5": (14, 13)}  # daylight and reciprocity rows that a page takes in a readable size
SCENES = (  # which rows of the guide a page shows, the most useful first
    "full-sun", "cloudy-bright", "open-shade", "heavy-overcast", "hazy-sun", "snow-or-sand", "at-sunset",
    "after-sunset", "night-street", "home", "bright-street", "floodlit-buildings", "neon-signs", "landscape-full-moon",
)  # fmt: skip
SHUTTER_DRIFT_STOPS = 1 / 6  # a measured time this far off its mark is worth a line; our own choice
SPEEDS_AWAY = 2  # among this many next speeds an exact or engraved aperture is looked for; our own choice
WANTED_SUN_STOPS = 7.5  # the daylight column takes the speed that brings full sun nearest to between f/11 and f/16


@dataclass(frozen=True)
class MadeSheet:
    """What was written where, with the figures on it as text."""

    path: Path
    size: str
    sheet: Sheet


def make_sheet(
    kit_name: str | None,
    film_name: str | None,
    path: Path,
    *,
    ei: float | None = None,
    size: str = "A6",
    reciprocity: str | None = None,
    coc_mm: float | None = None,
    divisor: float | None = None,
    force: bool = False,
    shelf_dir: Path | None = None,
) -> MadeSheet:
    """Draw a sheet and write it as SVG, PDF or PNG (300 dpi), as the name of the file ends.

    kit_name: None for the usual one. film_name: None for the kit's own. force: replace a file that exists. Raises
    BadInput where one exists otherwise and for another ending, MeterError where it cannot be written; the old file is
    then still whole.
    """
    kind = path.suffix.lower()
    if kind not in KINDS:
        raise BadInput(f"'{path.name}' does not end in .pdf, .svg or .png: a field sheet is one of these")
    shelf = Shelf(shelf_dir)
    kit = shelf.kit(kit_name or DEFAULT_KIT)
    film = film_in(kit, film_name, shelf)
    sheet = fill(
        kit, film, ei=index_for(kit, film, ei), size=size, guide=tuple(shelf.daylight().values()),
        curve=chosen_curve(film, reciprocity)[0], circle=choose_circle(kit, coc_mm=coc_mm, divisor=divisor),
    )  # fmt: skip
    with whole_file(path, force) as part:
        part.write_bytes(rendered(field_sheet_svg(sheet, size), kind, size))
    return MadeSheet(path, size, sheet)


def rendered(svg: str, kind: str, size: str) -> bytes:
    """The drawing as the bytes of a file of this kind."""
    if kind == ".svg":
        return svg.encode("utf-8")
    from meter.pixels.plate import pdf_of, png_of

    return pdf_of(svg) if kind == ".pdf" else png_of(svg, round(PAGES_MM[size][0] / 25.4 * PRINT_DPI))


def fill(
    kit: Kit, film: Film, *, ei: float, size: str, guide: tuple[DaylightRow, ...], curve: Curve | None, circle: Circle
) -> Sheet:
    """What the sheet of a kit and a film says, in text."""
    if size not in ROWS:
        raise BadInput(f"a field sheet is {' or '.join(ROWS)}, not '{size}'")
    if not 1 <= ei <= 25600:
        raise BadInput(f"an exposure index from 1 to 25600 is needed; got {ei:g}")
    speed = daylight_speed(kit, ei)
    rows = card(curve, CARD_TIMES_S[: ROWS[size][1]])
    daylight = [daylight_row(row, kit, ei, speed) for row in guide_rows(guide, ROWS[size][0])]
    return Sheet(
        kit=kit.name,
        film=film.name,
        ei=f"EI {ei:g}",
        marks=[(mark_text(mark), exact) for mark, exact in zip(kit.lens.marks, kit.lens.exact_marks, strict=True)],
        clicks=_clicks(kit.lens),
        speeds=[*(one.label.removesuffix(" s") for one in reversed(kit.shutter.speeds)), *(["B"] * kit.shutter.bulb)],
        daylight=daylight,
        daylight_shutter=speed.label,
        daylight_note=f"front light, EV at EI {ei:g}",
        reciprocity=[
            (time_text(row.metered_s), time_text(row.hold_s) + ("*" if row.extrapolated else ""))
            for row in rows if curve is not None
        ],
        reciprocity_note=f"'{curve.name}', {curve.evidence}" if curve else "no published figure",
        hyperfocal=[(mark_text(h.mark), _length(h.focus_m, kit.lens), _length(h.near_m, kit.lens))
                    for h in hyperfocals(kit.lens, circle.coc_mm)],
        hyperfocal_note=f"c = {circle.coc_mm:.3f} mm",
        notes=tuple(_notes(kit, curve, [row.extrapolated for row in rows], [" B " in row[2] for row in daylight])),
    )  # fmt: skip


def daylight_speed(kit: Kit, ei: float) -> Speed:
    """The marked speed that brings full sun (EV 15) nearest to between f/11 and f/16, inside the iris where it can."""
    low, high = kit.lens.stops_range

    def miss(speed: Speed) -> tuple[bool, float]:
        stops = 15 + log2(ei / 100) + log2(speed.time_s)
        return not low <= stops <= high, abs(stops - WANTED_SUN_STOPS)

    return min(kit.shutter.speeds, key=miss)


def guide_rows(guide: tuple[DaylightRow, ...], most: int) -> tuple[DaylightRow, ...]:
    """The rows that a page has room for, the most useful ones of SCENES before others, brightest first."""
    place = {slug: i for i, slug in enumerate(SCENES)}
    kept = sorted(guide, key=lambda row: place.get(row.slug, len(SCENES)))[:most]
    return tuple(sorted(kept, key=lambda row: -row.ev100))


def daylight_row(row: DaylightRow, kit: Kit, ei: float, speed: Speed) -> tuple[str, str, str]:
    """A scene, its EV for this exposure index, and the aperture at this speed, or the speed to take wide open.

    The guide's range is shown where it stays in whole numbers, else its middle.
    """
    shift = log2(ei / 100)
    whole = abs(shift - round(shift)) < 0.05
    levels = sorted({row.ev100_low + shift, row.ev100_high + shift}) if whole else [row.ev100 + shift]
    dash = "…" if levels[0] < 0 else "–"
    ev = dash.join(ev_text(level).removesuffix(".0").replace("-", "−") for level in levels)
    f_number = f_number_at(row.ev100 + shift + log2(speed.time_s))
    if kit.lens.reaches(f_number):
        setting = aperture_text(kit.lens.settable(f_number), kit.lens.marks).removeprefix("f/")
    else:
        setting = _other_speed(row.ev100 + shift, kit, too_bright=f_number > kit.lens.exact_marks[-1])
    return row.slug.replace("-", " "), ev, setting


def _other_speed(ev: float, kit: Kit, *, too_bright: bool) -> str:
    """The aperture at the next speed that brings it inside the iris, "2.8 + 0.5, 1/125"; else B wide open, as metered.

    The speed after it is taken where a click-stopped iris comes nearer there, to a sixth of a stop, or else where the
    aperture is an engraved one.
    """
    lens, speeds = kit.lens, kit.shutter.speeds
    asked = [(speed, f_number_at(ev + log2(speed.time_s))) for speed in (reversed(speeds) if too_bright else speeds)]
    pairs = [(speed, f_number, lens.settable(f_number)) for speed, f_number in asked if lens.reaches(f_number)]
    if pairs:
        speed, _, f_number = min(pairs[:SPEEDS_AWAY], key=lambda pair: _awkward(lens, *pair[1:]))
        return f"{aperture_text(f_number, lens.marks).removeprefix('f/')}, {speed.label}"
    if too_bright or not kit.shutter.bulb:
        return "too bright" if too_bright else "too dark"
    time_s = 2.0 ** (aperture_stops(lens.exact_marks[0]) - ev)
    return f"{mark_text(lens.marks[0])}, B {time_text(time_s)}"


def _awkward(lens: Lens, asked: float, set_to: float) -> tuple[int, bool]:
    """How far the iris stands from what was asked, in sixths of a stop, then whether it stands between its marks."""
    off = abs(aperture_stops(set_to) - aperture_stops(asked))
    return round(off * 6), lens.between_marks(set_to).fraction > 0


def _clicks(lens: Lens) -> tuple[float, ...]:
    clicks = CLICKS_PER_STOP[lens.iris]
    return tuple(f_number_at(stops) for stops in click_positions(lens.exact_marks, clicks)) if clicks else ()


def _length(distance_m: float, lens: Lens) -> str:
    return feet_text(distance_m) if lens.distance_marks_ft and not lens.distance_marks_m else metres_text(distance_m)


def _notes(kit: Kit, curve: Curve | None, extrapolated: list[bool], on_bulb: list[bool]) -> Iterator[str]:
    drifted = [
        f"{one.label} gives {time_text(one.time_s)}" for one in kit.shutter.speeds
        if abs(one.drift_stops) >= SHUTTER_DRIFT_STOPS
    ]  # fmt: skip
    if drifted:
        yield f"Measured: {', '.join(drifted)}."
    yield "Side light 1 EV less, back light 2 EV less. Filters and close-ups first, reciprocity last."
    if any(on_bulb):
        yield "A time after B is as metered: look up the hold."
    if curve and any(extrapolated):
        yield f"* beyond the {curve.published_to_s:g} s that the source covers: test first."
