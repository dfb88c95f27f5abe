"""Whatever happens to a writer, each entry it was told is kept is in the log.

SIGKILL stands for a crash of the process; a power cut is not simulated (see synchronous = FULL in test_book.py).
"""

import random
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from meter.logbook.book import Book

CHECKOUT = Path(__file__).parents[2]


def start_writer(log: Path, kit: str, *count: str) -> subprocess.Popen:
    command = [sys.executable, "-m", "tests.logbook.writer", str(log), kit, *count]
    return subprocess.Popen(command, cwd=CHECKOUT, stdout=subprocess.PIPE, text=True)


def kill_at_random(log: Path, kit: str, chance: random.Random) -> list[str]:
    """Start a writer, let it write for a random while, kill it; the entries it reported."""
    writer = start_writer(log, kit)
    reported = [writer.stdout.readline()]  # it is at work
    time.sleep(chance.uniform(0, 0.25))
    writer.kill()
    rest, _ = writer.communicate()
    assert writer.returncode == -9
    return [line for line in [*reported, *rest.splitlines(keepends=True)] if line.endswith("\n")]


def missing_entries(log: Path, reported: list[str]) -> list[str]:
    """The reported entries that the log does not hold."""
    frames, readings = {}, {}
    with Book(log) as book:
        assert book._db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        for roll in book.rolls():
            for frame in roll.frames:
                assert len(frame.exposure.placements) == 2  # a frame and its placements are one entry
                frames[frame.exposure.note] = frame
        for number, record in book._db.execute("SELECT id, record FROM reading"):
            readings[number] = record
    missing = []
    for line in reported:
        what, number, mark = line.split()
        frame = frames.get(mark)
        kept = {
            "exposed": frame is not None and frame.number == int(number),
            "undone": frame is not None and frame.undone_at is not None,
            "remembered": mark in readings.get(int(number), ""),
        }[what]
        if not kept:
            missing.append(line)
    return missing


def count_through_kills(log: Path, kills: int, entries: int, seed: int) -> tuple[int, int]:
    """Kill writers until both numbers are reached; how many entries survived how many kills."""
    chance = random.Random(seed)  # seeded: the times of the kills; where they hit is up to the machine
    reported, done = [], 0
    while done < kills or len(reported) < entries:
        reported += kill_at_random(log, f"kit {done % 3}", chance)
        done += 1

    assert missing_entries(log, reported) == []
    return len(reported), done


def test_a_killed_writer_loses_nothing_it_reported(tmp_path):
    print("entries, kills:", *count_through_kills(tmp_path / "rolls.db", kills=6, entries=50, seed=11))


@pytest.mark.fuzz
def test_a_killed_writer_loses_nothing_for_longer(tmp_path):
    print("entries, kills:", *count_through_kills(tmp_path / "rolls.db", kills=60, entries=2000, seed=12))


@pytest.mark.parametrize("kits", [("one", "two"), ("one", "one")])
def test_two_processes_write_at_once(tmp_path, kits):
    log = tmp_path / "rolls.db"
    writers = [start_writer(log, kit, "60") for kit in kits]  # they also race to create the log
    reported = [line for writer in writers for line in writer.communicate()[0].splitlines()]

    assert [writer.returncode for writer in writers] == [0, 0]
    assert len(reported) == 2 * (60 + 12 + 8)
    assert missing_entries(log, reported) == []
    with Book(log, writing=False) as book:
        rolls = book.rolls()
    assert len(rolls) == len(set(kits))
    for roll in rolls:
        numbers = [frame.number for frame in roll.live]
        assert len(numbers) == len(set(numbers))


def test_a_reader_sees_whole_entries_while_another_writes(tmp_path):
    log = tmp_path / "rolls.db"
    writer = start_writer(log, "one", "50")
    writer.stdout.readline()
    seen = []
    while writer.poll() is None:
        with Book(log, writing=False) as book:
            frames = book.rolls()[0].frames
        assert all(len(frame.exposure.placements) == 2 for frame in frames)
        seen.append(len(frames))
    writer.communicate()

    assert seen == sorted(seen)


def test_an_interrupted_step_leaves_the_old_version(tmp_path, monkeypatch):
    from meter.logbook import schema

    log = tmp_path / "rolls.db"
    Book(log).close()
    broken = ("CREATE TABLE more (id INTEGER)", "CREATE TABLE more (id INTEGER)")  # the second fails
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, broken))

    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        Book(log)

    monkeypatch.undo()
    with Book(log) as book:
        assert book._db.execute("PRAGMA user_version").fetchone() == (1,)
        assert book._db.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'more'").fetchone() == (0,)


def test_a_later_step_brings_an_old_log_up_to_date(tmp_path, monkeypatch):
    from meter.logbook import schema

    log = tmp_path / "rolls.db"
    Book(log).close()
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, ("ALTER TABLE roll ADD COLUMN lab TEXT",)))

    with Book(log) as book:
        assert book._db.execute("PRAGMA user_version").fetchone() == (2,)
        assert "lab" in [row[1] for row in book._db.execute("PRAGMA table_info (roll)")]
