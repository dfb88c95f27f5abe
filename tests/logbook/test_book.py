"""The log keeps what it was told, in every order of events; nothing is deleted or changed."""

import shutil
import sqlite3
import tempfile
from math import inf
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from meter.errors import BadInput
from meter.logbook.book import Book
from meter.roll import FrameExposure, NewRoll, ZonedPart

AT = "2026-05-01T10:00:00+02:00"
LATER = "2026-05-01T11:00:00+02:00"
FULL = FrameExposure(
    "B", 12.0, 22.6, "f/22", -1.5, (ZonedPart("quay wall", 3.0, True, 0.2), ZonedPart("floats", 7.5, False)),
    "yellow-8", inf, "tide out", "IMG_2.jpg", "north mole",
)  # fmt: skip
PLAIN = FrameExposure("1/125", 1 / 128, 8.0, "f/8")


def a_film(kit: str = "breakwater", capacity: int = 10) -> NewRoll:
    return NewRoll("hp5-plus", "HP5 Plus", 400, 200, kit, kit.title(), "6x7", capacity, {"marks": [8, 11]})


@pytest.fixture
def book(tmp_path):
    with Book(tmp_path / "rolls.db") as book:
        yield book


def test_a_frame_comes_back_as_it_was_told(book):
    roll_id = book.load(a_film(), AT)
    assert book.expose(roll_id, FULL, AT) == 1

    (roll,) = book.rolls()
    assert roll.made == a_film()
    assert roll.frames[0].exposure == FULL
    assert (roll.loaded_at, roll.unloaded_at) == (AT, None)


def test_a_kit_holds_one_roll_and_another_kit_another(book):
    book.load(a_film(), AT)
    with pytest.raises(BadInput, match="breakwater still holds roll 1"):
        book.load(a_film(), AT)
    assert book.load(a_film("folding"), AT) == 2


def test_undo_keeps_the_record_and_frees_the_number(book):
    roll_id = book.load(a_film(), AT)
    book.expose(roll_id, PLAIN, AT)
    book.expose(roll_id, FULL, AT)
    assert book.undo(roll_id, LATER) == 2
    assert book.expose(roll_id, PLAIN, LATER) == 2

    frames = book.rolls()[0].frames
    assert [(f.number, f.undone_at) for f in frames] == [(1, None), (2, LATER), (2, None)]
    assert frames[1].exposure == FULL


def test_a_frame_in_the_middle_can_be_taken_back_and_recorded_again(book):
    roll_id = book.load(a_film(), AT)
    for _ in range(3):
        book.expose(roll_id, PLAIN, AT)
    book.undo(roll_id, LATER, 2)
    with pytest.raises(BadInput, match="frame 3 of roll 1 is recorded already"):
        book.expose(roll_id, PLAIN, LATER, 3)
    assert book.expose(roll_id, FULL, LATER, 2) == 2
    assert book.expose(roll_id, FULL, LATER) == 4


@pytest.mark.parametrize("act", ["expose", "undo", "unload"])
def test_an_unloaded_roll_is_closed(book, act):
    roll_id = book.load(a_film(), AT)
    book.expose(roll_id, PLAIN, AT)
    book.unload(roll_id, LATER)

    with pytest.raises(BadInput, match=f"roll 1 was unloaded at {LATER}".replace("+", r"\+")):
        getattr(book, act)(*((roll_id, PLAIN, AT) if act == "expose" else (roll_id, AT)))


def test_an_empty_roll_has_nothing_to_undo_and_an_unknown_one_is_named(book):
    roll_id = book.load(a_film(), AT)
    with pytest.raises(BadInput, match="roll 1 has no frame to undo"):
        book.undo(roll_id, AT)
    with pytest.raises(BadInput, match="no roll 7"):
        book.expose(7, PLAIN, AT)


def test_readings_come_back_by_number_or_the_last(book):
    assert book.reading() is None
    book.remember({"settings": [1]}, AT)
    book.remember({"settings": [2], "photo": "Mole – früh.jpg"}, LATER)

    assert book.reading() == (2, LATER, {"settings": [2], "photo": "Mole – früh.jpg"})
    assert book.reading(1) == (1, AT, {"settings": [1]})
    assert book.reading(9) is None


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM frame", "DELETE FROM roll", "DELETE FROM placement", "DELETE FROM reading",
        "UPDATE frame SET f_number = 5.6", "UPDATE frame SET undone_at = NULL", "UPDATE roll SET ei = 400",
        "UPDATE roll SET unloaded_at = NULL", "UPDATE placement SET zone = 5", "UPDATE reading SET record = '{}'",
    ],
)  # fmt: skip
def test_the_file_itself_refuses_to_forget(book, statement):
    book.remember({}, AT)
    first = book.load(a_film(), AT)
    book.expose(first, FULL, AT)
    book.undo(first, LATER)
    book.unload(first, LATER)
    before = book.rolls(), book.reading()

    with sqlite3.connect(book.path) as stranger, pytest.raises(sqlite3.IntegrityError):
        stranger.execute(statement)
    stranger.close()

    assert (book.rolls(), book.reading()) == before


def test_a_returned_entry_is_flushed_to_the_disk(book):
    assert book._db.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    assert book._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


class AnyOrderOfEvents(RuleBasedStateMachine):
    """Two cameras, any order of load, expose, undo, unload and reopening: the log agrees with a plain list."""

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.book = Book(self.folder / "rolls.db")
        self.rolls: dict[int, list[list]] = {}  # roll: [number, undone]
        self.loaded: dict[str, int] = {}

    def teardown(self):
        self.book.close()
        shutil.rmtree(self.folder)

    @rule(kit=st.sampled_from(["one", "two"]))
    def load(self, kit):
        if kit in self.loaded:
            with pytest.raises(BadInput):
                self.book.load(a_film(kit), AT)
        else:
            self.loaded[kit] = self.book.load(a_film(kit), AT)
            self.rolls[self.loaded[kit]] = []

    @precondition(lambda self: self.loaded)
    @rule(data=st.data(), exposure=st.sampled_from([PLAIN, FULL]), number=st.none() | st.integers(1, 12))
    def expose(self, data, exposure, number):
        roll = data.draw(st.sampled_from(sorted(self.loaded.values())))
        live = {n for n, undone in self.rolls[roll] if not undone}
        if number in live:
            with pytest.raises(BadInput):
                self.book.expose(roll, exposure, AT, number)
            return
        given_number = self.book.expose(roll, exposure, AT, number)
        assert given_number == (number or max(live, default=0) + 1)
        self.rolls[roll].append([given_number, False])

    @precondition(lambda self: self.loaded)
    @rule(data=st.data())
    def undo(self, data):
        roll = data.draw(st.sampled_from(sorted(self.loaded.values())))
        live = [entry for entry in self.rolls[roll] if not entry[1]]
        if not live:
            with pytest.raises(BadInput):
                self.book.undo(roll, AT)
            return
        last = max(live)
        assert self.book.undo(roll, AT) == last[0]
        last[1] = True

    @precondition(lambda self: self.loaded)
    @rule(data=st.data())
    def unload(self, data):
        kit = data.draw(st.sampled_from(sorted(self.loaded)))
        self.book.unload(self.loaded.pop(kit), AT)

    @rule()
    def reopen(self):
        self.book.close()
        self.book = Book(self.folder / "rolls.db")

    @invariant()
    def the_log_agrees(self):
        rolls = self.book.rolls()
        assert {r.id: [[f.number, f.undone_at is not None] for f in r.frames] for r in rolls} == self.rolls
        assert {r.made.kit: r.id for r in rolls if r.unloaded_at is None} == self.loaded
        for roll in rolls:
            numbers = [frame.number for frame in roll.live]
            assert len(set(numbers)) == len(numbers)
            assert roll.left == max(roll.made.capacity - max(numbers, default=0), 0)


TestAnyOrderOfEvents = AnyOrderOfEvents.TestCase
TestAnyOrderOfEvents.settings = settings(max_examples=12, stateful_step_count=15, deadline=None)
