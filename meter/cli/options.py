"""Options that more than one verb takes, each in one place."""

from collections.abc import Callable, Sequence
from pathlib import Path

import click

from meter.distance import parse_distance, parse_span
from meter.errors import BadInput
from meter.jobs.load_order import DEFAULT_KIT
from meter.light import K
from meter.plain import plain_number
from meter.stops import parse_time


class Converted(click.ParamType):
    """An option whose text one of our own readers turns into a value; its BadInput becomes the option's complaint."""

    def __init__(self, name: str, read: Callable[[str], object]):
        self.name = name
        self._read = read

    def convert(self, value, param, ctx):
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except BadInput as error:
            self.fail(str(error), param, ctx)


def number(text: str) -> float:
    """A number with a point or a comma: 12.3, 12,3, -2. Raises BadInput."""
    try:
        sign, digits = (-1, text.strip()[1:]) if text.strip()[:1] in ("-", "−") else (1, text.strip())
        return sign * plain_number(digits.replace(",", "."))
    except ValueError:
        raise BadInput(f"'{text}' is not a number: write 12.3") from None


NUMBER = Converted("number", number)

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
meter_constant_option = click.option(
    "--meter-constant",
    "k",
    type=NUMBER,
    default=K,
    show_default=True,
    help="K of ISO 2720, 10.6 to 14.",
)
force_option = click.option("--force", is_flag=True, help="Replace a file that exists.")
shelf_option = click.option(
    "--shelf",
    "shelf_dir",
    type=click.Path(path_type=Path),
    help="Folder with your own films/ and kits/; they win over shipped ones of the same name.",
)
profile_to_write_option = click.option(
    "-p",
    "--profile",
    metavar="NAME|FILE",
    help="The profile to change or begin.  [default: the one of this camera and lens]",
)
log_option = click.option(
    "--log",
    type=click.Path(path_type=Path, readable=False),
    help="The roll log's file.  [default: rolls.db in your user data folder]",
)
kit_option = click.option(
    "--kit", metavar="NAME", help=f"Your camera, lens and back (stopgap kit list).  [default: {DEFAULT_KIT}]"
)
film_option = click.option("--film", metavar="NAME", help="The film in it (stopgap film list).  [default: the kit's]")
_BEFORE_LENS_OPTIONS = (
    click.option("--filter", "filters", multiple=True, help="Filter on the lens, such as yellow-8; repeat to stack."),
    click.option("--light", type=click.Choice(["daylight", "tungsten"]), default="daylight", show_default=True,
                 help="What falls on the scene, for filter factors."),
    click.option("--magnification", type=NUMBER, help="Close-up: size on film / size of the subject, 0.5 for 1:2."),
    click.option("--extension", "extension_mm", type=NUMBER, help="Close-up: how far out the lens stands. [mm]"),
)  # fmt: skip
_ORDER_OPTIONS = (
    kit_option,
    film_option,
    click.option("--ei", type=NUMBER, help="Exposure index, where you rate the film otherwise than its speed."),
    click.option("--reciprocity", help="Which of the film's curves corrects long times (stopgap film show NAME)."),
    *_BEFORE_LENS_OPTIONS,
    click.option("--focus", "focus_m", type=Converted("distance", parse_distance),
                 help="Where the lens is focused (3m, 10ft, inf): shows near and far for each setting."),
    click.option("--sharp", type=Converted("near..far", parse_span),
                 help="What must be sharp (1.5m..inf): chooses the setting by it."),
    click.option("--coc", "coc_mm", type=NUMBER, help="Circle of confusion. [mm]"),
    click.option("--coc-divisor", type=NUMBER, help="Or the frame's diagonal over this.  [default: 1500]"),
    click.option("--tripod", is_flag=True, help="Hand-holding does not matter."),
    shelf_option,
)  # fmt: skip


def order_options(command: Callable) -> Callable:
    """Everything that makes a Wish."""
    return _with(_ORDER_OPTIONS, command)


def before_lens_options(command: Callable) -> Callable:
    """Filters, the light that they meet, and close-up gear."""
    return _with(_BEFORE_LENS_OPTIONS, command)


def _with(options: Sequence[Callable], command: Callable) -> Callable:
    for option in reversed(options):
        command = option(command)
    return command


def seconds(text: str) -> float:
    """An exposure time as written, without making nominal ones exact: it is what the phone did. [s]"""
    return parse_time(text)


def face_value_f_number(text: str) -> float:
    """An f-number as written, 1.8 or f/1.8: it is what the phone has."""
    try:
        value = float(text.lower().removeprefix("f").lstrip("/"))
    except ValueError:
        value = 0.0
    if not 0.5 <= value <= 128:
        raise BadInput(f"'{text}' is not an f-number from 0.5 to 128")
    return value
