"""The shape of the roll log: appended steps, one transaction each; a newer or foreign file is refused, not touched."""

import sqlite3
from pathlib import Path

from meter.errors import LogError

APPLICATION_ID = 0x53544F50  # marks a file as a roll log (SQLite header, offset 68)
MAGIC = b"SQLite format 3\x00"

_TABLES = (
    """CREATE TABLE roll (
        id INTEGER PRIMARY KEY,
        film TEXT NOT NULL,
        film_name TEXT NOT NULL,
        iso REAL NOT NULL CHECK (iso > 0),
        ei REAL NOT NULL CHECK (ei > 0),
        kit TEXT NOT NULL,
        kit_name TEXT NOT NULL,
        format TEXT NOT NULL,
        capacity INTEGER NOT NULL CHECK (capacity > 0),
        facts TEXT NOT NULL,
        loaded_at TEXT NOT NULL,
        unloaded_at TEXT
    ) STRICT""",
    """CREATE TABLE reading (
        id INTEGER PRIMARY KEY,
        remembered_at TEXT NOT NULL,
        record TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE frame (
        id INTEGER PRIMARY KEY,
        roll INTEGER NOT NULL REFERENCES roll (id),
        number INTEGER NOT NULL CHECK (number > 0),
        exposed_at TEXT NOT NULL,
        shutter TEXT NOT NULL,
        time_s REAL NOT NULL CHECK (time_s > 0),
        f_number REAL NOT NULL CHECK (f_number > 0),
        aperture TEXT NOT NULL,
        development REAL,
        filter TEXT,
        focus_m REAL,
        note TEXT,
        photo TEXT,
        place TEXT,
        reading INTEGER REFERENCES reading (id),
        undone_at TEXT
    ) STRICT""",
    """CREATE TABLE placement (
        frame INTEGER NOT NULL REFERENCES frame (id),
        name TEXT NOT NULL,
        zone REAL NOT NULL,
        placed INTEGER NOT NULL CHECK (placed IN (0, 1)),
        sigma REAL
    ) STRICT""",
    "CREATE UNIQUE INDEX one_roll_a_kit ON roll (kit) WHERE unloaded_at IS NULL",
    "CREATE UNIQUE INDEX one_frame_a_number ON frame (roll, number) WHERE undone_at IS NULL",
    "CREATE INDEX placements_of_a_frame ON placement (frame)",
)

_GUARDS = (  # nothing recorded is ever lost, whoever writes
    *(
        f"CREATE TRIGGER keep_{table} BEFORE DELETE ON {table}"
        " BEGIN SELECT RAISE(ABORT, 'the roll log deletes nothing'); END"
        for table in ("roll", "frame", "placement", "reading")
    ),
    *(
        f"CREATE TRIGGER fix_{table} BEFORE UPDATE ON {table}"
        " BEGIN SELECT RAISE(ABORT, 'the roll log changes nothing that it recorded'); END"
        for table in ("placement", "reading")
    ),
    "CREATE TRIGGER fix_frame BEFORE UPDATE ON frame WHEN old.undone_at IS NOT NULL OR new.undone_at IS NULL"
    " BEGIN SELECT RAISE(ABORT, 'a frame can only be undone, and once'); END",
    "CREATE TRIGGER fix_frame_record BEFORE UPDATE OF id, roll, number, exposed_at, shutter, time_s, f_number,"
    " aperture, development, filter, focus_m, note, photo, place, reading ON frame"
    " BEGIN SELECT RAISE(ABORT, 'the roll log changes nothing that it recorded'); END",
    "CREATE TRIGGER fix_roll BEFORE UPDATE ON roll WHEN old.unloaded_at IS NOT NULL OR new.unloaded_at IS NULL"
    " BEGIN SELECT RAISE(ABORT, 'a roll can only be unloaded, and once'); END",
    "CREATE TRIGGER fix_roll_record BEFORE UPDATE OF id, film, film_name, iso, ei, kit, kit_name, format, capacity,"
    " facts, loaded_at ON roll"
    " BEGIN SELECT RAISE(ABORT, 'the roll log changes nothing that it recorded'); END",
)

STEPS: tuple[tuple[str, ...], ...] = (  # append only: the position of a step is its version
    (f"PRAGMA application_id = {APPLICATION_ID}", *_TABLES, *_GUARDS),
)


def check_header(path: Path) -> None:
    """Look at a file before SQLite does. Raises LogError for one that is no roll log or is from a newer version.

    A missing or empty file passes: it becomes a log. Opens for reading only and changes nothing.
    """
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except FileNotFoundError:
        return
    except IsADirectoryError:
        raise LogError(f"{path} is a folder: give the roll log a file name, such as {path / 'rolls.db'}") from None
    except OSError as error:
        raise LogError(f"the roll log {path} cannot be read ({error.strerror}): check where it lies") from error
    if header and (len(header) < 100 or not header.startswith(MAGIC)):
        raise LogError(f"{path} is not a roll log, or is damaged at its start; nothing was changed: use another --log")
    if header:
        _check_version(path, int.from_bytes(header[60:64], "big"))


def bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    """Apply the steps that this log has not seen, each in its own transaction.

    db: in autocommit mode. Raises LogError for a foreign database or a log of a newer version, before any change.
    """
    done = check_version(db, path)
    while done < len(STEPS):
        db.execute("BEGIN IMMEDIATE")
        try:
            done = _user_version(db)  # another process may have been faster
            if done < len(STEPS):
                for statement in STEPS[done]:
                    db.execute(statement)
                done += 1
                db.execute(f"PRAGMA user_version = {done}")
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise


def check_version(db: sqlite3.Connection, path: Path) -> int:
    """The version of an open log. Raises LogError if it is foreign or newer."""
    done = _user_version(db)
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    if owner != APPLICATION_ID and db.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone():
        raise LogError(f"{path} is a database of something else; nothing was changed: use another --log")
    _check_version(path, done)
    return done


def _check_version(path: Path, done: int) -> None:
    if done > len(STEPS):
        raise LogError(
            f"the roll log {path} is from a newer version ({done}; this one knows {len(STEPS)}); nothing was changed:"
            " update, or use another --log"
        )


def _user_version(db: sqlite3.Connection) -> int:
    return db.execute("PRAGMA user_version").fetchone()[0]
