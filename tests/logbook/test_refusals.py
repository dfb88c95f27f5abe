"""A log that cannot be used or written says so in one sentence, keeps what it has, and is left as it was."""

import ctypes
import resource
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from meter.errors import LogError
from meter.logbook.book import Book
from meter.logbook.schema import APPLICATION_ID, STEPS
from meter.roll import FrameExposure, NewRoll

CHECKOUT = Path(__file__).parents[2]
AT = "2026-05-01T10:00:00+02:00"
PLAIN = FrameExposure("1/125", 1 / 128, 8.0, "f/8", note="tide out " * 40)
FILM = NewRoll("hp5-plus", "HP5 Plus", 400, 200, "breakwater", "Breakwater", "6x7", 10)
EXPOSE = ("roll", "expose", "--shutter", "1/125", "--aperture", "8", "--note", "tide out")


@pytest.fixture
def log(tmp_path) -> Path:
    """A log with one loaded roll and one frame, everything in its main file."""
    log = tmp_path / "rolls.db"
    facts = {"marks": [5.6, 8, 11], "iris": "continuous", "focal_length_mm": 90, "focal_35mm": 43,
             "speeds": [["1/125", 1 / 128, 1 / 128]], "bulb": True}  # fmt: skip
    with Book(log) as book:
        roll = book.load(NewRoll("f", "F", 400, 200, "breakwater", "Breakwater", "6x7", 10, facts), AT)
        book.expose(roll, PLAIN, AT)
    return log


def run(*arguments, log: Path, before=None) -> subprocess.CompletedProcess:
    command = [sys.executable, "-m", "meter", *arguments, "--log", str(log)]
    return subprocess.run(command, cwd=CHECKOUT, capture_output=True, text=True, preexec_fn=before)


def frames_in(log: Path) -> int:
    with Book(log, writing=False) as book:
        return sum(len(roll.frames) for roll in book.rolls())


def one_sentence(result: subprocess.CompletedProcess) -> str:
    assert result.returncode == 1
    assert result.stdout == ""
    (sentence,) = result.stderr.splitlines()
    assert "Traceback" not in sentence
    return sentence


def obey_file_modes() -> None:
    """Take root's power to ignore file modes away from the process about to start (prctl, capability numbers)."""
    drop_from_bounding_set, override_modes, override_read = 24, 1, 2
    for capability in (override_modes, override_read):
        ctypes.CDLL(None).prctl(drop_from_bounding_set, capability, 0, 0, 0)


def allow_no_growth(size: int):
    """No file of the process may grow past `size`: what a full disk looks like to a writer."""

    def before() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return before


def test_a_log_of_a_newer_version_is_refused_and_left_as_it_was(log):
    newer = bytearray(log.read_bytes())
    newer[60:64] = (len(STEPS) + 1).to_bytes(4, "big")
    log.write_bytes(newer)
    names = sorted(path.name for path in log.parent.iterdir())

    for arguments in (EXPOSE, ("roll", "show"), ("roll", "undo")):
        sentence = one_sentence(run(*arguments, log=log))
        assert f"is from a newer version ({len(STEPS) + 1}; this one knows {len(STEPS)})" in sentence
    assert log.read_bytes() == newer
    assert sorted(path.name for path in log.parent.iterdir()) == names


def test_a_newer_version_still_in_the_write_ahead_file_is_refused_too(log):
    other = sqlite3.connect(log)
    other.execute(f"PRAGMA user_version = {len(STEPS) + 1}")  # stays in the -wal file while this connection is open
    before = log.read_bytes(), log.with_name("rolls.db-wal").read_bytes()

    with pytest.raises(LogError, match="newer version"):
        Book(log)

    assert (log.read_bytes(), log.with_name("rolls.db-wal").read_bytes()) == before
    other.close()


@pytest.mark.parametrize("content", [b"not a log at all\n" * 20, b"x", b"SQLite format 3\x00"])
def test_a_file_that_is_no_database_is_refused_and_left_as_it_was(tmp_path, content):
    log = tmp_path / "rolls.db"
    log.write_bytes(content)

    assert "is not a roll log, or is damaged at its start" in one_sentence(run(*EXPOSE, log=log))
    assert log.read_bytes() == content


def test_a_database_of_something_else_is_refused_and_left_as_it_was(tmp_path):
    log = tmp_path / "rolls.db"
    with sqlite3.connect(log) as other:
        other.execute("CREATE TABLE tide (level REAL)")
    other.close()
    before = log.read_bytes()

    assert "is a database of something else" in one_sentence(run(*EXPOSE, log=log))
    assert log.read_bytes() == before


def test_a_damaged_log_is_said_to_be_damaged(log):
    data = bytearray(log.read_bytes())
    data[100:] = b"\x5a" * (len(data) - 100)
    log.write_bytes(data)

    for arguments in (EXPOSE, ("roll", "show")):
        assert "is damaged" in one_sentence(run(*arguments, log=log))
    assert log.read_bytes()[100:] == data[100:]


def test_a_folder_and_a_missing_folder_are_named(tmp_path):
    assert "is a folder" in one_sentence(run(*EXPOSE, log=tmp_path))
    missing = run("roll", "load", "hp5-plus", "--kit", "breakwater", log=tmp_path / "no" / "rolls.db")
    assert "check that its folder exists" in one_sentence(missing)
    assert not (tmp_path / "no").exists()


def test_no_log_yet_is_no_reason_to_make_one(tmp_path):
    assert "no roll log" in one_sentence(run("roll", "show", log=tmp_path / "rolls.db"))
    assert list(tmp_path.iterdir()) == []


def test_a_read_only_file_can_be_read_and_refuses_to_be_written(log):
    log.chmod(0o444)
    before = log.read_bytes()

    assert "is read-only; this entry was not recorded" in one_sentence(run(*EXPOSE, log=log, before=obey_file_modes))
    shown = run("roll", "show", log=log, before=obey_file_modes)
    assert shown.returncode == 0 and "1 of 10 exposed" in shown.stdout
    assert log.read_bytes() == before


def test_a_read_only_folder_can_be_read_and_refuses_to_be_written(log):
    log.chmod(0o444)
    log.parent.chmod(0o555)
    try:
        refused = run(*EXPOSE, log=log, before=obey_file_modes)
        shown = run("roll", "show", log=log, before=obey_file_modes)
        elsewhere = run(
            "roll", "load", "hp5-plus", "--kit", "breakwater", log=log.parent / "new.db", before=obey_file_modes
        )
    finally:
        log.parent.chmod(0o755)

    assert "this entry was not recorded" in one_sentence(refused)
    assert shown.returncode == 0 and "1 of 10 exposed" in shown.stdout
    assert "cannot be opened here" in one_sentence(elsewhere)


def test_an_unreadable_file_is_said_to_be_unreadable(log):
    log.chmod(0)
    assert "cannot be read (Permission denied)" in one_sentence(run("roll", "show", log=log, before=obey_file_modes))


def test_a_full_disk_loses_nothing_that_was_reported(log):
    """The writer may not grow any file past 160 KiB: entries go in until one does not fit, and that one is refused."""
    limit = 160 * 1024
    script = (
        "import sys; from pathlib import Path; from meter.logbook.book import Book;"
        "from tests.logbook.test_refusals import PLAIN, AT\n"
        "with Book(Path(sys.argv[1])) as book:\n"
        "    for n in range(10000): print(book.expose(1, PLAIN, AT), flush=True)"
    )
    command = [sys.executable, "-c", script, str(log)]
    writer = subprocess.run(command, cwd=CHECKOUT, capture_output=True, text=True, preexec_fn=allow_no_growth(limit))
    reported = [int(line) for line in writer.stdout.splitlines()]

    assert writer.returncode != 0
    assert "this entry was not recorded" in writer.stderr.splitlines()[-1]
    assert len(reported) > 10
    assert frames_in(log) == 1 + len(reported)  # the one of the fixture, and no half of the refused one

    # With room again, it goes on where it stopped.
    assert run(*EXPOSE, log=log).stdout.startswith(f"Frame {reported[-1] + 1}:")


def test_a_full_database_is_said_to_have_no_room(log):
    with Book(log) as book:
        (pages,) = book._db.execute("PRAGMA page_count").fetchone()
        book._db.execute(f"PRAGMA max_page_count = {pages}")
        kept = 0
        with pytest.raises(LogError, match="has no room left on its disk; this entry was not recorded"):
            for _ in range(1000):
                book.expose(1, PLAIN, AT)
                kept += 1
    assert frames_in(log) == 1 + kept


def test_a_lock_that_stays_is_said(log, monkeypatch):
    monkeypatch.setattr("meter.logbook.book.WAIT_S", 0.05)
    holder = sqlite3.connect(log, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with Book(log) as book, pytest.raises(LogError, match="is being written by another process"):
        book.expose(1, PLAIN, AT)
    holder.execute("ROLLBACK")
    holder.close()

    assert frames_in(log) == 1


def test_logs_carry_their_mark(log):
    assert int.from_bytes(log.read_bytes()[68:72], "big") == APPLICATION_ID
