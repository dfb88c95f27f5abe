"""stopgap roll tag: scans get their frames, and no scan is ever lost."""

import json
from pathlib import Path

import exifread
import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image

from meter.cli.app import main


def run(*arguments, code: int = 0) -> str:
    result = CliRunner().invoke(main, ["roll", *map(str, arguments)])
    assert result.exit_code == code, result.output + result.stderr
    return result.stdout if code == 0 else result.stderr


@pytest.fixture
def log(tmp_path) -> Path:
    log = tmp_path / "rolls.db"
    run("load", "hp5-plus", "--kit", "breakwater", "--ei", 200, "--log", log)
    at = ("--at", "2026-05-01T10:00:00+00:00", "--log", log)
    run("expose", "--shutter", "1/125", "--aperture", "f/11+0.4", "--focus", "3m", "--place", "quay wall=III",
        "--where", "north mole", *at)  # fmt: skip
    run("expose", "--shutter", "1/30", "--aperture", "11", "--n", "N-1", *at)
    run("expose", "--shutter", "B", "--held", "12s", "--aperture", "22", *at)
    return log


@pytest.fixture
def scans(tmp_path) -> list[Path]:
    pixels = np.random.default_rng(2).integers(0, 65535, (20, 30, 3), np.uint16)
    tifffile.imwrite(tmp_path / "1.tif", pixels, photometric="rgb")
    Image.fromarray((pixels >> 8).astype(np.uint8)).save(tmp_path / "2.jpg")
    tifffile.imwrite(tmp_path / "3.tif", pixels, photometric="rgb")
    return [tmp_path / name for name in ("1.tif", "2.jpg", "3.tif")]


def tags(path: Path) -> dict[str, str]:
    with path.open("rb") as file:
        return {name: str(tag) for name, tag in exifread.process_file(file).items()}


def test_scans_in_order_get_their_frames_in_another_folder(log, scans, tmp_path):
    before = [scan.read_bytes() for scan in scans]
    shown = run("tag", *scans, "-o", tmp_path / "tagged", "--log", log)

    assert shown.splitlines()[1:] == [
        f"  frame {n}: {tmp_path / 'tagged' / scan.name}" for n, scan in enumerate(scans, 1)
    ]
    assert [scan.read_bytes() for scan in scans] == before
    found = [tags(tmp_path / "tagged" / scan.name) for scan in scans]
    assert [t["EXIF ExposureTime"] for t in found] == ["1/125", "1/30", "12"]  # as engraved; B as held
    assert [t["EXIF FNumber"] for t in found] == ["13", "11", "22"]
    assert found[0]["EXIF SubjectDistance"] == "3" and found[0]["EXIF ISOSpeedRatings"] == "200"
    assert found[0]["EXIF FocalLength"] == "90" and found[0]["EXIF FocalLengthIn35mmFilm"] == "43"
    assert "quay wall on III" in found[0]["EXIF UserComment"]
    assert not any("mole" in value for value in found[0].values())


def test_in_place_replaces_with_a_complete_file(log, scans, tmp_path):
    pixels = tifffile.imread(scans[0])
    run("tag", f"{scans[0]}=3", "--in-place", "--log", log)

    assert np.array_equal(tifffile.imread(scans[0]), pixels)
    assert tags(scans[0])["EXIF ExposureTime"] == "12"
    assert not [path for path in tmp_path.iterdir() if path.suffix == ".part"]


def test_a_dry_run_and_json_write_nothing_and_say_what_would_be(log, scans):
    before = [scan.read_bytes() for scan in scans]
    said = json.loads(run("tag", *scans[:2], "--first", 2, "--dry-run", "--json", "--log", log))

    assert [(file["frame"], file["file"]) for file in said["files"]] == [(2, str(scans[0])), (3, str(scans[1]))]
    assert [scan.read_bytes() for scan in scans] == before


def test_the_unloaded_roll_is_meant_while_the_next_is_in_the_camera(log, scans):
    run("unload", "--log", log)
    run("load", "fp4-plus", "--kit", "breakwater", "--log", log)
    assert run("tag", scans[0], "--in-place", "--log", log).startswith("Roll 1: HP5 Plus")


def test_failing_half_way_says_what_is_complete_and_keeps_every_scan(log, scans, tmp_path):
    scans[1].write_bytes(scans[1].read_bytes()[:30])
    broken, third = scans[1].read_bytes(), scans[2].read_bytes()
    said = run("tag", *scans, "--in-place", "--log", log, code=2)

    assert "was left as it is" in said and "(1 of 3 scans before it are tagged and complete)" in said
    assert (scans[1].read_bytes(), scans[2].read_bytes()) == (broken, third)
    assert tags(scans[0])["EXIF ExposureTime"] == "1/125"


def test_a_folder_that_cannot_be_made_is_one_sentence(log, scans, tmp_path):
    (tmp_path / "file").touch()
    said = run("tag", *scans, "-o", tmp_path / "file" / "x", "--log", log, code=1)
    assert "cannot be made" in said and "nothing was written" in said and len(said.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("1.tif",), "either -o FOLDER or --in-place"),
        (("1.tif", "--in-place", "-o", "x"), "either -o FOLDER or --in-place"),
        (("no.tif", "--in-place"), "there is no file"),
        (("rolls.db", "--in-place"), "neither JPEG nor TIFF"),
        (("1.tif=9", "--in-place"), "roll 1 has no frame 9; it has frames 1 to 3"),
        (("1.tif", "--first", "9", "--in-place"), "has no frame 9"),
        (("1.tif", "2.jpg", "--first", "3", "--in-place"), "more scans than frames: 2.jpg is left over"),
        (("1.tif=1", "3.tif=1", "--in-place"), "frame 1 is named twice"),
        (("1.tif", "1.tif", "--in-place"), "1.tif is named twice"),
        (("1.tif", "-o", "."), "exists already: nothing was written"),
        (("1.tif", "--roll", "8", "--in-place"), "there is no roll 8"),
    ],
)
def test_a_wrong_order_is_refused_before_anything_is_written(log, scans, tmp_path, monkeypatch, arguments, complaint):
    monkeypatch.chdir(tmp_path)
    before = {path.name: path.read_bytes() for path in scans}

    assert complaint in run("tag", *arguments, "--log", log, code=2)
    assert {path.name: path.read_bytes() for path in scans} == before
