"""The group of verbs: each is imported only when it is asked for, and a MeterError becomes one sentence here."""

import json
import sys
from importlib import import_module

import click

from meter.errors import MeterError
from meter.plain import visible

VERBS = {
    "read": "meter.cli.read",
    "settings": "meter.cli.settings",
    "calibrate": "meter.cli.calibrate",
    "focus": "meter.cli.focus",
    "bulb": "meter.cli.bulb",
    "roll": "meter.cli.roll",
    "sheet": "meter.cli.sheet",
    "kit": "meter.cli.kit",
    "film": "meter.cli.film",
}


class Desk(click.Group):
    """Show a MeterError as one sentence and leave with its exit code; let a bug keep its traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return import_module(VERBS[cmd_name]).command if cmd_name in VERBS else None

    def main(self, *args, **kwargs):
        for stream in (sys.stdout, sys.stderr):  # a screen that lacks a letter gets a question mark, not a traceback
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")
        return super().main(*args, **kwargs)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        ctx.meta["stopgap.json"] = "--json" in args
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            self._leave(ctx, error, "usage", error.format_message(), error.exit_code)

    def invoke(self, ctx: click.Context):
        try:
            return super().invoke(ctx)
        except MeterError as error:
            self._leave(ctx, error, error.kind, str(error), error.exit_code)
        except click.UsageError as error:
            self._leave(ctx, error, "usage", error.format_message(), error.exit_code)

    def _leave(self, ctx: click.Context, error: Exception, kind: str, message: str, exit_code: int):
        message = visible(message)
        if ctx.meta["stopgap.json"]:
            click.echo(json.dumps({"error": {"kind": kind, "message": message}}, ensure_ascii=False))
            ctx.exit(exit_code)
        if isinstance(error, click.UsageError):
            raise error
        shown = click.ClickException(message)
        shown.exit_code = exit_code
        raise shown from error


@click.command(cls=Desk, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(package_name="stopgap")
def main() -> None:
    """A light meter made of the photos a phone already takes, for cameras that have none.

    \b
    stopgap read PHOTO --kit breakwater     meter a photo, get the settings for your lens
    stopgap settings --daylight "open shade" --kit breakwater
    """
