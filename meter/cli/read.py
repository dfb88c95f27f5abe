"""stopgap read: photos in, settings for this lens out."""

from pathlib import Path

import click

from meter.cli.ladder_text import sentence, show_settings
from meter.cli.options import (
    Converted,
    face_value_f_number,
    force_option,
    json_option,
    log_option,
    meter_constant_option,
    order_options,
    seconds,
)
from meter.cli.paper import say, show_json, show_table
from meter.errors import BadInput
from meter.exif import Given
from meter.jobs.find_profile import ProfileChoice
from meter.jobs.load_order import DEFAULT_KIT, Wish
from meter.jobs.meter_photo import DEFAULT_SPOT_DEGREES, MeteredPhoto, SpotWish, meter_photos
from meter.stops import time_text

_BOUND_SIGN = {"exact": "", "at_least": "≥ ", "at_most": "≤ "}


def read_spot(text: str) -> SpotWish:
    """X,Y or X,Y,DEGREES. Raises BadInput."""
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 3) or not all(abs(number) < 1e6 for number in numbers):
        raise BadInput(
            f"'{text}' is not a spot: write X,Y or X,Y,DEGREES, such as 0.4,0.7 (0,0 is the top left corner)"
        )
    return SpotWish(numbers[0], numbers[1], numbers[2] if len(numbers) == 3 else DEFAULT_SPOT_DEGREES)


def read_place(text: str) -> SpotWish:
    """X,Y[,DEGREES]=ZONE or =SUBJECT. Raises BadInput."""
    where, found, what = text.partition("=")
    if not found or not what.strip():
        raise BadInput(f"'{text}' places nothing: write X,Y=III or X,Y=SUBJECT, such as 0.4,0.7=open-palm")
    spot = read_spot(where)
    return SpotWish(spot.x, spot.y, spot.degrees, what.strip())


@click.command()
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option(
    "--spot",
    "spots",
    multiple=True,
    type=Converted("x,y[,degrees]", read_spot),
    help="Read a disc; fractions of the upright picture, 1 degree wide unless you say so. Repeatable.",
)
@click.option(
    "--place",
    "places",
    multiple=True,
    type=Converted("x,y=zone", read_place),
    help="Put a spot on a zone (III, VII½) or name what it is (18-percent-card). Repeatable.",
)
@click.option(
    "--aperture", type=Converted("f-number", face_value_f_number), help="The phone's f-number, if the file lacks it."
)
@click.option(
    "--time", "time_s", type=Converted("time", seconds), help="The phone's exposure time, if the file lacks it."
)
@click.option("--iso", type=click.FloatRange(1, 10_000_000), help="The phone's ISO, if the file lacks it.")
@click.option("--focal-35mm", type=click.FloatRange(5, 2000), help="Its 35 mm equivalent focal length, for spot sizes.")
@click.option("--map", "map_file", type=click.Path(path_type=Path), help="Draw the light map to FILE.svg or FILE.png.")
@force_option
@click.option(
    "--remember", is_flag=True, help="Keep the reading in the roll log for the next frame (stopgap roll expose)."
)
@click.option("--profile", metavar="NAME|FILE", help="Read through this phone profile.  [default: the camera's own]")
@click.option("--no-profile", is_flag=True, help="Read through none, as if the phone had not been calibrated.")
@log_option
@meter_constant_option
@order_options
@json_option
def command(
    photos,
    spots,
    places,
    aperture,
    time_s,
    iso,
    focal_35mm,
    map_file,
    force,
    remember,
    profile,
    no_profile,
    log,
    as_json,
    **wish,
) -> None:
    """Meter PHOTO and print the settings for your lens.

    Several photos of one scene at different exposures are merged, each part read where it
    is best exposed: so a scene of more stops than one photo holds can be metered.

    \b
    stopgap read quay.jpg --kit breakwater --film hp5-plus
    stopgap read dark.jpg middle.jpg light.jpg
    stopgap read quay.jpg --spot 0.4,0.7 --place 0.8,0.6=III --map map.png
    """  # fmt: skip
    if log is not None and not remember:
        raise BadInput("--log names where --remember keeps the reading: give --remember too")
    if map_file is not None and map_file.resolve() in [photo.resolve() for photo in photos]:
        raise BadInput(f"{map_file} is a photo to be metered: give the map another name")
    if not photos:
        raise BadInput("name at least one photo: stopgap read PHOTO")
    given, profiles = Given(aperture, time_s, iso), ProfileChoice(profile, use=not no_profile)
    roll = _roll_in(wish, log) if remember else None
    found = meter_photos(photos, Wish(**wish), given, (*spots, *places), focal_35mm, profiles)
    if map_file is not None:
        from meter.jobs.draw_map import draw_map

        draw_map(found, found.shown, map_file, force=force)
    if remember:
        from meter.jobs.keep_roll import remember_reading

        found.answer["remembered"] = remember_reading(found.answer, log)
    if as_json:
        show_json(found.answer)
        return
    show_reading(found)
    if roll:
        say(f"Film and exposure index are those of roll {roll.id}, loaded in this kit.")
    if remember:
        say(f"Remembered as reading {found.answer['remembered']}: stopgap roll expose takes it.")


def _roll_in(wish: dict, log: Path | None):
    """The roll loaded in the kit, whose film and index then count where the options name none."""
    from meter.jobs.keep_roll import loaded_in
    from meter.shelf.reader import Shelf

    roll = loaded_in(Shelf(wish["shelf_dir"]).kit(wish["kit"] or DEFAULT_KIT).slug, log)
    if roll is None or wish["film"] is not None:
        return None
    wish["film"] = roll.made.film
    wish["ei"] = wish["ei"] or roll.made.ei
    return roll


def show_reading(found: MeteredPhoto) -> None:
    """Print a reading: settings first, then what they rest on."""
    answer = found.answer
    show_settings(answer, found.order.kit, found.order.film.name)
    say("")
    rows = [
        (name, "", answer[key], answer[key]["zone_text"])
        for name, key in (("whole frame", "average"), ("centre", "center"))
    ]
    for name in ("shadow", "highlight"):
        if spot := answer[name]:
            rows.append((f"textured {name}", _where(spot), spot, _zone(spot)))
    for i, spot in enumerate(answer["spots"], start=1):
        rows.append((spot["label"] or f"spot {i}", _where(spot), spot, _zone(spot)))
    show_table(
        ("Reading", "At x,y", "EV 100", "cd/m²", "Zone"),
        [
            (name, where, ev_text(reading), luminance_text(reading["luminance"]), zone)
            for name, where, reading, zone in rows
        ],
        align="lllrl",
    )
    if answer["range_stops"] is not None:
        sign = "at least " if answer["range_bound"] == "at_least" else ""
        say(f"Textured range {sign}{answer['range_stops']:.1f} ± {answer['range_sigma']:.1f} stops.")
    if answer["development"]:
        say(f"Development {answer['development']} {answer['development_why']}.")
    for photo in answer["photos"]:
        _show_photo(photo, merged=len(answer["photos"]) > 1)


def ev_text(reading: dict) -> str:
    """ "13.4 ± 0.4", with ≥ or ≤ before it where the luminance is a bound."""
    return f"{_BOUND_SIGN[reading['bound']]}{reading['ev100']:.1f} ± {reading['sigma']:.1f}"


def luminance_text(luminance: float) -> str:
    """cd/m² in three figures and no exponent: 4370, 59.4, 0.782, 0.0021."""
    if luminance >= 100:
        return f"{float(f'{luminance:.3g}'):.0f}"
    return f"{luminance:.3g}" if luminance >= 0.001 else f"{luminance:.4f}"


def _where(spot: dict) -> str:
    return f"{spot['x']:.2f},{spot['y']:.2f}"


def _zone(spot: dict) -> str:
    return spot["zone_text"] + (" (placed)" if spot["placed"] else "")


def _show_photo(photo: dict, merged: bool) -> None:
    camera = " ".join(part for part in (photo["make"], photo["model"]) if part) or "unknown camera"
    say(f"{photo['file']}: {camera}, f/{photo['f_number']:.3g}, {time_text(photo['time_s'])}, ISO {photo['iso']:g}")
    if merged:
        say(f"  Gave {photo['share']:.0%} of the map.")
    none = "without a profile: stopgap calibrate makes one"
    say(f"  Read {'through profile ' + photo['profile'] if photo['profile'] else none}")
    for line in photo["found"]:
        say(f"  Note: {sentence(line)}")
    for line in photo["warnings"]:
        say(f"  Mind: {sentence(line)}")
