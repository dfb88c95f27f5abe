"""What a command puts on the screen: a JSON object, a line, or a table that fits 80 columns."""

import json
from collections.abc import Iterable, Sequence

import click

from meter.plain import visible

WIDTH = 80
GAP = "  "


def show_json(value: dict | list) -> None:
    """Print one JSON value, readable and without NaN or Infinity (both are bugs here)."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1)
    click.echo(text.encode("utf-8", "replace").decode("utf-8"))  # file names may hold bytes that are no letters


def say(text: str, *, bold: bool = False) -> None:
    """Print one line, wrapped at 80 columns with its own indent."""
    from textwrap import wrap

    text = visible(text)
    indent = " " * (len(text) - len(text.lstrip()) + (2 if len(text) > WIDTH else 0))
    for line in wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False) or [""]:
        click.echo(click.style(line, bold=True) if bold else line)


def show_table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, align: str = "", emphasis: int = -1) -> None:
    """Print a table at most WIDTH wide; its last column wraps.

    align: l or r for each column. emphasis: the number of a row that stands out.
    """
    cells = [tuple(columns), *(tuple(visible(cell) for cell in row) for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(columns))]
    room = WIDTH - sum(widths[:-1]) - len(GAP) * (len(widths) - 1)
    widths[-1] = max(min(widths[-1], room), len(columns[-1]))
    for number, row in enumerate(cells, start=-1):
        for line in _table_lines(row, widths, align):
            click.echo(click.style(line, bold=True) if number in (-1, emphasis) else line)
        if number == -1:
            click.echo("─" * (sum(widths) + len(GAP) * (len(widths) - 1)))


def _table_lines(row: Sequence[str], widths: Sequence[int], align: str) -> Iterable[str]:
    """One row as lines: its last cell wrapped, the others beside its first line."""
    from textwrap import wrap

    *first, last = row
    for i, part in enumerate(wrap(last, widths[-1], break_on_hyphens=False) or [""]):
        cells = [*(first if i == 0 else [""] * len(first)), part]
        padded = [
            cell.rjust(width) if align[j : j + 1] == "r" else cell.ljust(width)
            for j, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        yield GAP.join(padded).rstrip()
