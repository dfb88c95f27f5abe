"""Read a sound recording: WAV with 8, 16, 24 or 32 bit PCM or floating-point samples, any number of channels.

The parsing is SciPy's (scipy.io.wavfile); here its answers become one scale, and its complaints one sentence.
"""

import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.io import wavfile

from meter.errors import BadInput

LOWEST_RATE_HZ = 8_000  # below it a click of 1 ms is a handful of samples
MOST_BYTES = 400_000_000  # about half an hour of 48 kHz stereo in 32 bits
_HOW_TO_SAVE = "save the recording as a WAV file with PCM samples (16 bits, 44.1 or 48 kHz) and try again"


@dataclass(frozen=True)
class Recording:
    """Samples of a recording.

    samples: float32 array (frames, channels); full scale is -1 to 1.
    rate_hz: frames a second.
    name: what messages call it.
    """

    samples: np.ndarray
    rate_hz: float
    name: str = "the recording"

    @property
    def length_s(self) -> float:
        return len(self.samples) / self.rate_hz


def read_recording(path: Path | str) -> Recording:
    """Read a WAV file whole.

    Raises BadInput where the file is missing, empty, cut off in its header, compressed, too large, too slow or silent.
    """
    path = Path(path)
    _check_file(path)
    rate, samples = _parse(path)
    if samples.size == 0:
        raise BadInput(f"{path} holds no samples: it was cut off or nothing was recorded; record it again")
    if rate < LOWEST_RATE_HZ:
        raise BadInput(f"{path} has {rate} samples a second, too few to time a shutter; record at 44100 or 48000")
    scaled = _to_unit_scale(samples)
    if not np.isfinite(scaled).all():
        raise BadInput(f"{path} holds samples that are not numbers; {_HOW_TO_SAVE}")
    if np.ptp(scaled, axis=0).max() == 0:
        raise BadInput(f"{path} is silent from end to end; check that the right input was recorded")
    return Recording(scaled.reshape(len(scaled), -1), float(rate), path.name)


def _check_file(path: Path) -> None:
    if not path.exists():
        raise BadInput(f"{path} does not exist; give the path of a WAV recording")
    if not path.is_file():
        raise BadInput(f"{path} is not a file; give the path of a WAV recording")
    size = path.stat().st_size
    if size == 0:
        raise BadInput(f"{path} is empty; record it again")
    if size > MOST_BYTES:
        raise BadInput(
            f"{path} has {size / 1e6:.0f} MB, more than the {MOST_BYTES / 1e6:.0f} MB read here; cut it down"
        )


def _parse(path: Path) -> tuple[int, np.ndarray]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", wavfile.WavFileWarning)  # foreign chunks, and a tail that was cut off
        try:
            return wavfile.read(path)
        except OSError as error:
            raise BadInput(f"{path} cannot be read: {error.strerror or error}") from error
        except (ValueError, EOFError, struct.error, MemoryError, ArithmeticError, UnboundLocalError) as error:
            # UnboundLocalError is SciPy's answer to a file without a data chunk.
            raise BadInput(f"{path} is not a WAV recording that can be read here; {_HOW_TO_SAVE}") from error


def _to_unit_scale(samples: np.ndarray) -> np.ndarray:
    """Full scale becomes -1 to 1; SciPy left-justifies 24 bits in an int32."""
    if samples.dtype == np.uint8:
        return (samples.astype(np.float32) - 128) / 128
    if samples.dtype.kind == "i":
        return (samples / -float(np.iinfo(samples.dtype).min)).astype(np.float32)
    return samples.astype(np.float32)
