"""A bulb countdown in the terminal: a full screen that follows the window's size, or plain lines into a pipe."""

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

from meter.bulb import Moment, is_called
from meter.stops import time_text

DIGITS = {  # five rows each, drawn in blocks so that they are read from arm's length in the dark
    "0": ("███", "█ █", "█ █", "█ █", "███"),
    "1": ("  █", "  █", "  █", "  █", "  █"),
    "2": ("███", "  █", "███", "█  ", "███"),
    "3": ("███", "  █", "███", "  █", "███"),
    "4": ("█ █", "█ █", "███", "  █", "  █"),
    "5": ("███", "█  ", "███", "  █", "███"),
    "6": ("███", "█  ", "███", "█ █", "███"),
    "7": ("███", "  █", "  █", "  █", "  █"),
    "8": ("███", "█ █", "███", "█ █", "███"),
    "9": ("███", "█ █", "███", "  █", "███"),
    ":": (" ", "█", " ", "█", " "),
}
TITLES = {"lead_in": "Open the shutter in", "open": "Hold", "over": "CLOSE. Over by"}


def clock_text(seconds: int) -> str:
    """Whole seconds as a clock shows them: 7, 1:05, 1:02:03.

    >>> clock_text(7), clock_text(65), clock_text(3723)
    ('7', '1:05', '1:02:03')
    """
    if seconds < 60:
        return str(seconds)
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def big(text: str, width: int) -> list[str]:
    """Digits five rows high and doubled in width where they fit, else single, else the plain text."""
    for wide in (2, 1):
        rows = ["  ".join("".join(dot * wide for dot in DIGITS[letter][row]) for letter in text) for row in range(5)]
        if len(rows[0]) <= width - 2:
            return rows
    return [text]


def bar(part: float, width: int) -> str:
    """How much has passed, as a line of blocks. width: [columns]"""
    full = round(min(max(part, 0.0), 1.0) * width)
    return "━" * full + "╌" * (width - full)


def screen_of(moment: Moment, title: str, width: int, height: int) -> str:
    """One screen: what to do, the time that is left, how long it has been open; it fits width x height."""
    lines = [TITLES[moment.phase], "", *big(clock_text(moment.shown_s), width)]
    if moment.phase != "lead_in":
        lines += ["", bar(moment.part, min(width - 4, 60)), f"open for {clock_text(int(moment.open_s))}"]
    lines += ["", title, "Ctrl-C: the shutter is closed now" if moment.phase != "lead_in" else "Ctrl-C: leave it"]
    if len(lines) > height:
        lines = [f"{TITLES[moment.phase]} {clock_text(moment.shown_s)}"]
    block = max(map(len, lines[2:7]), default=0) if len(lines) > 6 else 0
    centred = [(line.ljust(block) if 2 <= i < 7 and block else line).center(width)[:width].rstrip()
               for i, line in enumerate(lines)]  # fmt: skip
    return "\n" * ((height - len(lines)) // 2) + "\n".join(centred)


@contextmanager
def on_screen(title: str) -> Iterator[Callable[[Moment], None]]:
    """Yield the function that shows a moment on the terminal's alternate screen; what was there before comes back."""
    from rich.console import Console
    from rich.live import Live
    from rich.text import Text

    console = Console(highlight=False)
    bells = Bells(lambda: console.control(_bell()))
    with Live(console=console, screen=True, auto_refresh=False) as live:

        def show(moment: Moment) -> None:
            width, height = console.size
            live.update(Text(screen_of(moment, title, width, height)), refresh=True)
            bells.ring(moment)

        yield show


def _bell():
    from rich.control import Control

    return Control.bell()


class Bells:
    """Rings once when the shutter opens and three times when it must close, whatever seconds were skipped."""

    def __init__(self, strike: Callable[[], None]):
        self.strike = strike
        self.rung = 0
        self.phase = "lead_in"

    def ring(self, moment: Moment) -> None:
        if moment.phase != self.phase:
            self.phase = moment.phase
            for _ in range(1 if moment.phase == "open" else 3):
                self.strike()


@contextmanager
def in_lines(title: str, err: bool = False) -> Iterator[Callable[[Moment], None]]:
    """Yield the function that prints a line for the seconds a helper would call out, for pipes and plain terminals.

    err: on standard error, so that standard output holds the result alone.
    """
    said: list[tuple[str, int]] = []
    click.echo(title, err=err)

    def show(moment: Moment) -> None:
        now = (moment.phase, moment.shown_s)
        if said and now == said[-1]:
            return
        opened = moment.phase == "open" and not any(phase == "open" for phase, _ in said)
        closed = moment.phase == "over" and not any(phase == "over" for phase, _ in said)
        said.append(now)
        if opened:
            click.echo(f"OPEN now, {time_text(moment.remaining_s)} to hold", err=err)
        elif closed:
            click.echo("CLOSE now", err=err)
        elif is_called(moment.shown_s):
            left = "opens in" if moment.phase == "lead_in" else "left" if moment.phase == "open" else "over by"
            click.echo(f"{left} {clock_text(moment.shown_s)}", err=err)

    yield show


def shower(title: str, result_only: bool = False):
    """The screen for a person at a terminal, else lines: on standard error where only the result is wanted."""
    return on_screen(title) if sys.stdout.isatty() and not result_only else in_lines(title, err=result_only)


@contextmanager
def ending_signals() -> Iterator[None]:
    """Let a request to end, or a closed terminal, stop a countdown as Ctrl-C does, so that its time is recorded."""

    def stop(_number, _frame):
        raise KeyboardInterrupt

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), stop) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)
