"""What the front page says is run: every command that it shows, as it stands there."""

import re
import shlex
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from meter.cli.app import VERBS, main
from tests.conftest import CHECKOUT

README = (CHECKOUT / "README.md").read_text("utf-8")
SHOWN = [command for command in re.findall(r"`(stopgap [^`]+)`", README) if "…" not in command]
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
