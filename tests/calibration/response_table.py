"""Responses side by side: fit on one scene, judged on another. Run with python -m tests.calibration.response_table."""

from dataclasses import replace

import numpy as np

from calibration.exposure_series import Frame, pick
from calibration.fit import solve
from tests.calibration import baselines, simulated
from tests.calibration.judging import errors, spread

FIVE = (-2.0, -1.0, 0.0, 1.0, 2.0)


def ours(frames: list[Frame]) -> np.ndarray:
    """This project's fit."""
    return solve([pick(frames)]).stops


METHODS = {
    "sRGB": baselines.srgb,
    "OpenCV Debevec": baselines.opencv_debevec,
    "OpenCV Robertson": baselines.opencv_robertson,
    "colour-hdri Debevec": baselines.colour_hdri_debevec,
    "ours": ours,
}


def with_a_boat(frames: list[Frame]) -> list[Frame]:
    """A bright thing that moves from frame to frame."""
    moved = []
    for number, frame in enumerate(frames):
        rgb = frame.rgb.copy()
        rgb[60:90, 20 * number : 20 * number + 30] = (210, 205, 190)
        moved.append(replace(frame, rgb=rgb))
    return moved


def with_a_wrong_exif(frames: list[Frame]) -> list[Frame]:
    """The second frame states a stop more than it got."""
    return [replace(frame, stops=frame.stops + (number == 1)) for number, frame in enumerate(frames)]


CASES = {
    **{camera.name: (camera, list) for camera in (*simulated.STILL, *simulated.ADAPTIVE)},
    "steep, a boat moves": (simulated.STILL[1], with_a_boat),
    "steep, one wrong EXIF": (simulated.STILL[1], with_a_wrong_exif),
}


def row(name: str, methods: dict = METHODS, train: int = 1, judge: int = 2) -> dict[str, tuple[float, float, float]]:
    """Cross-scene spread, median and 95th percentile of the error by method, for one case. [stops]"""
    camera, spoil = CASES[name]
    frames = spoil(simulated.series(simulated.scene(train), camera, FIVE, seed=train))
    light = simulated.scene(judge)
    others = simulated.series(light, camera, FIVE, seed=judge)
    found = {}
    for method, fit in methods.items():
        tables = fit(frames)
        off = errors(others, light, tables)
        found[method] = (spread(others, tables), off.median, off.p95)
    return found


def table(methods: dict = METHODS) -> dict[str, dict[str, tuple[float, float, float]]]:
    """All cases."""
    return {name: row(name, methods) for name in CASES}


def main() -> None:
    """Print the table."""
    rows = table()
    columns = list(METHODS)
    print("fit on five frames (-2 to +2) of one scene, judged on another: spread / median / 95th percentile [stops]")
    print(" " * 22, *(f"{name:>21}" for name in columns))
    for case, found in rows.items():
        cells = ("{:.3f} {:.3f} {:.3f}".format(*found[name]) for name in columns)
        print(f"{case:22}", *(f"{cell:>21}" for cell in cells))
    means = (np.mean([found[name][0] for found in rows.values()]) for name in columns)
    print(f"{'mean spread':22}", *(f"{mean:>21.3f}" for mean in means))


if __name__ == "__main__":
    main()
