"""Time an old shutter, from recordings of its releases or from frames counted in a slow-motion video."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from calibration.from_shutter import MeasuredSpeed, from_frame_count, from_recording, measured_speed
from calibration.open_time import OpenTime
from calibration.recording import read_recording
from meter.camera import Kit, time_text_of_mark
from meter.errors import BadInput
from meter.stops import exact_time, parse_time

MODE_WORDS = {"sound": "sound", "light": "light sensor", "frames": "slow-motion frames"}


@dataclass(frozen=True)
class TimedSpeed:
    """One engraved time as measured. mark: as engraved. how: what was measured from, in words, for a kit's `source`."""

    mark: str
    speed: MeasuredSpeed
    how: str


def time_recordings(
    recordings: Sequence[Path], marks: Sequence[str], *, light: bool = False, kit: Kit | None = None
) -> tuple[TimedSpeed, ...]:
    """Measure each marked time from its recordings, fastest mark first.

    marks: as engraved, one for each recording in order, or one for them all. light: a light sensor made the recordings,
    not a microphone. kit: whose marks these are; None takes them as the modern doubling series.
    Raises BadInput for marks that do not go with the recordings or the kit, and for recordings without releases.
    """
    if not recordings:
        raise BadInput("name at least one WAV recording of the shutter, or give --frames and --fps")
    if len(marks) == 1:
        marks = [*marks] * len(recordings)
    if len(marks) != len(recordings):
        raise BadInput(
            f"{len(recordings)} recordings and {len(marks)} marks: give --marked once for each recording, in the same "
            "order, or once for them all"
        )
    mode = "light" if light else "sound"
    pairs = sorted(((_marked_s(mark, kit), file) for mark, file in zip(marks, recordings, strict=True)), key=_mark)
    timed = []
    for marked_s, group in groupby(pairs, key=_mark):
        files = [file for _, file in group]
        times = [time for file in files for time in from_recording(read_recording(file), marked_s, mode)]
        timed.append(_timed(marked_s, times, mode, ", ".join(file.name for file in files), kit))
    return tuple(timed)


def time_frames(frames: Sequence[float], fps: float, mark: str, *, kit: Kit | None = None) -> TimedSpeed:
    """Measure one marked time by counting frames, one count a release. Raises BadInput."""
    marked_s = _marked_s(mark, kit)
    times = [from_frame_count(count, fps) for count in frames]
    return _timed(marked_s, times, "frames", f"{fps:g} frames a second", kit)


def _mark(pair: tuple[float, Path]) -> float:
    return pair[0]


def _timed(marked_s: float, times: Sequence[OpenTime], mode: str, origin: str, kit: Kit | None) -> TimedSpeed:
    speed = measured_speed(times, marked_s)
    releases = f"{speed.repeats} release{'s' if speed.repeats != 1 else ''}"
    return TimedSpeed(_label(marked_s, kit), speed, f"{releases} by {MODE_WORDS[mode]} ({origin})")


def _marked_s(mark: str, kit: Kit | None) -> float:
    """The time that an engraved one stands for, on this kit. [s]"""
    exact = exact_time(parse_time(mark))
    if kit is None:
        return exact
    for wanted in (parse_time(mark), exact):
        for speed in kit.shutter.speeds:
            if abs(speed.marked_s / wanted - 1) < 1e-3:
                return speed.marked_s
    labels = ", ".join(speed.label for speed in kit.shutter.speeds)
    raise BadInput(f"{kit.name} has no {mark} engraved; it has {labels}")


def _label(marked_s: float, kit: Kit | None) -> str:
    if kit is not None:
        return next(speed.label for speed in kit.shutter.speeds if speed.marked_s == marked_s)
    engraved = {exact_time(1 / n): f"1/{n}" for n in (2, 4, 8, 15, 30, 60, 125, 250, 500, 1000, 2000)}
    return engraved.get(marked_s, time_text_of_mark(marked_s))
