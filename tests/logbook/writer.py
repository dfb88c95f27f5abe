"""A process that writes to a log as fast as it can and says each entry it was told is kept. Run by the tests.

python -m tests.logbook.writer LOG KIT [COUNT]: prints one line an entry, written only after the entry has returned.
"""

import os
import sys
from itertools import count, islice
from pathlib import Path

from meter.errors import BadInput
from meter.logbook.book import Book
from meter.roll import FrameExposure, NewRoll, ZonedPart

AT = "2026-05-01T10:00:00+02:00"


def main(log: str, kit: str, most: str = "") -> None:
    with Book(Path(log)) as book:
        roll = loaded_roll(book, kit)
        for n in islice(count(), int(most) if most else None):
            mark = f"{os.getpid()}-{n}"
            placements = (ZonedPart("quay wall", 3.0), ZonedPart("floats", 7.5, False))
            number = book.expose(roll, FrameExposure("1/125", 1 / 128, 8.0, "f/8", None, placements, note=mark), AT)
            os.write(1, f"exposed {number} {mark}\n".encode())
            if n % 5 == 4:
                os.write(1, f"undone {book.undo(roll, AT, number)} {mark}\n".encode())
            if n % 7 == 6:
                os.write(1, f"remembered {book.remember({'mark': mark}, AT)} {mark}\n".encode())


def loaded_roll(book: Book, kit: str) -> int:
    try:
        return book.load(NewRoll("hp5-plus", "HP5 Plus", 400, 200, kit, kit, "6x7", 10), AT)
    except BadInput:
        return next(r.id for r in book.rolls() if r.made.kit == kit and r.unloaded_at is None)


if __name__ == "__main__":
    main(*sys.argv[1:])
