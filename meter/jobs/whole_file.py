"""Write a file whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from meter.errors import BadInput, MeterError


@contextmanager
def whole_file(path: Path, force: bool = False) -> Iterator[Path]:
    """Give a name beside `path` to write to; afterwards it becomes `path` in one step, its bytes on the disk first.

    If anything goes wrong, `path` is as it was and nothing is left behind. force: replace a file that exists; the new
    one keeps its mode. Raises BadInput where one exists otherwise, MeterError when the folder does not take it.
    """
    named, path = path, path.resolve()  # through a symbolic link, the file behind it is the one to replace
    part = None
    try:
        refuse_to_replace(named, force)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        os.close(handle)
        part = Path(name)
        yield part
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.chmod(path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask())
        refuse_to_replace(named, force)  # one may have come meanwhile
        part.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        raise MeterError(f"{path} could not be written ({error.strerror or error}): nothing was changed") from error
    finally:
        if part is not None:
            with suppress(FileNotFoundError):
                part.unlink()


def refuse_to_replace(path: Path, force: bool = False) -> None:
    """Raise BadInput where `path` exists, unless force; for work that is better refused before it begins."""
    if not force and path.exists() and not path.is_dir():
        raise BadInput(f"{path} exists: choose another name, or replace it with --force")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    with suppress(OSError):  # not every system lets a folder be opened; the file itself is already safe
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
