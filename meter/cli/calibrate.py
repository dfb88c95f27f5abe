"""stopgap calibrate: make the phone you have, and the shutter you have, accurate."""

from importlib import import_module

import click

VERBS = {
    "response": "meter.cli.calibrate_response",
    "offset": "meter.cli.calibrate_offset",
    "flat": "meter.cli.calibrate_flat",
    "shutter": "meter.cli.calibrate_shutter",
    "list": "meter.cli.calibrate_show:list_command",
    "show": "meter.cli.calibrate_show",
}


class Bench(click.Group):
    """The verbs of calibration, each imported only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name].partition(":")
        return getattr(import_module(module), name or "command")


@click.command(cls=Bench)
def command() -> None:
    """Make a phone's readings accurate, and find a shutter's real times.

    \b
    stopgap calibrate response minus2.jpg zero.jpg plus2.jpg    tones
    stopgap calibrate offset card.jpg --known 0.5,0.5=EV12.3    scale
    stopgap calibrate flat white-1.jpg white-2.jpg              corners
    stopgap calibrate shutter clicks.wav --marked 1/30          your shutter
    """
