"""Options of the verbs in the group roll."""

from collections.abc import Callable

import click

from meter.cli.options import json_option, log_option

kit_option = click.option("--kit", help="Which camera, when several are loaded.")
roll_option = click.option("--roll", "roll_number", type=click.IntRange(min=1), help="Which roll, by its number.")


def log_options(command: Callable) -> Callable:
    """What each verb on a loaded roll takes: --kit, --log, --json."""
    return kit_option(log_option(json_option(command)))
