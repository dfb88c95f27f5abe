"""How a simulated camera meters a scene, chooses time and ISO, and states them."""

from dataclasses import dataclass
from math import log2

import cv2
import numpy as np

from sample_scenes.card import AutoExposure, Card
from sample_scenes.sensor import level_per_luminance

METER_WIDTH = 80  # pixels: cameras meter on a few hundred cells
NIGHT_CD = 8.0  # [cd/m²]: below this a camera lets the night look like night
NOMINAL_TIMES = (30, 25, 20, 15, 13, 10, 8, 6, 5, 4, 3.2, 2.5, 2, 1.6, 1.3, 1, 0.8, 0.6, 0.5, 0.4, 0.3)  # 2^(5 - k/3) s
NOMINAL_PARTS = (4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800)
NOMINAL_FAST = (1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000)  # both: 1/n s, common camera markings
NOMINAL_ISO = (50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200)
NOMINAL_ISO_HIGH = (4000, 5000, 6400, 8000, 10000, 12800)


@dataclass(frozen=True)
class Setting:
    """An exposure as it is stated and as it really was. [s, ISO]"""

    stated_time_s: float
    stated_iso: int
    time_s: float
    iso: float


@dataclass(frozen=True)
class Metered:
    """What the meter found at bias 0."""

    gain: float  # the level that 1 cd/m² should get [1/(cd/m²)]
    luminance: float  # what it took the scene for [cd/m²]


def meter(luminance: np.ndarray, card: Card) -> Metered:
    """Meter a scene as this camera does, at bias 0.

    luminance: as it reaches the sensor, fall-off undone, float32 (rows, columns). [cd/m²]
    The gain brings the weighted mean level, clipped where the sensor clips, to the target; then highlights may pull it
    down, and darkness.
    """
    rows, columns = luminance.shape
    small_rows = max(1, round(rows * METER_WIDTH / columns))
    cells = cv2.resize(luminance, (METER_WIDTH, small_rows), interpolation=cv2.INTER_AREA).clip(1e-6)
    weights = _weights(cells.shape, card.exposure.metering)
    habit, headroom = card.exposure, card.sensor.headroom
    gain = _gain_for(cells, weights, habit.target, headroom)
    taken_for = habit.target / gain
    bright = float(np.quantile(cells, 1 - habit.clipped_share)) if habit.clipped_share < 1 else 0.0
    if bright * gain > headroom:
        gain *= 2 ** -min(habit.clipped_pull, log2(bright * gain / headroom))
    gain *= 2 ** (-habit.night_droop * max(0.0, log2(NIGHT_CD / taken_for)))
    return Metered(gain, taken_for)


def _weights(shape: tuple[int, int], metering: str) -> np.ndarray:
    """Weights of the meter's cells, sum 1. (rows, columns)"""
    y, x = np.ogrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    floor, width = {"average": (1.0, 1.0), "centre": (0.05, 0.35), "pattern": (0.4, 0.6)}[metering]
    weights = floor + (1 - floor) * np.exp(-(x * x + y * y) / (2 * width**2))
    return weights / weights.sum()


def _gain_for(cells: np.ndarray, weights: np.ndarray, target: float, headroom: float) -> float:
    """The gain at which the weighted mean of the clipped levels is the target, by bisection in stops."""
    low, high = -40.0, 40.0
    for _ in range(50):
        middle = (low + high) / 2
        mean = float((weights * np.minimum(cells * 2.0**middle, headroom)).sum())
        low, high = (middle, high) if mean < target else (low, middle)
    return 2.0 ** ((low + high) / 2)


def choose(gain: float, card: Card) -> Setting:
    """Time and ISO for this gain along the camera's programme line; at its ends the camera does what it can."""
    wanted = gain / level_per_luminance(card.lens.f_number, 1.0, 1.0)  # real seconds x ISO
    time_s, iso = _on_programme(log2(wanted), card)
    low, high = card.exposure.programme[0][0], card.exposure.programme[-1][0]
    if card.exposure.steps == "fine":
        iso = round(iso)
        time_s = min(max(wanted / card.iso_real(iso), low), high)
    return state(time_s, iso, card)


def _on_programme(wanted: float, card: Card) -> tuple[float, float]:
    """Where the line reaches log2(real seconds x ISO) = wanted; straight between corners in stops."""
    corners = card.exposure.programme
    products = [log2(time_s * card.iso_real(iso)) for time_s, iso in corners]
    time_s = 2.0 ** np.interp(wanted, products, [log2(corner[0]) for corner in corners])
    iso = 2.0 ** np.interp(wanted, products, [log2(corner[1]) for corner in corners])
    return float(time_s), float(iso)


def state(time_s: float, iso: float, card: Card) -> Setting:
    """The nearest exposure that the camera can make to this stated time and ISO, and how it states that."""
    if card.exposure.steps == "thirds":
        stated_time_s, time_s = _nearest(time_s, _time_series())
        stated_iso, exact_iso = _nearest(iso, _iso_series())
        return Setting(stated_time_s, int(stated_iso), time_s, card.iso_real(exact_iso))
    time_s = 1 / round(1 / time_s) if time_s < 0.05 else round(time_s, 4)
    return Setting(time_s, round(iso), time_s, card.iso_real(round(iso)))


def _time_series() -> list[tuple[float, float]]:
    """Nominal and exact times of third stops. [s]"""
    nominal = [*map(float, NOMINAL_TIMES), *(1 / n for n in NOMINAL_PARTS + NOMINAL_FAST)]
    return [(marked, 2.0 ** (5 - k / 3)) for k, marked in enumerate(nominal)]


def _iso_series() -> list[tuple[float, float]]:
    """Nominal and exact ISO of third stops."""
    return [(float(marked), 100 * 2.0 ** (k / 3 - 1)) for k, marked in enumerate(NOMINAL_ISO + NOMINAL_ISO_HIGH)]


def _nearest(value: float, series: list[tuple[float, float]]) -> tuple[float, float]:
    return min(series, key=lambda pair: abs(log2(pair[1] / value)))


def brightness_value(metered: Metered, habit: AutoExposure) -> float | None:
    """What the camera writes as BrightnessValue, or None when it writes none."""
    if habit.brightness_unit == 0:
        return None
    return log2(metered.luminance / habit.brightness_unit) + habit.brightness_offset
