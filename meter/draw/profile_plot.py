"""A phone's profile as a picture: what its codes stand for against plain sRGB, how sure that is, what is left over."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, log2

from meter.draw.lettering import fitted
from meter.draw.svg import INK, PAPER, SOFT_INK, Fragment, document, element, line, path_of, words
from meter.profile_file import Conditions, ProfileFile
from meter.response import CODES, LUMINANCE_WEIGHTS, MID_CODE, Response, srgb_to_linear

WIDTH, HEIGHT = 820.0, 900.0
BAND = "#d9cdb4"  # of one sigma to each side
FAINT = "#c9bfa9"
UNSEEN = "#efe7d5"  # codes that no photo showed
CODE_MARKS = (0, 32, 64, 96, 118, 160, 192, 224, 255)
ZONES = ("0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
DARKEST_CODE = 2  # left of it sRGB itself is a line of two or three codes
_LEFT, _RIGHT = 74.0, WIDTH - 74.0


@dataclass(frozen=True)
class _Panel:
    """A field with codes across and stops up."""

    top: float
    bottom: float
    low: float
    high: float

    def x(self, code: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * code / (CODES - 1)

    def y(self, stops: float) -> float:
        held = min(max(stops, self.low), self.high)
        return self.bottom - (self.bottom - self.top) * (held - self.low) / (self.high - self.low)

    def curve(self, values: list[float], start: int = 0) -> str:
        return path_of([(self.x(code), self.y(value)) for code, value in enumerate(values, start)])


def profile_plot(file: ProfileFile) -> str:
    """SVG: above, stops from mid-tone by code, sRGB dashed; below, sigma and what the photos still disagree on."""
    response = file.profile.response
    grey = _stops(response)
    plain = [log2(srgb_to_linear(code / 255) / srgb_to_linear(MID_CODE / 255)) for code in range(DARKEST_CODE, CODES)]
    above = _Panel(120, 590, -8.0, min(6.0, max(3.0, float(ceil(max(grey[-1], plain[-1]))))))
    sigma = response.sigma[DARKEST_CODE:]
    below = _Panel(668, 832, 0.0, max(0.3, ceil(10 * min(max(sigma), 1.5)) / 10))
    parts = [
        element("rect", width=WIDTH, height=HEIGHT, fill=PAPER),
        *_heading(file),
        *_unseen(above, file.conditions),
        *_unseen(below, file.conditions),
        *_frame(above, 1.0),
        *_zones(above),
        *_response(above, grey, plain, sigma),
        *_frame(below, 0.1 if below.high < 0.8 else 0.5),
        *_sigma(below, list(sigma), file.conditions),
        *_foot(file.conditions),
    ]
    return document(Fragment("".join(parts), WIDTH, HEIGHT), title=f"Profile of {file.profile.name}")


def _stops(response: Response) -> list[float]:
    """Stops of a grey of each code from DARKEST_CODE on above mid-tone."""
    channels = zip(LUMINANCE_WEIGHTS["srgb"], (response.red, response.green, response.blue), strict=True)
    weighted = [(weight, channel) for weight, channel in channels]
    grey = [sum(weight * channel[code] for weight, channel in weighted) for code in range(CODES)]
    return [log2(max(value, 1e-9) / grey[MID_CODE]) for value in grey[DARKEST_CODE:]]


def _heading(file: ProfileFile) -> Iterator[str]:
    profile = file.profile
    name, size = fitted(profile.name, 30, _RIGHT - _LEFT, 14)
    yield words(_LEFT, 52, name, size, font_weight="600")
    lens = f", {profile.focal_35mm:g} mm" if profile.focal_35mm else ""
    offset = f"offset {profile.offset_stops:+.2f} ± {profile.offset_sigma:.2f} stops"
    text, size = fitted(f"{profile.make} {profile.model}{lens}; {offset}", 16, _RIGHT - _LEFT, 9)
    yield words(_LEFT, 78, text, size, color=SOFT_INK)
    yield words(_LEFT, 108, "stops from mid-tone", 15, color=SOFT_INK, font_style="italic")
    yield words(_RIGHT, 108, "zone", 15, anchor="end", color=SOFT_INK, font_style="italic")


def _frame(panel: _Panel, step: float) -> Iterator[str]:
    """Rails, code marks and stop marks."""
    yield line(_LEFT, panel.bottom, _RIGHT, panel.bottom, 1.6)
    yield line(_LEFT, panel.top, _LEFT, panel.bottom, 0.8)
    for number in range(round((panel.high - panel.low) / step) + 1):
        stops = panel.low + number * step
        y = panel.y(stops)
        yield line(_LEFT - 6, y, _LEFT, y, 0.8)
        label = f"{stops:.1f}" if step < 1 else f"{stops:+.0f}" if stops else "0"
        yield words(_LEFT - 10, y + 5, label.replace("-", "−"), 15, anchor="end")
    for code in CODE_MARKS:
        x = panel.x(code)
        yield line(x, panel.bottom, x, panel.bottom + (10 if code == MID_CODE else 6), 1.2 if code == MID_CODE else 0.8)
        weight = "600" if code == MID_CODE else "400"
        yield words(x, panel.bottom + 25, str(code), 15, anchor="middle", font_weight=weight)


def _zones(panel: _Panel) -> Iterator[str]:
    for number, numeral in enumerate(ZONES):
        stops = number - 5.0
        if panel.low <= stops <= panel.high:
            y = panel.y(stops)
            yield line(_LEFT, y, _RIGHT, y, 0.9 if number == 5 else 0.4, FAINT)
            yield words(_RIGHT + 12, y + 5, numeral, 15, color=SOFT_INK)


def _unseen(panel: _Panel, conditions: Conditions | None) -> Iterator[str]:
    if conditions:
        for first, last in ((0, conditions.first_code), (conditions.last_code, CODES - 1)):
            x, width = panel.x(first), panel.x(last) - panel.x(first)
            yield element("rect", x=x, y=panel.top, width=width, height=panel.bottom - panel.top, fill=UNSEEN)


def _response(panel: _Panel, grey: list[float], plain: list[float], sigma: tuple[float, ...]) -> Iterator[str]:
    upper = [(panel.x(code), panel.y(g + s)) for code, (g, s) in enumerate(zip(grey, sigma, strict=True), DARKEST_CODE)]
    lower = [(panel.x(code), panel.y(g - s)) for code, (g, s) in enumerate(zip(grey, sigma, strict=True), DARKEST_CODE)]
    yield element("path", d=path_of(upper + lower[::-1]) + "z", fill=BAND, fill_opacity=0.85)
    yield element(
        "path",
        d=panel.curve(plain, DARKEST_CODE),
        stroke=SOFT_INK,
        stroke_width=1.3,
        fill="none",
        stroke_dasharray="7 5",
    )
    yield element("path", d=panel.curve(grey, DARKEST_CODE), stroke=INK, stroke_width=2.4, fill="none")
    x, y = panel.x(MID_CODE), panel.y(0)
    yield element("circle", cx=x, cy=y, r=4.2, fill=PAPER, stroke=INK, stroke_width=1.6)
    yield from _key(panel.x(150), panel.bottom - 74)


def _key(x: float, y: float) -> Iterator[str]:
    yield line(x, y, x + 44, y, 2.4)
    yield words(x + 56, y + 5, "this phone", 16)
    yield element("path", d=f"M{x:.1f} {y + 24:.1f}h44", stroke=SOFT_INK, stroke_width=1.3, stroke_dasharray="7 5")
    yield words(x + 56, y + 29, "sRGB decoding", 16)
    yield element("rect", x=x, y=y + 40, width=44, height=14, fill=BAND)
    yield words(x + 56, y + 53, "one standard uncertainty", 16)


def _sigma(panel: _Panel, sigma: list[float], conditions: Conditions | None) -> Iterator[str]:
    title = "standard uncertainty in stops"
    corners = [(panel.x(DARKEST_CODE), panel.bottom), (panel.x(CODES - 1), panel.bottom)]
    points = [(panel.x(code), panel.y(value)) for code, value in enumerate(sigma, DARKEST_CODE)]
    yield element("path", d=path_of([corners[0], *points, corners[1]]) + "z", fill=BAND, fill_opacity=0.85)
    yield element("path", d=path_of(points), stroke=INK, stroke_width=1.8, fill="none")
    if conditions and conditions.residuals:
        title += "; dots: what the photos still disagree by"
        for one in conditions.residuals:
            x = panel.x((one.first_code + one.last_code) / 2)
            yield element("circle", cx=x, cy=panel.y(one.rms_stops), r=4, fill=INK, stroke=PAPER, stroke_width=1.2)
    yield words(_LEFT, panel.top - 14, title, 15, color=SOFT_INK, font_style="italic")


def _foot(conditions: Conditions | None) -> Iterator[str]:
    text = "response not measured here"
    if conditions:
        scenes = "one scene" if conditions.scenes == 1 else f"{conditions.scenes} scenes"
        text = (
            f"{conditions.frames} photos of {scenes} over {conditions.range_stops:.1f} stops; one place differed by "
            f"{conditions.spread_before_stops:.2f} stops, now by {conditions.spread_after_stops:.2f}"
        )
    text, size = fitted(text, 15, _RIGHT - _LEFT, 9)
    yield words(_LEFT, HEIGHT - 16, text, size, color=SOFT_INK)
