"""What stopgap focus puts on the screen."""

import json
from math import isfinite

import pytest
from click.testing import CliRunner

from meter.cli.app import main
from meter.jobs.load_order import DEFAULT_KIT

KIT = """
format = 1
name = "Pier"
source = "made for this test"
evidence = "computed"
[lens]
focal_length_mm = 90
marks = [8, 11, 16]
iris = "continuous"
nearest_focus_m = 1.0
distance_marks_m = [2, 3, 5]
depth_scale = [{ f_number = 11, focus_m = 5, near_m = 3.5, far_m = 8.5 }]
[shutter]
marked = ["1/60"]
bulb = true
[back]
format = "6x7"
"""


@pytest.fixture
def run(tmp_path):
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "pier.toml").write_text(KIT, "utf-8")

    def running(*options):
        return CliRunner().invoke(main, ["focus", "--kit", "pier", "--shelf", str(tmp_path), *options])

    return running


def test_a_range_is_answered_with_aperture_and_focus_first(run):
    result = run("--sharp", "3..8m")
    assert result.exit_code == 0
    # s = 2·3·8/11 = 4.36 m; N = 90²·1363.6/(3000·4273.6·0.05976) = 14.4, 7.70 stops from f/1, by hand
    assert result.output == (
        "f/11 + 0.7, focus on 4.4 m (14.3 ft), four fifths of the way from 3 to 5 m\n"
        "Sharp from 3.00 to 8.0 m.\n"
        "The subject may really stand 1.36 m (31%) nearer or 3.6 m (83%) farther than\n"
        "  set.\n"
        "The widest aperture of this lens for 3.0 to 8.0 m; f/14.4 would just do.\n"
        "Circle of confusion 0.060 mm: the frame's diagonal, 89.6 mm, over 1500.\n"
    )


def test_a_range_out_of_reach_says_what_to_give_up(run):
    result = run("--sharp", "2m..inf")
    assert result.output == (
        "No aperture of this lens keeps 2.00 m to infinity sharp; it would take f/35.\n"
        "Give up some of the near end: f/16, focus on 8.6 m (28 ft), two fifths of the\n"
        "  way from 5 to infinity: 4.3 m to infinity.\n"
        "Give up some of the far end: f/16, focus on 2.59 m (8.5 ft), two thirds of the\n"
        "  way from 2 to 3 m: 2.00 to 3.7 m.\n"
        "Circle of confusion 0.060 mm: the frame's diagonal, 89.6 mm, over 1500.\n"
    )


def test_a_setting_and_a_guess(run):
    result = run("--focus", "3m", "--aperture", "f/8", "--guess", "20%")
    assert result.output == (
        "f/8, focus on 3.0 m (9.8 ft), on 3 m\n"
        "Sharp from 2.56 to 3.6 m.\n"
        "The subject may really stand 0.44 m (15%) nearer or 0.62 m (21%) farther than\n"
        "  set.\n"
        "f/11 + 0.1 forgives a guess of 3.0 m that is 20% wrong either way.\n"
        "Circle of confusion 0.060 mm: the frame's diagonal, 89.6 mm, over 1500.\n"
    )


def test_the_table_has_near_above_far(run):
    lines = [line.rstrip() for line in run().output.splitlines()]
    assert lines[:6] == [
        "  m   f/8  f/11  f/16",
        "─────────────────────",
        "  2  1.80  1.72  1.63",
        "     2.25  2.38  2.58",
        "  3  2.56  2.41  2.23",
        "      3.6   4.0   4.6",
    ]
    assert "Each focus distance: near above, far below, in m." in lines
    assert all(len(line) <= 80 for line in lines)


def test_the_kits_own_scale_gives_its_circle_and_what_a_stricter_one_leaves(run):
    result = run("--by-scale", "--coc", "0.04")
    assert result.exit_code == 0
    first, *rest = result.output.splitlines()
    assert first == "The scale's maker used c = 0.060 mm, 1/1502 of the diagonal (0.056 to 0.064 mm)."
    assert "By the stricter c = 0.040 mm, 1.2 stops from it:" in rest
    # 2·log2(0.0597/0.04) = 1.15 stops wider than f/11 is f/7.6, and this lens begins at f/8, by hand
    assert "  f/11 at 5.0 m keeps 3.9 to 6.9 m; the scale has no marks so close together." in rest
    data = json.loads(run("--by-scale", "--coc", "0.04", "--json").output)
    assert data["circle"]["inferred"]["kept"][0]["read_at"] is None


def test_a_scale_is_read_at_marks_that_the_lens_has(run):
    # 8 - 2·log2(0.060/0.04) = 6.8 stops from f/1, by hand
    stricter = run("--engraved", "f/16 5m 3.2m..12m", "--coc", "0.04").output
    assert "f/16 at 5.0 m keeps 3.6 to 8.2 m: read the scale at f/8 + 0.8." in stricter
    lenient = run("--engraved", "f/16 5m 3.2m..12m", "--coc", "0.08").output
    assert "the scale has no marks so far apart." in lenient


def test_the_usual_kit_is_taken_where_none_is_named():
    named = CliRunner().invoke(main, ["focus", "--kit", DEFAULT_KIT, "--focus", "3m", "--aperture", "f/8"])
    assert CliRunner().invoke(main, ["focus", "--focus", "3m", "--aperture", "f/8"]).output == named.output
    assert f"[default: {DEFAULT_KIT}]" in " ".join(CliRunner().invoke(main, ["focus", "--help"]).output.split())


def test_facts_that_do_not_agree_are_said_so(run):
    result = run("--engraved", "f/11 5m 3.5m..8.5m", "--engraved", "f/16 5m 4.2m..6.2m")
    assert "the facts do not agree" in result.output.replace("\n", " ")
    assert "do not come from one circle" in result.output


@pytest.mark.parametrize(
    "options", [(), ("--sharp", "2m..inf"), ("--focus", "inf", "--aperture", "16"), ("--by-scale",)]
)
def test_json_is_strict_json_with_null_for_infinity(run, options):
    data = json.loads(run("--json", *options).output)

    def numbers(value):
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            return [n for item in value for n in numbers(item)]
        return [value] if isinstance(value, float) else []

    assert data["kit"] == "pier" and all(isfinite(n) for n in numbers(data))
    assert len(data["hyperfocal"]) == 3


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--focus", "0.5m"), "this lens focuses from 1.00 m on; got 0.50 m"),
        (("--sharp", "0.3m..0.5m"), "this lens focuses from 1.00 m on and keeps nothing sharp nearer than"),
        (("--aperture", "64"), "f/64 lies outside this lens, f/8 to f/16"),
        (("--sharp", "9m"), "'9m' is not a range of distances: write 1.5m..inf or 5ft..20ft"),
        (("--focus", "3 fathoms"), "distance '3 fathoms' is not readable: write 3m, 80cm, 10ft or inf"),
        (("--guess", "20%"), "a wrong guess needs the guessed distance beside it: --focus 3m --guess 20%"),
        (("--focus", "3m", "--guess", "99%"), "a guess of 3.0 m may be wrong by more than 0 % and less than 97 %"),
        (("--focus", "3m", "--guess", "lots"), "'lots' is not a part between 0 and 100 %: write 20% or 0.2"),
        (("--coc", "0.05", "--coc-divisor", "1500"), "give the circle of confusion once"),
        (("--engraved", "f/11"), "'f/11' is not an engraved fact"),
    ],
)
def test_bad_input_is_one_sentence(run, options, says):
    result = run(*options)
    assert result.exit_code == 2
    assert result.output.startswith("Error: ") and says in result.output
    assert json.loads(run("--json", *options).output)["error"]["kind"] == "bad_input"
