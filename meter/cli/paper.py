"""What a command puts on the screen: a JSON object, a line, or a table that fits 80 columns."""

import json
from collections.abc import Iterable, Sequence

import click

WIDTH = 80


def show_json(value: dict | list) -> None:
    """Print one JSON value, readable and without NaN or Infinity (both are bugs here)."""
    click.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1))


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


def say(text: str) -> None:
    """Print a paragraph, broken so that it fits the page."""
    click.echo(click.wrap_text(text, WIDTH))
