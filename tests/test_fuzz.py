"""Random bytes and damaged photos: whatever comes in, a reading or one sentence comes out."""

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from meter.errors import MeterError
from meter.jobs.load_order import Wish
from meter.jobs.meter_photo import meter_photos
from tests.photos import PHONE, wall_and_hedge, write_jpeg

pytestmark = pytest.mark.fuzz
FEW = settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
HEADS = [
    b"",
    b"\xff\xd8\xff\xe1",
    b"\x89PNG\r\n\x1a\n",
    b"II*\0",
    b"MM\0*",
    b"\0\0\0\x18ftypheic",
    b"\xff\xd8\xff\xe0\0\x10JFIF\0",
]


def meter_bytes(folder, data: bytes) -> None:
    path = folder / "fuzzed.jpg"
    path.write_bytes(data)
    try:
        found = meter_photos([path], Wish())
    except MeterError as error:
        assert "\n" not in str(error)
    else:
        assert found.answer["average"]["sigma"] > 0


@FEW
@given(st.sampled_from(HEADS), st.binary(max_size=2000))
def test_random_bytes(tmp_path, head, body):
    meter_bytes(tmp_path, head + body)


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> bytes:
    path = tmp_path_factory.mktemp("whole") / "whole.jpg"
    return write_jpeg(path, wall_and_hedge((160, 120)), PHONE).read_bytes()


@FEW
@given(st.integers(0, 2**32), st.integers(1, 40), st.floats(0, 1))
def test_mutated_jpegs(tmp_path, whole, seed, changes, where):
    """Bytes changed anywhere, or only in the headers (where metadata lives)."""
    rng = random.Random(seed)
    data = bytearray(whole)
    end = len(data) if where > 0.5 else 700
    for _ in range(changes):
        data[rng.randrange(2, end)] = rng.randrange(256)
    meter_bytes(tmp_path, bytes(data))


@FEW
@given(st.integers(0, 2**32))
def test_cut_and_spliced_jpegs(tmp_path, whole, seed):
    rng = random.Random(seed)
    a, b = sorted(rng.randrange(len(whole)) for _ in range(2))
    meter_bytes(tmp_path, rng.choice([whole[:a], whole[:a] + whole[b:], whole[a:], whole + whole[a:b]]))
