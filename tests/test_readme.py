"""What the front page says is run: every command that it shows, as it stands there."""

import re
import shlex
import shutil
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner

from meter.cli.app import VERBS, main
from meter.light import luminance_from_ev100
from sample_scenes.camera import bracket, card, photograph
from sample_scenes.truth import load_truth
from tests.conftest import CHECKOUT

README = (CHECKOUT / "README.md").read_text("utf-8")
BEFORE, RECIPE = README.split("## Make it accurate in five minutes")
RECIPE, AFTER = RECIPE.split("## Your own camera and film")
SHOWN = [command for command in re.findall(r"`(stopgap [^`]+)`", BEFORE + AFTER) if "…" not in command]
NOT_RUN = {"--hold": "counts 20 s and more by the clock; tests/cli/test_bulb.py runs it with a clock of its own"}


@pytest.fixture
def field(tmp_path, monkeypatch):
    """A folder with the shipped photo under the name that the page uses."""
    shutil.copy(CHECKOUT / "sample_scenes/shipped/quay.jpg", tmp_path / "quay.jpg")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("command", [c for c in SHOWN if not any(flag in c for flag in NOT_RUN)])
def test_a_command_of_the_front_page_works(command, field):
    words = shlex.split(command)[1:]
    assert words[0] in VERBS
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, f"{command}: {result.output}"


@pytest.fixture
def phone(tmp_path, monkeypatch):
    """What the recipe asks for, shot by a simulated phone: two places five times each, and a card at EV 13.4."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    camera = card("harbour")
    for folder, place in (("place-1", "quay"), ("place-2", "lane")):
        (tmp_path / folder).mkdir()
        for i, shot in enumerate(bracket(load_truth(place).rgb, camera, (-2, -1, 0, 1, 2))):
            (tmp_path / folder / f"{i}.jpg").write_bytes(shot.jpeg)
    wall = np.full((360, 480, 3), luminance_from_ev100(13.4), np.float32)
    (tmp_path / "card.jpg").write_bytes(photograph(wall, camera).jpeg)
    (tmp_path / "quay.jpg").write_bytes(photograph(load_truth("quay").rgb, camera).jpeg)
    return tmp_path


def test_the_recipe_word_by_word(phone):
    """Every fenced command of the section, in order; then the reading says that it went through the profile."""
    fenced = [line.strip() for block in re.findall(r"```\n(.+?)```", RECIPE, re.DOTALL) for line in block.split("\n")]
    commands = [line for line in fenced if line.startswith("stopgap ")]
    assert len(commands) == 4
    for command in commands:
        result = CliRunner().invoke(main, shlex.split(command)[1:])
        assert result.exit_code == 0, f"{command}: {result.output}"
        if command == "stopgap read quay.jpg":
            assert "without a profile" not in result.output
            assert "profile" in result.output


def test_every_verb_is_on_the_front_page():
    assert [verb for verb in VERBS if f"stopgap {verb}" not in README] == []


def _fenced(marker: str) -> str:
    return re.search(rf"<!-- {marker} -->\n```sh\n(.+?)\n```", README, re.DOTALL)[1]


def test_the_first_command_prints_what_the_page_shows():
    """The part after the installation, run as a process; the page shows its first lines."""
    command = _fenced("first command").split("&&")[-1].strip().removeprefix(".venv/bin/stopgap")
    words = [sys.executable, "-m", "meter", *shlex.split(command)]
    done = subprocess.run(words, capture_output=True, text=True, cwd=CHECKOUT, check=False)
    assert done.returncode == 0, done.stderr
    shown = re.search(r"```text\n(.+?)\n```", README, re.DOTALL)[1]
    assert done.stdout.startswith(shown.split("\n…")[0])


def test_ci_runs_the_test_command_of_the_front_page():
    assert "<!-- test command -->" in (CHECKOUT / ".ci/run").read_text("utf-8")
    assert _fenced("test command").endswith("pytest -q")
