"""stopgap roll judge, as a person sees it."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from meter.cli.app import main

READINGS = ("--base-fog", "0.08", "--density", "I=0.17", "--density", "III=0.42", "--density", "V=0.75",
            "--density", "VIII=1.30")  # fmt: skip


def run(*arguments, code: int = 0) -> str:
    result = CliRunner().invoke(main, ["roll", *map(str, arguments)])
    assert result.exit_code == code, result.output + result.stderr
    return result.stdout if code == 0 else result.stderr


@pytest.fixture
def log(tmp_path) -> Path:
    log = tmp_path / "rolls.db"
    run("load", "hp5-plus", "--kit", "breakwater", "--ei", 200, "--log", log)
    run("expose", "--shutter", "1/125", "--aperture", "11", "--place", "quay wall=III",
        "--place", "floats=VII", "--n", "N-1",
        "--log", log)  # fmt: skip
    return log


def test_a_good_negative_is_left_alone_and_chemistry_is_cautioned():
    shown = run("judge", *READINGS, "--ei", 200)

    assert shown.startswith(
        "EI: stay at 200 (asks for +0.1 ± 0.4 stops: within the doubt)\n"
        "Development: got N-0.5 ± 0.6, wanted N: keep the time\n"
    )
    assert "wear gloves, air the room" in shown and "qualified\n  person" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_a_thin_negative_gets_a_lower_index_and_more_time():
    thin = ("--base-fog", "0.08", "--density", "I=0.11", "--density", "II=0.19", "--density", "III=0.31", "--density",
            "V=0.58", "--density", "VII=0.88", "--density", "VIII=1.04")  # fmt: skip
    lines = run("judge", *thin, "--ei", 400, "--placement-sigma", 0.1).splitlines()

    assert lines[0].startswith("EI: 250 instead of 400") or lines[0].startswith("EI: 200 instead of 400")
    assert lines[1].startswith("Development: got N-1") and "time x 1." in lines[1]


def test_parts_can_be_named_as_the_frame_named_them_and_the_tank_is_what_was_wanted(log):
    found = json.loads(
        run("judge", "--frame", 1, "--base-fog", "0.1", "--density", "quay wall=0.5", "--density", "Floats=1.1",
            "--density", "I=0.2", "--log", log, "--json")
    )  # fmt: skip
    assert [(p["name"], p["zone"]) for p in found["patches"]] == [("", 1.0), ("quay wall", 3.0), ("floats", 7.0)]
    assert (found["ei_used"], found["wanted"]) == (200, -1)


def test_a_scan_judges_like_the_densitometer(tmp_path):
    net = {"I": 0.09, "III": 0.34, "V": 0.67, "VIII": 1.22}
    columns = [1.0, *(10**-d for d in net.values())]
    light = np.repeat(columns, 40)[None, :].repeat(60, axis=0) * 52_000
    scan = tmp_path / "scan.tif"
    cv2.imwrite(str(scan), np.dstack([light.astype(np.uint16)] * 3))
    spots = [part for n, zone in enumerate(net, 1) for part in ("--spot", f"{(n + 0.5) / 5},0.5={zone}")]

    scanned = json.loads(run("judge", scan, "--base", "0.1,0.5", *spots, "--ei", 200, "--json"))
    measured = json.loads(run("judge", *READINGS, "--ei", 200, "--json"))

    for name in ("gradient", "development", "shift_stops"):
        assert scanned[name]["value"] == pytest.approx(measured[name]["value"], abs=0.005)  # 16-bit rounding
        assert scanned[name]["sigma"] > measured[name]["sigma"]
    assert "only if it is linear" in scanned["cautions"][0]


@pytest.fixture
def scan(tmp_path):
    """Write a scan of columns: clear film, then patches of these net densities."""

    def write(name: str, *net: float, full: int = 52_000) -> Path:
        light = np.repeat([1.0, *(10**-d for d in net)], 40)[None, :].repeat(60, axis=0) * full
        cv2.imwrite(str(tmp_path / name), light.astype(np.uint16))
        return tmp_path / name

    return write


def test_several_scans_pool_their_patches_each_against_its_own_base(scan):
    """Two halves of one curve, scanned at different lights, say what one scan of the whole says."""
    whole = scan("whole.tif", 0.09, 0.34, 0.67, 1.22)
    first, second = scan("first.tif", 0.09, 0.34), scan("second.tif", 0.67, 1.22, full=40_000)
    in_whole = ("0.3,0.5=I", "0.5,0.5=III", "0.7,0.5=V", "0.9,0.5=VIII")
    once = json.loads(run("judge", whole, "--base", "0.1,0.5", *[p for s in in_whole for p in ("--spot", s)],
                          "--ei", 200, "--json"))  # fmt: skip
    twice = json.loads(
        run("judge", first, "--base", "0.1,0.5", "--spot", "0.5,0.5=I", "--spot=0.8,0.5=III", "--ei", 200,
            second, "--spot", "0.5,0.5=V", "--spot", "0.8,0.5=VIII", "--base=0.2,0.5", "--json")
    )  # fmt: skip

    assert [(p["source"], p["zone"]) for p in twice["patches"]] == [
        ("first.tif", 1), ("first.tif", 3), ("second.tif", 5), ("second.tif", 8)
    ]  # fmt: skip
    for name in ("gradient", "development", "shift_stops"):
        assert twice[name]["value"] == pytest.approx(once[name]["value"], abs=0.005)  # 16-bit rounding


def test_what_stands_before_the_first_scan_goes_for_each(scan, log):
    run("expose", "--shutter", "1/125", "--aperture", "11", "--place", "quay wall=IV", "--log", log)
    one, two = scan("one.tif", 0.34, 1.0), scan("two.tif", 0.5, 1.0)
    shown = run("judge", "--base", "0.1,0.5", "--spot", "0.5,0.5=quay wall", one, "--frame", 1, two, "--frame", 2,
                "--log", log)  # fmt: skip
    assert "III          0.34  0.04  quay wall in one.tif" in shown
    assert "IV           0.50  0.04  quay wall in two.tif" in shown
    assert max(map(len, shown.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("one.tif", "two.tif", "--base", "0.1,0.5", "--spot", "0.5,0.5=II"), "one.tif needs --base X,Y on clear film"),
        (("one.tif", "--base", "0.1,0.5", "--spot", "0.5,0.5=II", "two.tif"), "two.tif needs --base X,Y on clear film"),
        (("one.tif", "--base", "0.1,0.5", "--base", "0.2,0.5", "--spot", "0.5,0.5=II"), "--base is given 2 times for"),
        (("--base-fog", "0.1", "--density", "I=0.2", "--frame", "1", "--frame", "1"), "--frame is given 2 times with"),
    ],
)
def test_a_scan_without_its_base_or_with_two_is_named(scan, log, tmp_path, monkeypatch, arguments, complaint):
    scan("one.tif", 0.3), scan("two.tif", 0.3)
    monkeypatch.chdir(tmp_path)
    said = run("judge", *arguments, "--log", log, code=2)
    assert complaint in said and len(said.splitlines()) == 1


def test_slides_are_not_judged_and_colour_negatives_keep_their_process(tmp_path):
    log = tmp_path / "rolls.db"
    run("load", "provia-100f", "--kit", "breakwater", "--log", log)
    assert "is reversal film: judge reads negatives" in run("judge", *READINGS, "--log", log, code=2)
    run("unload", "--log", log)
    run("load", "portra-400", "--kit", "breakwater", "--log", log)
    assert "has a fixed process" in run("judge", *READINGS, "--roll", 2, "--log", log)


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        ((), "give either --density readings"),
        (("scan.tif", "--density", "I=0.2"), "give either --density readings"),
        (("--density", "I=0.2", "--density", "V=0.7"), "--density needs --base-fog"),
        (("--base-fog", "0.1", "--density", "I=thick", "--density", "V=0.7"), "density 'I=thick' is not readable"),
        (("--base-fog", "0.1", "--density", "I", "--density", "V=0.7"), "density 'I' is not readable"),
        (("--base-fog", "0.1", "--density", "wall=0.2"), "'wall' is neither a zone from 0 to X"),
        (("--base-fog", "0.1", "--density", "V=0.7"), "two parts on different zones"),
        (("--base-fog", "9", "--density", "V=0.7"), "base plus fog of 9"),
        (("--base-fog", "0.1", "--density", "III=1.2", "--density", "VII=0.4"), "density does not grow"),
        (("scan.tif",), "scan.tif needs --base X,Y on clear film and --spot"),
        (("scan.tif", "--base", "0.1,0.5", "--spot", "0.5,0.5=III"), "there is no scan"),
        (("scan.tif", "--base", "mole", "--spot", "0.5,0.5=III"), "'mole' is no place on the scan"),
    ],
)
def test_what_cannot_be_judged_is_one_sentence(arguments, complaint):
    said = run("judge", *arguments, "--ei", 200, code=2)
    assert complaint in said and len(said.splitlines()) == 1
