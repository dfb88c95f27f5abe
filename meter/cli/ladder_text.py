"""The settings on the screen, most important line first."""

from meter.camera import Kit
from meter.cli.paper import say, show_table
from meter.stops import mark_text, time_text


def show_settings(answer: dict, kit: Kit, film_name: str) -> None:
    """Print the preferred rung, then the ladder. answer: as meter/answer.py makes it."""
    rungs, preferred = answer["settings"], answer["preferred"]
    if preferred is None:
        say(f"No setting: {answer['preferred_why']}.", bold=True)
    else:
        rung = rungs[preferred]
        say(f"Set {shutter_text(rung)} at {rung['aperture']}{pointer_text(rung)}", bold=True)
        say(f"    {answer['preferred_why']}.")
    exposure = answer["exposure"]
    costs = [
        f"{name} +{exposure[key]:.1f}"
        for name, key in (("filters", "filter_stops"), ("close-up", "closeup_stops"))
        if exposure[key] > 0
    ]
    say(f"    {kit.name}; {film_name} at EI {exposure['ei']:g}{'; ' + ', '.join(costs) if costs else ''}.")
    say(f"    {exposure['why']}.")
    say("")
    show_table(
        ("", "Shutter", "Aperture", "Pointer", "Notes"),
        [_row(rung, i == preferred) for i, rung in enumerate(rungs)],
        align="lrlll",
        emphasis=-1 if preferred is None else preferred,
    )
    for caution in answer["cautions"]:
        say(f"Mind: {caution}.")


def shutter_text(rung: dict) -> str:
    """ "1/125", "1 s", or "B for 36 s"."""
    return f"B for {time_text(rung['hold_s'])}" if rung["bulb"] else rung["shutter"]


def pointer_text(rung: dict) -> str:
    """Where the pointer stands between engraved marks: ", 4/10 of the way from 11 to 16"; "" when it is on one."""
    tenths = round(10 * rung["fraction"])
    below, above = mark_text(rung["mark_below"]), mark_text(rung["mark_above"])
    if tenths in (0, 10):
        return f", on {below if tenths == 0 else above}"
    return f", {tenths}/10 of the way from {below} to {above}"


def _row(rung: dict, preferred: bool) -> tuple[str, ...]:
    pointer = "out of reach"
    if rung["usable"]:
        pointer = pointer_text(rung).removeprefix(", ").replace(" of the way from ", " from ")
    return (
        "→" if preferred else "",
        shutter_text(rung),
        rung["aperture"],
        pointer,
        "; ".join(rung["notes"]),
    )
