"""Numbers of the accuracy report: how far readings are off, and how often the truth lies where they say."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.accuracy.measure import NAMED, Measure

CODE_EDGES = (0, 15, 30, 60, 100, 150, 190, 256)
TWO_SIDED_95 = 1.96


@dataclass(frozen=True)
class Row:
    """One line of the report. median, p95: of |error| where the bound is exact; bias: median error. [stops]

    within_68, within_95: how often the truth lies inside the stated interval, over all readings, bounds included.
    sigma: median stated. [stops] exact: how many readings are no bound.
    """

    label: str
    count: int
    median: float
    p95: float
    bias: float
    sigma: float
    within_68: float
    within_95: float
    exact: int


def row(label: str, measures: Iterable[Measure]) -> Row | None:
    """Sum up readings; None where there are none."""
    some = list(measures)
    if not some:
        return None
    errors = np.array([m.error for m in some if m.bound == "exact"] or [np.nan])
    return Row(
        label,
        len(some),
        float(np.median(np.abs(errors))),
        float(np.percentile(np.abs(errors), 95)),
        float(np.median(errors)),
        float(np.median([m.sigma for m in some])),
        float(np.mean([m.within(1.0) for m in some])),
        float(np.mean([m.within(TWO_SIDED_95) for m in some])),
        sum(m.bound == "exact" for m in some),
    )


def rows(measures: Sequence[Measure]) -> list[tuple[str, list[Row]]]:
    """The report in sections: overall, by camera, by scene, by what was read, by code value."""

    def by(labels: Iterable[str], chosen: Callable[[Measure, str], bool], prefix: str = "") -> list[Row]:
        found = (row(prefix + label, [m for m in measures if chosen(m, label)]) for label in labels)
        return [one for one in found if one]

    cameras = dict.fromkeys(m.camera for m in measures)
    scenes = dict.fromkeys(m.scene for m in measures)
    bins = [f"{low}-{high - 1}" for low, high in pairwise(CODE_EDGES)]
    return [
        ("all", by(("training", "test"), lambda m, label: m.group == label)),
        ("camera", by(cameras, lambda m, label: m.camera == label)),
        ("scene", by(scenes, lambda m, label: m.scene == label)),
        ("reading", by(("average", *NAMED, "grid"), lambda m, label: m.what == label)),
        ("code value", by(bins, lambda m, label: label == bin_of(m.code))),
    ]


def bin_of(code: float) -> str:
    """The name of the bin that holds a code value."""
    low = max(edge for edge in CODE_EDGES[:-1] if edge <= code)
    high = min(edge for edge in CODE_EDGES[1:] if edge > low)
    return f"{low}-{high - 1}"


def text(measures: Sequence[Measure]) -> str:
    """The report as a table of text."""
    head = f"{'':14}{'n':>6}{'median':>8}{'p95':>7}{'bias':>7}{'sigma':>7}{'in 68 %':>9}{'in 95 %':>9}{'exact':>7}"
    lines = [head]
    for section, found in rows(measures):
        lines += ["", section]
        lines += [
            f"  {r.label:12}{r.count:6}{r.median:8.2f}{r.p95:7.2f}{r.bias:+7.2f}{r.sigma:7.2f}"
            f"{r.within_68:9.1%}{r.within_95:9.1%}{r.exact:7}"
            for r in found
        ]
    return "\n".join(lines)


def side_by_side(before: Sequence[Measure], after: Sequence[Measure]) -> str:
    """Before and after calibration, on the same places: all, then each camera. Codes 15 to 240, bounds left out."""
    head = f"{'':14}{'median':>8}{'after':>7}{'p95':>7}{'after':>7}{'sigma':>7}{'after':>7}{'in 95 %':>9}{'after':>8}"
    labels = [
        ("training", "group"),
        ("test", "group"),
        *((name, "camera") for name in dict.fromkeys(m.camera for m in before)),
    ]
    lines = [head]
    for label, what in labels:
        a, b = (row(label, [m for m in some if getattr(m, what) == label and _in_range(m)]) for some in (before, after))
        if a and b:
            lines.append(
                f"  {label:12}{a.median:8.2f}{b.median:7.2f}{a.p95:7.2f}{b.p95:7.2f}{a.sigma:7.2f}{b.sigma:7.2f}"
                f"{a.within_95:9.1%}{b.within_95:8.1%}"
            )
    return "\n".join(lines)


def _in_range(measure: Measure) -> bool:
    return 15 <= measure.code <= 240 and measure.bound == "exact" and measure.what != "average"
