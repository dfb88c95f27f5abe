"""A file is replaced whole or stays as it was."""

import errno
import os

import pytest

from meter.errors import BadInput, MeterError
from meter.jobs.whole_file import refuse_to_replace, whole_file


def test_it_replaces_and_keeps_the_mode(tmp_path):
    path = tmp_path / "rolls.csv"
    path.write_text("old")
    path.chmod(0o640)
    with whole_file(path, force=True) as part:
        part.write_text("new")
        assert path.read_text() == "old"

    assert path.read_text() == "new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("error", [ValueError("a bug"), OSError(errno.ENOSPC, "No space left on device")])
def test_whatever_fails_the_old_file_stays_and_nothing_is_left_behind(tmp_path, error):
    path = tmp_path / "rolls.csv"
    path.write_text("old")
    expected = MeterError if isinstance(error, OSError) else ValueError
    with pytest.raises(expected), whole_file(path, force=True) as part:
        part.write_text("half")
        raise error

    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_failed_replacement_is_said(tmp_path, monkeypatch):
    path = tmp_path / "rolls.csv"
    path.write_text("old")

    def refuse(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    complaint = r"rolls.csv could not be written \(No space left on device\): nothing was changed"
    with pytest.raises(MeterError, match=complaint), whole_file(path, force=True) as part:
        part.write_text("new")

    assert path.read_text() == "old"


def test_a_missing_folder_is_said(tmp_path):
    with pytest.raises(MeterError, match="could not be written"), whole_file(tmp_path / "no" / "rolls.csv"):
        pass


def test_a_link_keeps_pointing(tmp_path):
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("old")
    link.symlink_to(real)
    with whole_file(link, force=True) as part:
        part.write_text("new")

    assert link.is_symlink() and real.read_text() == "new"


REFUSED = "exists: choose another name, or replace it with --force"


def test_a_file_that_exists_is_only_replaced_by_force(tmp_path):
    path = tmp_path / "rolls.csv"
    path.write_text("old")
    with pytest.raises(BadInput) as refused, whole_file(path):
        raise AssertionError("refused before anything is written")

    assert str(refused.value) == f"{path} {REFUSED}"
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_a_file_that_came_meanwhile_is_not_replaced_either(tmp_path):
    path = tmp_path / "rolls.csv"
    with pytest.raises(BadInput, match=REFUSED), whole_file(path) as part:
        part.write_text("new")
        path.write_text("another's")

    assert path.read_text() == "another's" and list(tmp_path.iterdir()) == [path]


def test_a_new_name_needs_no_force(tmp_path):
    path = tmp_path / "rolls.csv"
    refuse_to_replace(path)
    with whole_file(path) as part:
        part.write_text("new")

    assert path.read_text() == "new"


def test_a_folder_and_a_name_too_long_are_said(tmp_path):
    for path in (tmp_path, tmp_path / ("a" * 300 + ".csv")):
        with pytest.raises(MeterError, match="could not be written"), whole_file(path) as part:
            part.write_text("new")
