"""stopgap settings, kit and film as a person meets them."""

import json

import pytest
from click.testing import CliRunner

from meter.cli.app import VERBS, main


def run(*words):
    return CliRunner().invoke(main, list(words))


def test_settings_for_open_shade():
    result = run("settings", "--daylight", "open shade", "--kit", "breakwater", "--film", "hp5-plus")
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    # EV 12 at EI 400 is EV 14 on film: f/8 at 1/250 (exact marks, 2^6 · 2^8).
    assert lines[0] == "Set 1/250 at f/8, on 8"
    assert "1/43" in lines[1]
    assert "EV 12.0 by the daylight guide" in result.output


def test_settings_say_where_the_pointer_goes():
    result = run("settings", "--ev", "12.4", "--film", "hp5-plus")
    assert result.output.splitlines()[0] == "Set 1/250 at f/8 + 0.4, 4/10 of the way from 8 to 11"


def test_settings_on_a_zone_and_through_a_filter():
    plain = json.loads(run("settings", "--ev", "12", "--json").stdout)
    moved = json.loads(run("settings", "--ev", "12", "--zone", "III", "--filter", "nd-8", "--json").stdout)
    # Two stops less for Zone III, 0.9/log10(2) = 2.99 stops more for the filter.
    assert moved["exposure"]["ev_film"] - plain["exposure"]["ev_film"] == pytest.approx(2 - 2.99, abs=0.005)


def test_close_up_gear_may_focus_nearer_than_the_scale():
    assert run("settings", "--ev", "12", "--focus", "0.3m", "--extension", "40").exit_code == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "once"),
        (["--ev", "12", "--daylight", "open shade"], "once"),
        (["--ev", "99"], "-12 to 25"),
        (["--ev", "nan"], "not a number"),
        (["--ev", "12", "--coc", "0"], "serve --focus or --sharp"),
        (["--ev", "12 and a bit"], "write 12.3"),
        (["--daylight", "gloomy"], "gloomy"),
        (["--ev", "12", "--zone", "XI"], "not readable"),
        (["--ev", "12", "--focus", "0.3m"], "this lens focuses from 1.00 m on; got 0.30 m"),
        (["--ev", "12", "--sharp", "0.3m..0.5m"], "this lens focuses from 1.00 m on and keeps nothing sharp nearer"),
    ],
)
def test_contradictions_are_refused(words, says):
    result = run("settings", *words)
    assert result.exit_code == 2
    assert says in result.output


@pytest.mark.parametrize(("what", "good"), [("film", "hp5-plus"), ("kit", "breakwater")])
def test_a_list_names_a_broken_file_and_shows_the_others(what, good, tmp_path):
    (tmp_path / f"{what}s").mkdir()
    (tmp_path / f"{what}s" / "mine.toml").write_text("format = 1\nname = ", "utf-8")
    result = run(what, "list", "--shelf", str(tmp_path))
    assert result.exit_code == 0 and good in result.stdout
    assert result.stderr.startswith("Left out: ") and "mine.toml is not valid TOML" in result.stderr
    told = json.loads(run(what, "list", "--shelf", str(tmp_path), "--json").stdout)
    (broken,) = [one for one in told if "error" in one]
    assert broken["name"] == "mine" and "not valid TOML" in broken["error"]
    assert good in [one["name"] for one in told]


def test_lists_are_arrays_of_objects_with_names():
    kits = json.loads(run("kit", "list", "--json").stdout)
    assert {"breakwater"} <= {kit["name"] for kit in kits}
    films = json.loads(run("film", "list", "--json").stdout)
    assert {"hp5-plus", "iso-100"} <= {film["name"] for film in films}


def test_one_kit_and_one_film():
    shown = run("kit", "show", "harbour-light").output
    assert "measures" in shown
    assert json.loads(run("kit", "show", "harbour-light", "--json").stdout)["iris"] == "half"
    assert "hold (sheet)" in run("film", "show", "hp5-plus").output
    assert "No reciprocity figures" in run("film", "show", "iso-100").output
    film = json.loads(run("film", "show", "tri-x-400", "--json").stdout)
    assert {curve["name"] for curve in film["curves"]} >= {"sheet", "measured"}


def test_every_verb_has_help_with_an_example():
    for verb in VERBS:
        result = run(verb, "--help")
        assert result.exit_code == 0, verb
        assert f"stopgap {verb}" in result.output, verb


def test_unknown_verbs_and_options_are_usage_errors():
    assert run("measure").exit_code == 2
    told = json.loads(run("settings", "--colour", "--json").stdout)
    assert told["error"]["kind"] == "usage"
