"""Rolls, frames and remembered readings in one SQLite file. What a method has returned is on the disk."""

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from meter.errors import BadInput, LogError
from meter.logbook.schema import bring_up_to_date, check_header, check_version
from meter.roll import Frame, FrameExposure, NewRoll, Roll, ZonedPart

WAIT_S = 20.0  # how long one process waits for another's write [s]
_ROLL_COLUMNS = "film, film_name, iso, ei, kit, kit_name, format, capacity"
_FRAME_COLUMNS = (
    "shutter, time_s, f_number, aperture, development, filter, focus_m, note, photo, place, reading"  # after number
)
_CURES = {  # SQLite's error family: what it means here, what to do
    "SQLITE_FULL": "has no room left on its disk; this entry was not recorded: free some space and repeat it",
    "SQLITE_IOERR": "cannot be written or read ({why}); this entry was not recorded: check the disk and repeat it",
    "SQLITE_READONLY": "is read-only; this entry was not recorded: make it writable or use another --log",
    "SQLITE_PERM": "is read-only; this entry was not recorded: make it writable or use another --log",
    "SQLITE_CANTOPEN": "cannot be opened here: check that its folder exists and can be written to",
    "SQLITE_BUSY": "is being written by another process and stayed locked; this entry was not recorded: repeat it",
    "SQLITE_CORRUPT": "is damaged ({why}): copy it away as it is before anything else, and use another --log",
    "SQLITE_NOTADB": "is damaged or no roll log ({why}): copy it away as it is, and use another --log",
}


_NO_TEXT = re.compile("[\ud800-\udfff]")  # how Python carries bytes of a name or note that are not UTF-8


def _plain(value: object) -> object:
    """A value that SQLite can store: in text, what is no character becomes the replacement character."""
    return _NO_TEXT.sub("\N{REPLACEMENT CHARACTER}", value) if isinstance(value, str) else value


@contextmanager
def _said_plainly(path: Path) -> Iterator[None]:
    """Turn what SQLite complains about into one sentence; an error of ours or of the code passes through."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        name = getattr(error, "sqlite_errorname", None) or ""
        cure = next((cure for family, cure in _CURES.items() if name.startswith(family)), None)
        if cure is None:
            raise
        raise LogError(f"the roll log {path} {cure.format(why=error)}") from error


class Book:
    """An open roll log. writing=False opens it for reading alone and leaves the file as it is.

    Raises LogError when the file cannot be opened, is foreign, damaged or of a newer version.
    """

    def __init__(self, path: Path, *, writing: bool = True):
        self.path = path
        check_header(path)
        with _said_plainly(path):
            self._db = _open_to_write(path) if writing else _open_to_read(path)

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, *_) -> None:
        self.close()

    def close(self) -> None:
        """Leave the file; every entry is already on the disk."""
        with suppress(sqlite3.Error):  # the last tidying may find a full disk; the entries stay in the -wal file
            self._db.close()

    @contextmanager
    def _entry(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it on the disk afterwards, or nothing of it."""
        with _said_plainly(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    with suppress(sqlite3.Error):
                        self._db.execute("ROLLBACK")
                raise

    def load(self, made: NewRoll, at: str) -> int:
        """Record a roll put into a kit; its number. Raises BadInput if that kit still holds one."""
        with self._entry() as db:
            held = db.execute("SELECT id FROM roll WHERE kit = ? AND unloaded_at IS NULL", (made.kit,)).fetchone()
            if held:
                raise BadInput(f"{made.kit} still holds roll {held[0]}: unload it first (roll unload --kit {made.kit})")
            row = (made.film, made.film_name, made.iso, made.ei, made.kit, made.kit_name, made.format, made.capacity)
            return db.execute(
                f"INSERT INTO roll ({_ROLL_COLUMNS}, facts, loaded_at) VALUES ({_marks(10)})",
                [_plain(value) for value in (*row, json.dumps(dict(made.facts), ensure_ascii=False), at)],
            ).lastrowid

    def expose(self, roll_id: int, exposure: FrameExposure, at: str, number: int | None = None) -> int:
        """Record a frame; the number it got: the one asked for, else the next. Raises BadInput if that is taken."""
        with self._entry() as db:
            _check_loaded(db, roll_id)
            number = number or _next_number(db, roll_id)
            if _live_frame(db, roll_id, number):
                raise BadInput(f"frame {number} of roll {roll_id} is recorded already: undo it first")
            values = [getattr(exposure, "where" if name == "place" else name) for name in _FRAME_COLUMNS.split(", ")]
            frame_id = db.execute(
                f"INSERT INTO frame (roll, number, exposed_at, {_FRAME_COLUMNS}) VALUES ({_marks(3 + len(values))})",
                (roll_id, number, at, *map(_plain, values)),
            ).lastrowid
            db.executemany(
                "INSERT INTO placement (frame, name, zone, placed, sigma) VALUES (?, ?, ?, ?, ?)",
                [(frame_id, _plain(p.name), p.zone, int(p.placed), p.sigma) for p in exposure.placements],
            )
        return number

    def undo(self, roll_id: int, at: str, number: int | None = None) -> int:
        """Mark a frame as undone, the last one unless a number is given; its number. Nothing is deleted."""
        with self._entry() as db:
            _check_loaded(db, roll_id)
            number = number or _next_number(db, roll_id) - 1
            frame_id = _live_frame(db, roll_id, number)
            if frame_id is None:
                what = f"no frame {number}" if number else "no frame to undo"
                raise BadInput(f"roll {roll_id} has {what}: see roll show")
            db.execute("UPDATE frame SET undone_at = ? WHERE id = ?", (at, frame_id))
        return number

    def unload(self, roll_id: int, at: str) -> None:
        """Record that a roll left its camera. Raises BadInput if it already has."""
        with self._entry() as db:
            _check_loaded(db, roll_id)
            db.execute("UPDATE roll SET unloaded_at = ? WHERE id = ?", (at, roll_id))

    def remember(self, record: dict, at: str) -> int:
        """Keep a reading, as JSON; its number."""
        with self._entry() as db:
            text = _plain(json.dumps(record, ensure_ascii=False, allow_nan=False))
            return db.execute("INSERT INTO reading (remembered_at, record) VALUES (?, ?)", (at, text)).lastrowid

    def reading(self, number: int | None = None) -> tuple[int, str, dict] | None:
        """A remembered reading, the last unless a number is given: number, when, record; None if there is none."""
        which, values = ("WHERE id = ?", (number,)) if number else ("ORDER BY id DESC LIMIT 1", ())
        with _said_plainly(self.path):
            row = self._db.execute(f"SELECT id, remembered_at, record FROM reading {which}", values).fetchone()
        return row and (row[0], row[1], json.loads(row[2]))

    def rolls(self) -> tuple[Roll, ...]:
        """Every roll of the log with its frames, in the order of loading."""
        with _said_plainly(self.path):
            self._db.execute("BEGIN")  # one moment's view over three queries
            try:
                return tuple(self._rolls())
            finally:
                self._db.execute("COMMIT")

    def _rolls(self) -> Iterator[Roll]:
        placements: dict[int, list[ZonedPart]] = {}
        for frame_id, name, zone, placed, sigma in self._db.execute(
            "SELECT frame, name, zone, placed, sigma FROM placement ORDER BY rowid"
        ):
            placements.setdefault(frame_id, []).append(ZonedPart(name, zone, bool(placed), sigma))
        frames: dict[int, list[Frame]] = {}
        for frame_id, roll_id, number, exposed_at, undone_at, *values in self._db.execute(
            f"SELECT id, roll, number, exposed_at, undone_at, {_FRAME_COLUMNS} FROM frame ORDER BY id"
        ):
            exposure = _exposure(values, tuple(placements.get(frame_id, ())))
            frames.setdefault(roll_id, []).append(Frame(number, exposed_at, exposure, undone_at))
        for roll_id, facts, loaded_at, unloaded_at, *values in self._db.execute(
            f"SELECT id, facts, loaded_at, unloaded_at, {_ROLL_COLUMNS} FROM roll ORDER BY id"
        ):
            made = NewRoll(*values, facts=json.loads(facts))
            yield Roll(roll_id, made, loaded_at, unloaded_at, tuple(frames.get(roll_id, ())))


def _exposure(values: list, placements: tuple[ZonedPart, ...]) -> FrameExposure:
    shutter, time_s, f_number, aperture, development, *rest = values
    return FrameExposure(shutter, time_s, f_number, aperture, development, placements, *rest)


def _open_to_write(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    try:
        check_version(db, path)
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")  # a returned entry has reached the disk
        db.execute("PRAGMA fullfsync = ON")  # and on systems where that takes a stronger call
        db.execute("PRAGMA foreign_keys = ON")
        bring_up_to_date(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _open_to_read(path: Path) -> sqlite3.Connection:
    if not path.exists():
        raise LogError(f"there is no roll log at {path} yet: load a film first (roll load FILM --kit NAME)")
    uri = path.absolute().as_uri()
    try:
        return _checked(sqlite3.connect(f"{uri}?mode=ro", uri=True, timeout=WAIT_S, isolation_level=None), path)
    except sqlite3.OperationalError:
        left_over = path.with_name(path.name + "-wal")
        if left_over.exists() and left_over.stat().st_size:
            raise
        # Read-only folder: SQLite may not lay its helper files there, and with nothing pending it needs none.
        return _checked(sqlite3.connect(f"{uri}?immutable=1", uri=True, isolation_level=None), path)


def _checked(db: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    try:
        if check_version(db, path) == 0:
            raise LogError(f"the roll log {path} is empty: load a film first (roll load FILM --kit NAME)")
    except BaseException:
        db.close()
        raise
    return db


def _marks(count: int) -> str:
    return ", ".join("?" * count)


def _check_loaded(db: sqlite3.Connection, roll_id: int) -> None:
    row = db.execute("SELECT unloaded_at FROM roll WHERE id = ?", (roll_id,)).fetchone()
    if row is None:
        raise BadInput(f"there is no roll {roll_id} in this log: see roll show --rolls")
    if row[0] is not None:
        raise BadInput(f"roll {roll_id} was unloaded at {row[0]}: its record is closed")


def _next_number(db: sqlite3.Connection, roll_id: int) -> int:
    query = "SELECT coalesce(max(number), 0) + 1 FROM frame WHERE roll = ? AND undone_at IS NULL"
    return db.execute(query, (roll_id,)).fetchone()[0]


def _live_frame(db: sqlite3.Connection, roll_id: int, number: int) -> int | None:
    query = "SELECT id FROM frame WHERE roll = ? AND number = ? AND undone_at IS NULL"
    row = db.execute(query, (roll_id, number)).fetchone()
    return row and row[0]
