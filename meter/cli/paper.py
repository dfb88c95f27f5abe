"""What a command puts on the screen: a JSON object, a line, or a table that fits 80 columns."""

import json
from collections.abc import Iterable, Sequence

import click

WIDTH = 80


def show_json(value: dict | list) -> None:
    """Print one JSON value, readable and without NaN or Infinity (both are bugs here)."""
    click.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1))


def say(text: str, *, bold: bool = False) -> None:
    """Print one line, wrapped at 80 columns with its own indent."""
    from textwrap import wrap

    indent = " " * (len(text) - len(text.lstrip()) + (2 if len(text) > WIDTH else 0))
    for line in wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False) or [""]:
        click.echo(click.style(line, bold=True) if bold else line)


def show_table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, align: str = "", emphasis: int = -1) -> None:
    """Print a table; align holds l, r or c for each column; the row numbered emphasis stands out."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(width=WIDTH, highlight=False, soft_wrap=False)
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), show_edge=False)
    justify = {"l": "left", "r": "right", "c": "center"}
    for i, name in enumerate(columns):
        table.add_column(Text(name), justify=justify[align[i]] if i < len(align) else "left")
    for i, row in enumerate(rows):
        table.add_row(*(Text(cell) for cell in row), style="bold" if i == emphasis else None)
    console.print(table)
