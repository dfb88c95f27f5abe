"""Ratios in one run: a reading against a bare decode, processes against bare imports, memory against pixels.

pytest -m benchmark -s prints them. Nothing here is judged by the clock; the targets stand beside each figure.
"""

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import pytest

from meter.jobs.load_order import Wish
from meter.jobs.meter_photo import SpotWish, meter_photos
from tests.conftest import CHECKOUT
from tests.photos import PHONE, write_jpeg

pytestmark = pytest.mark.benchmark
SPOTS = (SpotWish(0.3, 0.3), SpotWish(0.5, 0.5), SpotWish(0.7, 0.7))
ROUNDS = 9


@pytest.fixture(scope="module")
def twelve_megapixels(tmp_path_factory) -> Path:
    """A 4000 x 3000 JPEG with detail at every scale, as a phone's photo has."""
    rng = np.random.default_rng(8)
    levels = [rng.normal(0, 1, (3 * 4**i // 4 + 1, 4**i + 1, 3)).astype(np.float32) for i in range(1, 7)]
    picture = sum(cv2.resize(level, (4000, 3000), interpolation=cv2.INTER_CUBIC) * 18 for level in levels)
    path = tmp_path_factory.mktemp("bench") / "twelve.jpg"
    return write_jpeg(path, np.clip(picture + 118, 0, 255).astype(np.uint8), PHONE)


def paired_ratio(ours, theirs, rounds: int = ROUNDS) -> float:
    """Median over rounds of ours / theirs, run in turn so that a slow spell hits both."""
    ratios = []
    for _ in range(rounds):
        start = time.perf_counter()
        theirs()
        middle = time.perf_counter()
        ours()
        ratios.append((time.perf_counter() - middle) / (middle - start))
    return statistics.median(ratios)


def report(what: str, ratio: float, target: float) -> None:
    print(f"\n{what}: {ratio:.2f} (target {target:g})", "" if ratio <= target else "  ABOVE TARGET")


def test_reading_against_a_bare_decode(twelve_megapixels, benchmark):
    data = np.frombuffer(twelve_megapixels.read_bytes(), np.uint8)
    ratio = paired_ratio(
        lambda: meter_photos([twelve_megapixels], Wish(), spots=SPOTS), lambda: cv2.imdecode(data, cv2.IMREAD_COLOR)
    )
    report("full reading / full cv2.imdecode", ratio, 2.0)
    benchmark.extra_info["ratio"] = ratio
    benchmark.pedantic(lambda: meter_photos([twelve_megapixels], Wish(), spots=SPOTS), rounds=3)


def _process(*words: str):
    """A process with its modules compiled, as an installation has them; called once so that they are."""
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}

    def run():
        subprocess.run([sys.executable, *words], check=True, capture_output=True, cwd=CHECKOUT, env=environment)

    run()
    return run


def test_read_as_a_process(twelve_megapixels):
    bare = f"import cv2; cv2.imread({str(twelve_megapixels)!r})"
    ours = _process("-m", "meter", "read", str(twelve_megapixels))
    report("stopgap read / import cv2 and imread", paired_ratio(ours, _process("-c", bare)), 3.0)


def test_settings_as_a_process():
    ours = _process("-m", "meter", "settings", "--ev", "12")
    report("stopgap settings / import click", paired_ratio(ours, _process("-c", "import click"), 15), 2.5)


def test_peak_memory_of_a_reading(twelve_megapixels):
    """Of a process of its own, imports and all, against the decoded pixels' bytes (36 MB); where /proc tells it."""
    probe = (
        "import sys; from pathlib import Path\n"
        "from meter.jobs.load_order import Wish; from meter.jobs.meter_photo import meter_photos\n"
        "meter_photos([Path(sys.argv[1])], Wish())\n"
        "print(next(line for line in open('/proc/self/status') if line.startswith('VmHWM')).split()[1])"
    )
    environment = os.environ | {"PYTHONPATH": str(CHECKOUT)}
    command = [sys.executable, "-c", probe, str(twelve_megapixels)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=environment)
    peak, pixels = int(done.stdout) * 1024, 4000 * 3000 * 3
    report("peak memory of the process / decoded pixels", peak / pixels, 12)
    assert peak < 12 * pixels  # bytes are counted, not timed
