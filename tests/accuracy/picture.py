"""One picture of the accuracy report: error against code value, and how often the truth lies in the stated interval."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from meter.draw.svg import INK, PAPER, SOFT_INK, Fragment, document, element, group, line, words
from tests.accuracy.measure import Measure
from tests.accuracy.report import rows

WIDTH, HEIGHT = 1180.0, 620.0
LEFT, TOP, PLOT_W, PLOT_H = 80.0, 90.0, 620.0, 430.0
BARS_LEFT, BARS_W = 860.0, 240.0
MOST_STOPS = 3.0
TEST_INK = "#9a3b1e"  # the two cameras kept for tests


def accuracy_svg(measures: Sequence[Measure], title: str) -> str:
    """Draw it. Each dot is one reading that is no bound; bars show the 95 % coverage of each camera."""
    parts = [
        element("rect", width=WIDTH, height=HEIGHT, fill=PAPER),
        words(LEFT, 40, title, 22, font_weight="bold"),
        words(
            LEFT,
            64,
            "error of a reading against the truth, by code value; band: the median stated 95 % interval",
            15,
            color=SOFT_INK,
        ),
        *_axes(),
        *_dots(measures),
        *_bars(measures),
    ]
    return document(Fragment("".join(parts), WIDTH, HEIGHT), title=title)


def _x(code: float) -> float:
    return LEFT + PLOT_W * code / 255


def _y(stops: float) -> float:
    return TOP + PLOT_H * (0.5 - max(-MOST_STOPS, min(stops, MOST_STOPS)) / (2 * MOST_STOPS))


def _axes() -> Iterator[str]:
    for stops in range(-3, 4):
        yield line(
            LEFT, _y(stops), LEFT + PLOT_W, _y(stops), 1.4 if stops == 0 else 0.5, INK if stops == 0 else SOFT_INK
        )
        yield words(LEFT - 10, _y(stops) + 5, f"{stops:+d}" if stops else "0", 14, anchor="end")
    for code in (0, 50, 100, 118, 150, 200, 255):
        yield line(_x(code), TOP + PLOT_H, _x(code), TOP + PLOT_H + 6, 1)
        yield words(_x(code), TOP + PLOT_H + (36 if code == 118 else 22), f"{code}", 14, anchor="middle")
    yield words(
        LEFT + PLOT_W / 2, TOP + PLOT_H + 58, "mean encoded luma of the spot (118 is the mid-tone)", 15, anchor="middle"
    )
    yield words(LEFT - 52, TOP - 8, "stops", 15)


def _dots(measures: Sequence[Measure]) -> Iterator[str]:
    exact = [m for m in measures if m.bound == "exact"]
    codes = np.array([m.code for m in exact])
    half = 1.96 * np.array([m.sigma for m in exact])
    edges = np.linspace(0, 256, 17)
    steps = []
    for low, high in pairwise(edges):
        inside = (codes >= low) & (codes < high)
        if inside.sum() >= 8:
            steps.append(((low + high) / 2, float(np.median(half[inside]))))
    upper = [f"{_x(c):.1f},{_y(h):.1f}" for c, h in steps]
    lower = [f"{_x(c):.1f},{_y(-h):.1f}" for c, h in reversed(steps)]
    yield element("polygon", points=" ".join(upper + lower), fill=INK, fill_opacity=0.08)
    for group_name, color in (("training", INK), ("test", TEST_INK)):
        marks = (element("circle", cx=_x(m.code), cy=_y(m.error), r=1.6) for m in exact if m.group == group_name)
        yield group(marks, fill=color, fill_opacity=0.35)


def _bars(measures: Sequence[Measure]) -> Iterator[str]:
    (_, cameras) = next(section for section in rows(measures) if section[0] == "camera")
    groups = {m.camera: m.group for m in measures}
    yield words(BARS_LEFT, TOP - 26, "truth within the stated 95 %", 15, color=SOFT_INK)
    step = PLOT_H / max(len(cameras), 1)
    for share in (0.9, 0.95, 1.0):
        x = BARS_LEFT + BARS_W * _share(share)
        yield line(x, TOP - 6, x, TOP + PLOT_H, 1.4 if share == 0.95 else 0.5, INK if share == 0.95 else SOFT_INK)
        yield words(x, TOP + PLOT_H + 22, f"{share:.0%}", 14, anchor="middle")
    for i, one in enumerate(cameras):
        y = TOP + step * (i + 0.5)
        color = TEST_INK if groups[one.label] == "test" else INK
        yield words(BARS_LEFT - 12, y + 5, one.label, 15, anchor="end", color=color)
        yield element(
            "rect",
            x=BARS_LEFT,
            y=y - step * 0.28,
            width=BARS_W * _share(one.within_95),
            height=step * 0.56,
            fill=color,
            fill_opacity=0.75,
        )
        yield words(BARS_LEFT + BARS_W + 10, y + 5, f"{one.within_95:.0%}", 14)
    yield words(BARS_LEFT, TOP + PLOT_H + 58, "in red: cameras kept for tests", 15, color=TEST_INK)


def _share(share: float) -> float:
    """Bars begin at 70 %: what matters lies between 90 and 100."""
    return max(0.0, (share - 0.7) / 0.3)
