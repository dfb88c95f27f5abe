"""SVG to PNG and PDF, the same on every machine: the lettering comes from fonts that the library carries inside."""

import re

from meter.errors import MeterError

_POINTS = {"": 0.75, "px": 0.75, "pt": 1.0, "mm": 72 / 25.4, "cm": 72 / 2.54, "in": 72.0}  # CSS: 96 px are an inch
_ROOT = re.compile(r"<svg\b[^>]*>")
_LENGTH = re.compile(r'\s(width|height)="([0-9.]+)([a-z]*)"')
_LAST_EMBEDDED = "\u2fff"  # the embedded fonts have no East Asian scripts: beyond this the system's fonts may help
LARGEST_SIDE_PX = 8_000
FINER = 2  # drawn this much finer, then reduced: typst 0.15 now and then loses a column of pixels in a letter's stem


def png_of(svg: str, width_px: int | None = None) -> bytes:
    """A PNG of an SVG, width_px wide, by default one pixel a user unit (a CSS pixel). Raises MeterError."""
    import cv2
    import numpy as np

    width_pt, height_pt = _size_pt(svg)
    width = width_px or max(round(width_pt / _POINTS["px"]), 1)
    height = max(round(width * height_pt / width_pt), 1)
    if not 1 <= max(width, height) <= LARGEST_SIDE_PX:
        raise MeterError(f"a PNG of {width} x {height} pixels is too large; a side may have {LARGEST_SIDE_PX}")
    fine = _plate(svg, format="png", ppi=72 * FINER * width / width_pt)
    pixels = cv2.imdecode(np.frombuffer(fine, np.uint8), cv2.IMREAD_COLOR)
    return cv2.imencode(".png", cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA))[1].tobytes()


def pdf_of(svg: str) -> bytes:
    """A one-page PDF of an SVG, vector, at the size that the SVG states. Raises MeterError."""
    return _plate(svg, format="pdf")


def _size_pt(svg: str) -> tuple[float, float]:
    root = _ROOT.search(svg)
    sides = {side: float(number) * _POINTS[unit] for side, number, unit in _LENGTH.findall(root[0] if root else "")}
    if len(sides) != 2 or min(sides.values()) <= 0:
        raise MeterError("this drawing does not state its width and height, so it cannot become a PNG or PDF")
    return sides["width"], sides["height"]


def _plate(svg: str, **how: object) -> bytes:
    try:
        import typst
    except ImportError as error:
        raise MeterError(f"PNG and PDF need the package typst ({error}); or choose a name ending in .svg") from error
    width, height = _size_pt(svg)
    page = (
        "#set document(date: none)\n"
        f"#set page(width: {width}pt, height: {height}pt, margin: 0pt)\n"
        '#image("drawing.svg", width: 100%, height: 100%)'
    )
    files = {"main.typ": page.encode(), "drawing.svg": svg.encode()}
    try:
        return typst.compile(files, ignore_system_fonts=max(svg) <= _LAST_EMBEDDED, **how)
    except typst.TypstError as error:
        raise MeterError(f"the drawing could not be turned into a picture: {error}") from error
