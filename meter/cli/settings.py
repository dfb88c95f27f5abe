"""stopgap settings: the ladder for an EV or a row of the daylight guide, without a photo."""

import click

from meter.cli.ladder_text import show_settings
from meter.cli.options import NUMBER, Converted, json_option, order_options
from meter.cli.paper import show_json
from meter.jobs.find_settings import find_settings
from meter.jobs.load_order import Wish
from meter.zones import MIDDLE, parse_zone


@click.command()
@click.option("--ev", "ev100", type=NUMBER, help="The light, as an EV at ISO 100.")
@click.option("--daylight", help='A row of the published daylight guide, such as "open shade".')
@click.option(
    "--zone", type=Converted("zone", parse_zone), default=MIDDLE, help="Zone to put that light on.  [default: V]"
)
@order_options
@json_option
def command(ev100: float | None, daylight: str | None, zone: float, as_json: bool, **wish) -> None:
    """Settings for a light you know, without a photo.

    \b
    stopgap settings --ev 12.3 --kit breakwater --film hp5-plus
    stopgap settings --daylight "open shade" --filter yellow-8
    """
    found = find_settings(Wish(**wish), ev100, daylight, zone)
    if as_json:
        show_json(found.answer)
    else:
        show_settings(found.answer, found.order.kit, found.order.film.name)
