"""WAV files written by hand (struct and the standard library's wave) and read back; bad files end in one sentence."""

import struct
import wave

import numpy as np
import pytest

from calibration.recording import read_recording
from meter.errors import BadInput

RATE = 44_100
SHAPE = np.array([0.0, 0.5, -0.5, 0.25, -1.0, 0.75])
LAST_DIGIT = {1: 1 / 128, 2: 1 / 32768, 3: 1 / 2**23, 4: 1 / 2**24}  # 32 bits are kept to float32's 24


def write_pcm(path, width: int, channels: int = 1, rate: int = RATE, samples=SHAPE):
    full = 2 ** (8 * width - 1)
    whole = np.clip(np.round(samples * full), -full, full - 1).astype(np.int64) + (128 if width == 1 else 0)
    frames = b"".join(int(v).to_bytes(width, "little", signed=width > 1) * channels for v in whole)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(width)
        out.setframerate(rate)
        out.writeframes(frames)
    return path


def write_raw(path, tag: int, bits: int, data: bytes, channels: int = 1, extra: bytes = b""):
    block = channels * bits // 8
    chunk = struct.pack("<HHIIHH", tag, channels, RATE, RATE * block, block, bits)
    body = b"WAVEfmt " + struct.pack("<I", len(chunk)) + chunk + extra + b"data" + struct.pack("<I", len(data)) + data
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    return path


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("width", [1, 2, 3, 4])
def test_pcm_of_each_width_has_full_scale_one(tmp_path, width, channels):
    recording = read_recording(write_pcm(tmp_path / "clicks.wav", width, channels))

    assert recording.rate_hz == RATE
    assert recording.samples.shape == (len(SHAPE), channels)
    assert recording.samples.dtype == np.float32
    assert recording.samples[:, -1] == pytest.approx(SHAPE, abs=LAST_DIGIT[width])


@pytest.mark.parametrize(("bits", "code"), [(32, "f"), (64, "d")])
def test_floating_point_samples_are_kept(tmp_path, bits, code):
    data = struct.pack(f"<{len(SHAPE)}{code}", *SHAPE)

    recording = read_recording(write_raw(tmp_path / "clicks.wav", 3, bits, data))

    assert recording.samples[:, 0] == pytest.approx(SHAPE)
    assert recording.length_s == pytest.approx(len(SHAPE) / RATE)


def test_foreign_chunks_are_passed_over(tmp_path):
    note = b"LIST" + struct.pack("<I", 4) + b"INFO" + b"junk" + struct.pack("<I", 2) + b"ab"
    data = struct.pack("<6h", *range(0, 600, 100))

    assert len(read_recording(write_raw(tmp_path / "clicks.wav", 1, 16, data, extra=note)).samples) == 6


def test_a_tail_that_was_cut_off_costs_only_the_tail(tmp_path):
    path = write_pcm(tmp_path / "clicks.wav", 2, samples=np.tile(SHAPE, 100))
    path.write_bytes(path.read_bytes()[:-200])

    assert len(read_recording(path).samples) == 500


def float_file(path, value):
    return write_raw(path, 3, 32, struct.pack("<3f", 0.0, value, 0.5))


BAD = {
    "missing": (lambda p: p, "does not exist"),
    "a folder": (lambda p: p.mkdir() or p, "not a file"),
    "empty": (lambda p: p.write_bytes(b"") or None, "is empty"),
    "text": (lambda p: p.write_text("not sound"), "not a WAV recording"),
    "a header alone": (lambda p: p.write_bytes(b"RIFF\x24\0\0\0WAVE"), "not a WAV recording"),
    "half a header": (lambda p: write_pcm(p, 2) and p.write_bytes(p.read_bytes()[:30]), "not a WAV recording"),
    "no data chunk": (lambda p: write_pcm(p, 2) and p.write_bytes(p.read_bytes()[:36]), "not a WAV recording"),
    "no samples": (lambda p: write_pcm(p, 2, samples=SHAPE[:0]), "holds no samples"),
    "compressed": (lambda p: write_raw(p, 0x55, 16, b"\0" * 64), "not a WAV recording"),
    "too slow": (lambda p: write_pcm(p, 2, rate=4_000), "samples a second"),
    "silent": (lambda p: write_pcm(p, 2, samples=np.zeros(9)), "silent"),
    "not a number": (lambda p: float_file(p, float("nan")), "not numbers"),
    "infinite": (lambda p: float_file(p, float("inf")), "not numbers"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_file_is_refused_in_one_sentence_that_names_it(tmp_path, case):
    path = tmp_path / "clicks.wav"
    make, said = BAD[case]
    make(path)

    with pytest.raises(BadInput, match=said) as refused:
        read_recording(path)

    assert str(path) in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr("calibration.recording.MOST_BYTES", 50)

    with pytest.raises(BadInput, match="cut it down"):
        read_recording(write_pcm(tmp_path / "clicks.wav", 2))


@pytest.mark.parametrize("seed", range(60))
def test_random_damage_is_read_or_refused_and_nothing_else(tmp_path, seed):
    rng = np.random.default_rng(seed)
    path = write_pcm(tmp_path / "clicks.wav", int(rng.integers(1, 5)), samples=np.tile(SHAPE, 20))
    damaged = bytearray(path.read_bytes())
    for at in rng.integers(0, 60, size=4):
        damaged[at] = rng.integers(0, 256)
    path.write_bytes(bytes(damaged[: rng.integers(20, len(damaged))]))

    try:
        recording = read_recording(path)
    except BadInput:
        return
    assert np.isfinite(recording.samples).all()
