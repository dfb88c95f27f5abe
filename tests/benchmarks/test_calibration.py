"""Ratios in one run: a response from nine photos against decoding them, a reading of three photos against one.

pytest -m benchmark -s prints them; the targets stand beside each figure.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from meter.jobs.calibrate_response import calibrate_response
from meter.jobs.load_order import Wish
from meter.jobs.meter_photo import meter_photos
from tests.benchmarks.test_reading import paired_ratio, report
from tests.photos import PHONE, write_jpeg

pytestmark = pytest.mark.benchmark
SIZE = (4000, 3000)


@pytest.fixture(scope="module")
def nine(tmp_path_factory) -> list[Path]:
    """Nine 12-megapixel JPEGs of one place, half a stop apart, rendered as sRGB."""
    folder = tmp_path_factory.mktemp("nine")
    rng = np.random.default_rng(8)
    levels = [rng.normal(0, 1, (3 * 4**i // 4 + 1, 4**i + 1)).astype(np.float32) for i in range(1, 7)]
    stops = sum(cv2.resize(level, SIZE, interpolation=cv2.INTER_CUBIC) for level in levels) * 0.6
    return [_photo(folder / f"{number}.jpg", stops, (number - 4) / 2) for number in range(9)]


def _photo(path: Path, stops: np.ndarray, exposure: float) -> Path:
    linear = np.clip(0.18 * np.exp2(stops + np.float32(exposure)), 0, 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-6) ** (1 / 2.4) - 0.055)
    grey = np.rint(encoded * 255).astype(np.uint8)
    return write_jpeg(path, np.repeat(grey[:, :, None], 3, axis=2), PHONE | {"ExposureTime": 2.0**exposure / 60})


def test_response_against_decoding(nine, tmp_path):
    def decode() -> None:
        for file in nine:
            cv2.imdecode(np.frombuffer(file.read_bytes(), np.uint8), cv2.IMREAD_COLOR)

    ratio = paired_ratio(lambda: calibrate_response(nine, profile=str(tmp_path / "p.toml")), decode, 3)
    report("response from nine photos / decoding them", ratio, 2.5)


def test_three_photos_against_one(nine):
    three = [nine[0], nine[4], nine[8]]
    ratio = paired_ratio(lambda: meter_photos(three, Wish()), lambda: meter_photos(three[1:2], Wish()), 5)
    report("reading of three photos merged / of one", ratio, 4.0)
