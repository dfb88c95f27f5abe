"""The strip: a lens's own aperture scale drawn straight, with the pointer where it belongs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from meter.draw.lettering import fitted, width_of
from meter.draw.svg import INK, PAPER, SOFT_INK, Fragment, element, line, words
from meter.errors import BadInput
from meter.stops import aperture_stops

OVERRUN_STOPS = 0.05  # a pointer this far past the last mark still stands on it, as an iris has a little play
_RAIL_Y, _MARK_Y, _LABEL_Y, _HEIGHT = 62.0, 92.0, 114.0, 128.0
_INSET = 26.0  # from the ends of the scale to the first and last mark: room for half a label
_ROOMY_TENTHS, _ROOMY_FIFTHS = 50.0, 20.0  # the least room between two marks for ten and for five parts


@dataclass(frozen=True)
class Strip:
    """What one strip shows.

    marks: (as engraved, exact f-number), widest first. pointer: exact f-number, or None for a scale alone.
    setting: "f/11 + 0.4". caption: "4/10 of the way from 11 to 16". shutter: "1/125"; any of them may be empty.
    clicks: exact f-numbers at which the iris clicks; none for one that stops anywhere.
    """

    marks: Sequence[tuple[str, float]]
    pointer: float | None = None
    setting: str = ""
    caption: str = ""
    shutter: str = ""
    clicks: Sequence[float] = ()


def strip_svg(strip: Strip, width: float) -> Fragment:
    """Draw a strip as wide as asked, at least 300 units. Raises BadInput for marks that do not grow."""
    check_marks(strip.marks)
    left = _shutter_room(strip.shutter, width)
    scale = _Scale([number for _, number in strip.marks], left + _INSET, width - _INSET)
    top = 0.0 if strip.pointer is not None or strip.shutter or strip.setting else _RAIL_Y - 8
    parts = [
        *_shutter(strip.shutter, width),
        *_engraving(strip, scale, left, width),
        *_pointer(strip, scale, left, width),
    ]
    return Fragment(element("g", "".join(parts), transform=f"translate(0 {-top:g})"), width, _HEIGHT - top)


def check_marks(marks: Sequence[tuple[str, float]]) -> None:
    """Raise BadInput unless there are marks whose f-numbers grow."""
    stops = [aperture_stops(number) for _, number in marks]
    if not stops or any(after - before < 0.01 for before, after in pairwise(stops)):
        shown = ", ".join(f"{label} ({number:g})" for label, number in marks) or "none"
        raise BadInput(f"an aperture scale needs marks that grow from the widest to the smallest; got {shown}")


def position(f_number: float, marks: Sequence[float], start: float, end: float) -> float:
    """Where an exact f-number stands on a scale from start (first mark) to end (last mark): even in stops.

    Raises BadInput where it lies more than OVERRUN_STOPS outside the marks.

    >>> position(2.0**3, [2.0**2.5, 2.0**3.5], 0.0, 100.0)
    50.0
    """
    low, high, stops = aperture_stops(marks[0]), aperture_stops(marks[-1]), aperture_stops(f_number)
    if not low - OVERRUN_STOPS <= stops <= high + OVERRUN_STOPS:
        raise BadInput(f"f/{f_number:.3g} lies outside the scale, f/{marks[0]:.3g} to f/{marks[-1]:.3g}")
    if high == low:
        return (start + end) / 2
    return start + (end - start) * min(max((stops - low) / (high - low), 0.0), 1.0)


@dataclass(frozen=True)
class _Scale:
    """The marks' f-numbers and where the first and the last of them stand."""

    numbers: Sequence[float]
    start: float
    end: float

    def x(self, f_number: float) -> float:
        return position(f_number, self.numbers, self.start, self.end)


def _engraving(strip: Strip, scale: _Scale, left: float, width: float) -> Iterator[str]:
    yield line(left, _RAIL_Y, width, _RAIL_Y, 1.6)
    yield line(left, _RAIL_Y + 3.2, width, _RAIL_Y + 3.2, 0.5)
    for x, length, weight in _ticks(scale):
        yield line(x, _RAIL_Y + 3.2, x, _RAIL_Y + 3.2 + length, weight)
    for f_number in strip.clicks:
        yield element("circle", cx=scale.x(f_number), cy=_MARK_Y + 1, r=1.7, fill=INK)
    last_end = left - 4.0
    for label, f_number in strip.marks:
        half = width_of(label, 19) / 2
        x = scale.x(f_number)
        yield line(x, _RAIL_Y, x, _MARK_Y - 4, 1.8)
        if x - half >= last_end:  # a label that would touch its neighbour is left out, its mark stays
            last_end = x + half + 3
            yield words(x, _LABEL_Y, label, 19, anchor="middle", font_weight="600")


def _ticks(scale: _Scale) -> Iterator[tuple[float, float, float]]:
    """Where the fine ticks between the marks stand, how long and how heavy: parts of the way, as the eye divides it."""
    for before, after in pairwise(scale.x(number) for number in scale.numbers):
        room = after - before
        parts = 10 if room >= _ROOMY_TENTHS else 5 if room >= _ROOMY_FIFTHS else 2
        for part in range(1, parts):
            half_way = 2 * part == parts
            yield before + room * part / parts, 15.0 if half_way else 9.0, 0.9 if half_way else 0.6


def _pointer(strip: Strip, scale: _Scale, left: float, width: float) -> Iterator[str]:
    """The pointer, and over it the setting with its caption, pushed inwards at the ends of the scale."""
    x = (left + width) / 2
    if strip.pointer is not None:
        x = scale.x(strip.pointer)
        yield element("path", d=f"M{x:.2f} {_RAIL_Y}l-6.5 -17h13z", fill=INK)
        yield element("path", d=f"M{x:.2f} {_RAIL_Y - 4}v{_MARK_Y - _RAIL_Y - 4:g}", stroke=PAPER, stroke_width=3.4)
        yield line(x, _RAIL_Y - 2, x, _MARK_Y - 6, 1.3)
    caption, caption_size = fitted(strip.caption, 17, (width - left) * 0.6, 10)
    caption_width = width_of(caption, caption_size) + 12 if caption else 0.0
    setting, setting_size = fitted(strip.setting, 27, width - left - caption_width, 12)
    setting_width = width_of(setting, setting_size)
    start = min(max(x - setting_width / 2, left), width - setting_width - caption_width)
    if setting:
        yield words(start, 33, setting, setting_size, font_weight="600")
    if caption:
        yield words(start + setting_width + 12, 33, caption, caption_size, color=SOFT_INK, font_style="italic")


def _shutter_room(shutter: str, width: float) -> float:
    return max(width_of(*_shutter_text(shutter, width)), width_of("shutter", 16)) + 34 if shutter else 0.0


def _shutter_text(shutter: str, width: float) -> tuple[str, float]:
    return fitted(shutter, 34, width * 0.28, 13)


def _shutter(shutter: str, width: float) -> Iterator[str]:
    if shutter:
        text, size = _shutter_text(shutter, width)
        yield words(0, 33, "shutter", 16, color=SOFT_INK, font_style="italic")
        yield words(0, 72, text, size, font_weight="600")
