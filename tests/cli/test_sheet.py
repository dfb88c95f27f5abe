"""What stopgap sheet says and writes."""

import json
from importlib.resources import files

from click.testing import CliRunner

from meter.cli.app import main


def run(*options):
    return CliRunner().invoke(main, ["sheet", "--kit", "breakwater", "--film", "hp5-plus", *options])


def test_one_line_says_what_was_written(tmp_path):
    file = tmp_path / "sheet.pdf"
    result = run("--ei", "250", "--size", "A5", "-o", str(file))
    assert (result.exit_code, result.output) == (0, f"{file}: A5, Breakwater 6x7, 90 mm, HP5 Plus at EI 250\n")
    assert file.read_bytes().startswith(b"%PDF")


def test_the_usual_kit_and_its_own_film_are_taken_where_none_is_named(tmp_path):
    file = tmp_path / "sheet.svg"
    result = CliRunner().invoke(main, ["sheet", "-o", str(file)])
    assert result.output == f"{file}: A6, Breakwater 6x7, 90 mm, HP5 Plus at EI 400\n"
    result = CliRunner().invoke(main, ["sheet", "--kit", "harbour-light", "-o", str(file), "--force"])
    assert "Delta 400" in result.output


def test_the_kits_own_index_counts_for_its_film_alone(tmp_path):
    kit = (files("meter.shelf") / "kits" / "breakwater.toml").read_text("utf-8")
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "pier.toml").write_text(kit.replace("\nfilm =", "\nei = 200\nfilm =", 1), "utf-8")
    how = ("sheet", "--kit", "pier", "--shelf", str(tmp_path), "--force", "-o", str(tmp_path / "a.svg"))
    assert "HP5 Plus at EI 200" in CliRunner().invoke(main, how).output
    assert "FP4 Plus at EI 125" in CliRunner().invoke(main, [*how, "--film", "fp4-plus"]).output


def test_a_kit_without_a_film_asks_for_one(tmp_path):
    kit = (files("meter.shelf") / "kits" / "breakwater.toml").read_text("utf-8").replace('film = "hp5-plus"\n', "")
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "pier.toml").write_text(kit, "utf-8")
    result = CliRunner().invoke(
        main, ["sheet", "--kit", "pier", "--shelf", str(tmp_path), "-o", str(tmp_path / "a.svg")]
    )
    assert result.exit_code == 2
    assert result.output == "Error: kit 'pier' names no film: choose one with --film (stopgap film list)\n"


def test_json_carries_the_figures(tmp_path):
    data = json.loads(run("-o", str(tmp_path / "sheet.svg"), "--json").output)
    assert data["ei"] == "EI 400" and data["size"] == "A6"
    assert {"scene": "full sun", "ev": "17", "aperture": "16"} in data["daylight"]
    assert data["reciprocity"][0] == {"metered": "1 s", "hold": "1 s"}
    assert data["hyperfocal"][3] == {"aperture": "11", "focus": "12 m", "near": "6.0 m"}


def test_another_ending_is_refused_in_one_sentence(tmp_path):
    result = run("-o", str(tmp_path / "sheet.gif"))
    assert result.exit_code == 2
    assert result.output == "Error: 'sheet.gif' does not end in .pdf, .svg or .png: a field sheet is one of these\n"
    assert list(tmp_path.iterdir()) == []


def test_a_sheet_that_exists_is_only_replaced_by_force(tmp_path):
    file = tmp_path / "sheet.svg"
    file.write_text("mine")
    result = run("-o", str(file))
    assert result.exit_code == 2
    assert result.output == f"Error: {file} exists: choose another name, or replace it with --force\n"
    assert file.read_text() == "mine" and list(tmp_path.iterdir()) == [file]
    assert run("-o", str(file), "--force").exit_code == 0
    assert file.read_text().startswith("<svg")
