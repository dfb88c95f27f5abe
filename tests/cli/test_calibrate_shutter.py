"""stopgap calibrate shutter: what it prints, and what it puts into a kit file."""

import json
import tomllib

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.io import wavfile

from meter.cli.app import main
from meter.shelf.reader import Shelf
from tests.calibration.recordings import Truth, click_shutter, light_pulses


def run(*words):
    return CliRunner().invoke(main, ["calibrate", "shutter", *map(str, words)])


def write_wav(path, truth: Truth):
    samples = truth.recording.samples / np.abs(truth.recording.samples).max()
    wavfile.write(path, int(truth.recording.rate_hz), (samples * 30_000).astype(np.int16))
    return path


@pytest.fixture(scope="module")
def recordings(tmp_path_factory):
    """Sound of a shutter whose 1/30 lasts 1/27 s and whose 1/2 lasts 0.62 s; light of one whose 1/250 lasts 1/180 s."""
    folder = tmp_path_factory.mktemp("recordings")
    return {
        "1/30": write_wav(folder / "thirtieth.wav", click_shutter(1 / 27, 1, releases=6)),
        "1/2": write_wav(folder / "half.wav", click_shutter(0.62, 2, releases=6)),
        "1/250 by ear": write_wav(folder / "fast.wav", click_shutter(1 / 180, 3, releases=6)),
        "1/250": write_wav(folder / "light.wav", light_pulses(1 / 180, 5)),
    }


def test_times_of_several_marks_with_their_uncertainty(recordings):
    told = json.loads(
        run(recordings["1/30"], recordings["1/2"], "--marked", "1/30", "--marked", "1/2", "--json").stdout
    )
    truth = {"1/30": 1 / 27, "1/2": 0.62}
    assert [one["marked"] for one in told["shutter"]] == ["1/30", "1/2"]
    for one in told["shutter"]:
        assert abs(np.log2(one["measured_s"] / truth[one["marked"]])) < 3 * one["sigma_stops"]
        assert one["trustworthy"]
    assert told["written"] is None


def test_sound_says_below_which_time_it_cannot_tell(recordings):
    result = run(recordings["1/250 by ear"], "--marked", "1/250")
    assert result.exit_code == 0
    assert result.output.splitlines()[2].endswith("no")
    assert "sound cannot tell times below about 1/87 s" in result.output


def test_light_tells_a_short_time(recordings):
    (one,) = json.loads(run(recordings["1/250"], "--light", "--marked", "1/250", "--json").stdout)["shutter"]
    assert one["trustworthy"] and abs(np.log2(one["measured_s"] * 180)) < 3 * one["sigma_stops"]


def test_counted_frames():
    # By hand: 8.25 frames at 240 a second are 34.4 ms, 0.138 stop more than 1/32 s.
    result = run("--frames", 8, "--frames", 8.5, "--fps", 240, "--marked", "1/30")
    assert result.output.splitlines()[2].split() == ["1/30", "1/29", "+0.14", "±", "0.12", "2", "yes"]


def test_a_shipped_kit_is_copied_before_it_is_written(recordings, tmp_path):
    result = run(recordings["1/30"], "--marked", "1/30", "--kit", "breakwater", "--write", "--shelf", tmp_path / "mine")
    assert result.exit_code == 0, result.output
    assert "was made as your own copy" in result.output
    kit = Shelf(tmp_path / "mine").kit("breakwater")
    (speed,) = [speed for speed in kit.shutter.speeds if speed.measured_s is not None]
    assert speed.label == "1/30" and abs(np.log2(speed.measured_s * 27)) < 0.25
    row = tomllib.loads((tmp_path / "mine/kits/breakwater.toml").read_text("utf-8"))["shutter"]["measured"][0]
    assert row["evidence"] == "measured" and row["source"].startswith("6 releases by sound (thirtieth.wav), 20")
    assert "measured" not in Shelf().kit_file("breakwater").read_text("utf-8")


def test_a_measured_time_is_not_overwritten_silently(recordings, tmp_path):
    words = [recordings["1/30"], "--marked", "1/30", "--kit", "harbour-light", "--write", "--shelf", tmp_path]
    refused = run(*words)
    assert refused.exit_code == 2
    assert "1/30 is measured as 1/28, now 1/27" in refused.output
    assert list(tmp_path.iterdir()) == []
    replaced = run(*words, "--replace")
    assert replaced.exit_code == 0
    assert "1/30: 1/28 was replaced by 1/27." in replaced.output
    ours, theirs = (Shelf(place).kit_file("harbour-light").read_text("utf-8") for place in (tmp_path, None))
    changed = [line for line in ours.splitlines() if line not in theirs.splitlines()]
    assert len(changed) == 1 and changed[0].startswith('  { marked = "1/30", open_s = 0.037')


def test_what_sound_cannot_tell_is_not_written(recordings, tmp_path):
    result = run(recordings["1/250 by ear"], "--marked", "1/250", "--kit", "breakwater", "--write", "--shelf", tmp_path)
    assert result.exit_code == 1
    assert "nothing was written" in result.output
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "--marked 1/125"),
        (["--marked", "1/30"], "at least one WAV recording"),
        (["--marked", "1/30", "--frames", "3"], "--fps"),
        (["--marked", "1/30", "--write"], "--kit NAME"),
        (["gone.wav", "--marked", "1/30"], "gone.wav does not exist"),
        (["a.wav", "b.wav", "c.wav", "--marked", "1/30", "--marked", "1/2"], "3 recordings and 2 marks"),
        (["a.wav", "--marked", "1/50", "--kit", "breakwater"], "has no 1/50 engraved; it has 1/500, 1/250"),
        (["a.wav", "--marked", "soon"], "not readable"),
    ],
)
def test_what_cannot_be_timed_is_one_sentence(words, says):
    result = run(*words)
    assert result.exit_code == 2 and says in result.output
    assert "Traceback" not in result.output
