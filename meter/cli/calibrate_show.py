"""stopgap calibrate show and list: which phones are calibrated, and how well."""

from pathlib import Path

import click

from meter.cli.options import json_option, shelf_option
from meter.cli.paper import say, show_json, show_table

GREYS = (16, 32, 64, 118, 180, 240)  # codes whose uncertainty is shown


@click.command("show")
@click.argument("profile", metavar="PROFILE")
@click.option(
    "--plot",
    "plot_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw its response, sigma and residuals to FILE.png or FILE.svg.",
)
@shelf_option
@json_option
def command(profile, plot_file, shelf_dir, as_json) -> None:
    """One profile, by its name or file: what it holds and how sure it is.

    \b
    stopgap calibrate show harbour-works-hw-3-26mm --plot hw-3.png
    """  # fmt: skip
    from meter.jobs.find_profile import file_of, open_profile
    from meter.shelf.reader import Shelf

    file = file_of(profile, Shelf(shelf_dir))
    content = open_profile(file)
    if plot_file is not None:
        from meter.jobs.draw_profile import draw_profile

        draw_profile(content, plot_file)
    if as_json:
        show_json(_answer(content, file))
        return
    _show(content)
    if plot_file is not None:
        say(f"Drawn to {plot_file}")


@click.command("list")
@shelf_option
@json_option
def list_command(shelf_dir, as_json) -> None:
    """Every calibrated phone camera.  Example: stopgap calibrate list --json"""
    from meter.jobs.find_profile import camera_for, open_profile
    from meter.shelf.reader import Shelf

    shelf = Shelf(shelf_dir)
    files = [shelf.profile_file(name) for name in shelf.profile_names()]
    contents = [open_profile(file) for file in files]
    if as_json:
        show_json([_answer(content, file) for content, file in zip(contents, files, strict=True)])
    elif not contents:
        say("No phone is calibrated yet: stopgap calibrate response PHOTO...")
    else:
        show_table(
            ("Profile", "Camera", "Measured"),
            [(c.profile.name, str(camera_for(c.profile)), ", ".join(_measured(c))) for c in contents],
        )


def _measured(content) -> list[str]:
    return [part for part, origin in content.origins.items() if origin.evidence == "measured"]


def _show(content) -> None:
    from meter.jobs.find_profile import camera_for

    profile, origins, seen = content.profile, content.origins, content.conditions
    say(f"{profile.name}: {camera_for(profile)}", bold=True)
    say(f"Tones    {_origin_text(origins['response'])}")
    say("         code " + "".join(f"{code:>7}" for code in GREYS))
    say("         ±    " + "".join(f"{profile.response.sigma[code]:>7.2f}" for code in GREYS) + " stop")
    if seen is not None:
        say(
            f"         one place differs from photo to photo by {seen.spread_after_stops:.2f} stop "
            f"(as sRGB {seen.spread_before_stops:.2f})"
        )
    scale = f"{profile.offset_stops:+.2f} ± {profile.offset_sigma:.2f} stop"
    say(f"Scale    {scale}; {_origin_text(origins['offset']) if 'offset' in origins else 'not measured'}")
    if profile.falloff is not None:
        loss = profile.falloff.stops_at_radius(1.0)
        sigma = profile.falloff.sigma_stops
        say(f"Corners  {loss:+.2f} ± {sigma:.2f} stop; {_origin_text(origins['falloff'])}")
    else:
        say("Corners  not measured")
    for note in profile.notes:
        say(f"Note     {note}")


def _origin_text(origin) -> str:
    return f"{origin.source}, {origin.date}" if origin.date else origin.source


def _answer(content, file: Path) -> dict:
    """Lengths in mm, the rest in stops."""
    profile = content.profile
    return {
        "name": profile.name,
        "file": str(file),
        "make": profile.make,
        "model": profile.model,
        "focal_35mm": profile.focal_35mm,
        "measured": _measured(content),
        "offset_stops": profile.offset_stops,
        "offset_sigma": profile.offset_sigma,
        "corner_stops": None if profile.falloff is None else round(profile.falloff.stops_at_radius(1.0), 4),
        "sigma_by_code": {str(code): round(profile.response.sigma[code], 4) for code in GREYS},
        "sources": {part: _origin_text(origin) for part, origin in content.origins.items()},
        "notes": list(profile.notes),
    }
