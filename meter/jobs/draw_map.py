"""Draw the light map of a reading: the photo, its contour lines, its spots, and the strip."""

from pathlib import Path

import numpy as np

from meter.camera import CLICKS_PER_STOP, Lens
from meter.draw.light_map import Contour, SpotMark, light_map_svg
from meter.draw.strip import Strip
from meter.errors import BadInput
from meter.jobs.meter_photo import MeteredPhoto
from meter.jobs.whole_file import whole_file
from meter.ladder import Rung
from meter.light import luminance_from_ev100
from meter.patch import SpotReading
from meter.pixels.contours import contours, outlines
from meter.pixels.decode import load_opencv, open_photo, upright
from meter.pixels.light_map import BLACK, BLOWN
from meter.pixels.plate import png_of
from meter.pixels.spots import spot_radius
from meter.stops import click_positions, f_number_at, mark_text, pointer_words, time_text
from meter.zones import MIDDLE, NUMERALS, zone_text

PHOTO_SIDE = 1200  # longest side of the photo inside the drawing [pixels]
PNG_WIDTH = 1800


def draw_map(found: MeteredPhoto, photo: Path, path: Path, *, force: bool = False) -> None:
    """Write the light map as SVG or PNG, as the name ends. Raises BadInput for another ending, MeterError."""
    kind = path.suffix.lower()
    if kind not in (".svg", ".png"):
        raise BadInput(f"'{path.name}' does not end in .svg or .png: a light map is one of these")
    svg = map_svg(found, photo)
    with whole_file(path, force) as part:
        part.write_bytes(svg.encode("utf-8") if kind == ".svg" else png_of(svg, PNG_WIDTH))


def map_svg(found: MeteredPhoto, photo: Path) -> str:
    """The light map as SVG text."""
    light, metered = found.light, found.metered
    jpeg, size = _photo_jpeg(photo, found.window)
    zone_five = luminance_from_ev100(_middle_ev100(found), found.order.k)
    level = np.log2(np.maximum(light.luminance, 1e-9))
    marks = [("shadow", metered.shadow), ("highlight", metered.highlight)]
    marks += [(spot.label or f"{i}", spot) for i, spot in enumerate(metered.spots, start=1)]
    others = len(found.answer["photos"]) - 1
    return light_map_svg(
        jpeg,
        size,
        [Contour(zone, NUMERALS[zone], points) for zone, points in contours(level, float(np.log2(zone_five)))],
        [_mark(name, spot, found) for name, spot in marks if spot],
        outlines(light.extremes == BLOWN),
        outlines(light.extremes == BLACK),
        _strip(found),
        title=photo.name if others == 0 else f"{photo.name}, merged with {others} more",
        subtitle=f"{found.order.kit.name}; {found.order.film.name} at EI {found.order.ei:g}",
    )


def _photo_jpeg(photo: Path, window: tuple[float, float, float, float]) -> tuple[bytes, tuple[int, int]]:
    cv2 = load_opencv()
    opened = open_photo(photo)
    pixels = opened.pixels if opened.pixels.dtype == np.uint8 else (opened.pixels >> 8).astype(np.uint8)
    pixels = upright(pixels, opened.orientation)
    (rows, columns), (left, top, right, bottom) = pixels.shape[:2], window
    part = np.s_[round(top * rows) : round(bottom * rows), round(left * columns) : round(right * columns)]
    pixels = np.ascontiguousarray(pixels[part])
    scale = PHOTO_SIDE / max(pixels.shape[:2])
    if scale < 1:
        size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    jpeg = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 88])[1].tobytes()
    return jpeg, (pixels.shape[1], pixels.shape[0])


def _middle_ev100(found: MeteredPhoto) -> float:
    """The EV at ISO 100 that this exposure puts on Zone V."""
    any_spot = found.metered.shadow or next(iter(found.metered.spots), None)
    if any_spot:
        return any_spot.reading.ev100 - (any_spot.zone - MIDDLE)
    return found.metered.average.ev100


def _mark(name: str, spot: SpotReading, found: MeteredPhoto) -> SpotMark:
    radius = spot_radius(spot.degrees, found.focal_35mm, found.light.size) / found.light.size[0]
    return SpotMark(spot.x, spot.y, radius, f"{name} {zone_text(spot.zone)}")


def _strip(found: MeteredPhoto) -> Strip:
    lens, preferred = found.order.kit.lens, found.metered.settled.preference.index
    marks = [(mark_text(mark), exact) for mark, exact in zip(lens.marks, lens.exact_marks, strict=True)]
    if preferred is None:
        return Strip(marks, clicks=_clicks(lens))
    rung: Rung = found.metered.settled.rungs[preferred]
    return Strip(
        marks,
        pointer=rung.f_number,
        setting=rung.aperture,
        caption=pointer_words(rung.between.below, rung.between.above, rung.between.fraction),
        shutter=f"B {time_text(rung.hold_s)}" if rung.bulb else rung.shutter,
        clicks=_clicks(lens),
    )


def _clicks(lens: Lens) -> list[float]:
    per_stop = CLICKS_PER_STOP[lens.iris]
    return [f_number_at(place) for place in click_positions(lens.exact_marks, per_stop)] if per_stop else []
