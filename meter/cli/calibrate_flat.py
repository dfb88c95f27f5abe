"""stopgap calibrate flat: what the phone's picture loses towards its corners."""

from datetime import date
from pathlib import Path

import click

from meter.cli.options import json_option, profile_to_write_option, shelf_option
from meter.cli.paper import say, show_json


@click.command("flat", short_help="Measure the fall-off to the corners from photos of an even surface.")
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option(
    "--turned",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PHOTO",
    help="One taken with the phone turned upside down; repeatable. Finds the centre better.",
)
@profile_to_write_option
@shelf_option
@json_option
def command(photos, turned, profile, shelf_dir, as_json) -> None:
    """Measure what the corners lose, from photos of an evenly lit surface.

    Tape white paper or opal plastic flat over the lens and point it at an even wall or
    at the sky away from the sun. Take three or more so that the picture is light grey,
    some of them with the phone turned upside down.

    \b
    stopgap calibrate flat white-1.jpg white-2.jpg --turned white-3.jpg
    """  # fmt: skip
    from meter.jobs.calibrate_flat import calibrate_flat

    done = calibrate_flat(photos, turned, profile=profile, shelf_dir=shelf_dir, on=date.today())
    falloff, found = done.found.falloff, done.found
    if as_json:
        show_json(
            {
                "profile": str(done.file),
                "camera": str(done.camera),
                "corner_stops": round(done.corner_stops, 4),
                "sigma_stops": round(falloff.sigma_stops, 4),
                "center_x": round(falloff.center_x, 4),
                "center_y": round(falloff.center_y, 4),
                "k_stops": [round(k, 4) for k in (falloff.k2, falloff.k4, falloff.k6)],
                "residual_stops": round(found.residual_stops, 4),
                "gradient_stops": round(found.gradient_stops, 4),
                "photos": done.photos,
            }
        )
        return
    say(f"Corners {done.corner_stops:+.2f} ± {falloff.sigma_stops:.2f} stop for {done.camera}", bold=True)
    say(f"Optical centre at {falloff.center_x:.2f},{falloff.center_y:.2f} of the picture as it is stored.")
    say(
        f"Left over {found.residual_stops:.2f} stop; the light's own slope of {found.gradient_stops:.2f} was taken out."
    )
    if not found.turned:
        say("Some photos taken with the phone upside down (--turned) would part the light's slope from the lens.")
    if not done.has_response:
        say("The phone's tones are not calibrated: stopgap calibrate response, then this again.")
    say(f"Written into {done.file}")
