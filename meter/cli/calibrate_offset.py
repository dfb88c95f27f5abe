"""stopgap calibrate offset: anchor the phone's scale to known light."""

from datetime import date
from pathlib import Path

import click

from meter.cli.options import Converted, json_option, profile_to_write_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.errors import BadInput

SUN_CAUTION = "Turn your back to the sun: never look at it, or aim a lens at it, to find how high it stands."


def _known(text: str):
    from meter.cli.known_light import read_known

    return read_known(text)


@click.command("offset", short_help="Anchor the phone's scale to known light.")
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option(
    "--known",
    multiple=True,
    type=Converted("x,y=light", _known),
    help="Where and how bright; repeat for more. x,y are fractions of the upright picture.",
)
@click.option("--force", is_flag=True, help="Keep an offset that is very large or contradicts the profile's old one.")
@profile_to_write_option
@shelf_option
@json_option
def command(photos, known, force, profile, shelf_dir, as_json) -> None:
    """Compare what the phone reads with light that is known, and keep the difference.

    Run stopgap calibrate response first. More and different references make it surer.

    \b
    --known 0.5,0.5=EV12.3           a trusted meter read that spot, at ISO 100
    --known 0.5,0.5=EV12.3,K=14      and its constant is known
    --known 0.5,0.5,4=4000cd         a luminance meter; the spot is 4 degrees wide
    --known 0.5,0.5=12000lx@18%      lux on a card, and what the card reflects
    --known 0.5,0.5=sun@41deg,18%    a card lying flat in full sun, sun 41° high
    --known 0.5,0.5=sun@41deg,18%,facing      or held square to the sun
    --known guide:open-shade         the whole frame is such a scene (rough)
    --known 2:0.5,0.5=EV12.3         of the second photo

    Turn your back to the sun: never look at it, or aim a lens at it, to find how high
    it stands.

    \b
    stopgap calibrate offset card.jpg --known 0.5,0.5=EV12.3
    """  # fmt: skip
    from meter.jobs.calibrate_offset import calibrate_offset

    if not photos:
        raise BadInput("name the photo of what is known: stopgap calibrate offset PHOTO --known 0.5,0.5=EV12.3")
    found = calibrate_offset(photos, known, profile=profile, shelf_dir=shelf_dir, on=date.today(), force=force)
    if as_json:
        show_json(_answer(found))
        return
    offset = found.offset
    say(f"Offset {offset.offset_stops:+.2f} ± {offset.sigma_stops:.2f} stop for {found.camera}", bold=True)
    if found.before is not None:
        say(f"It was {found.before[0]:+.2f} ± {found.before[1]:.2f} before.")
    say("")
    show_table(
        ("Asks for", "Apart", "Known"),
        [
            (f"{anchor.offset_stops:+.2f} ± {anchor.total_stops:.2f}", f"{apart:+.2f}", anchor.label)
            for anchor, apart in zip(found.anchors, found.apart, strict=True)
        ],
        align="rrl",
    )
    if not found.has_response:
        say("The phone's tones are not calibrated: stopgap calibrate response, then this again.")
    if any(one.kind == "sun" for one in known):
        say(SUN_CAUTION)
    say(f"Written into {found.file}")


def _answer(found) -> dict:
    """Stops throughout."""
    return {
        "profile": str(found.file),
        "camera": str(found.camera),
        "offset_stops": round(found.offset.offset_stops, 4),
        "sigma_stops": round(found.offset.sigma_stops, 4),
        "before": found.before and {"offset_stops": found.before[0], "sigma_stops": found.before[1]},
        "known": [
            {
                "label": anchor.label,
                "kind": anchor.kind,
                "offset_stops": round(anchor.offset_stops, 4),
                "sigma_stops": round(anchor.total_stops, 4),
                "apart_stops": round(apart, 4),
            }
            for anchor, apart in zip(found.anchors, found.apart, strict=True)
        ],
        "response_calibrated": found.has_response,
    }
