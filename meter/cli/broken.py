"""What a list says of the files on the shelf that it could not read."""

from collections.abc import Mapping

import click

from meter.errors import ShelfError
from meter.plain import visible


def broken_answers(broken: Mapping[str, ShelfError]) -> list[dict]:
    """One entry for each file that cannot be used, for --json."""
    return [{"name": slug, "error": visible(str(error))} for slug, error in broken.items()]


def warn_broken(broken: Mapping[str, ShelfError]) -> None:
    """Name each file that cannot be used in one sentence on standard error."""
    for error in broken.values():
        click.echo(f"Left out: {visible(str(error))}", err=True)
