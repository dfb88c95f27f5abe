"""The settings on the screen, most important line first."""

from math import inf

from meter.camera import Kit
from meter.cli.paper import say, show_table
from meter.distance import lens_place, short_text
from meter.stops import pointer_words, time_text


def show_settings(answer: dict, kit: Kit, film_name: str) -> None:
    """Print the preferred rung, then the ladder. answer: as meter/answer.py makes it."""
    rungs, preferred = answer["settings"], answer["preferred"]
    if preferred is None:
        say(f"No setting: {answer['preferred_why']}.", bold=True)
    else:
        rung = rungs[preferred]
        say(f"Set {shutter_text(rung)} at {rung['aperture']}, {_pointer(rung)}", bold=True)
        say(f"    {answer['preferred_why']}.")
    exposure = answer["exposure"]
    costs = [
        f"{name} +{exposure[key]:.1f}"
        for name, key in (("filters", "filter_stops"), ("close-up", "closeup_stops"))
        if exposure[key] > 0
    ]
    say(f"    {kit.name}; {film_name} at EI {exposure['ei']:g}{'; ' + ', '.join(costs) if costs else ''}.")
    say(f"    {sentence(exposure['why'])}")
    depth = answer.get("focus")
    if depth:
        say(f"    Focus: {lens_place(kit.lens, depth['focus_m'] or inf)}.")
    say("")
    show_table(
        ("", "Shutter", "Aperture", "Pointer", *(("Sharp, m",) if depth else ()), "Notes"),
        [_row(rung, i == preferred) for i, rung in enumerate(rungs)],
        align="lrllll",
        emphasis=-1 if preferred is None else preferred,
    )
    for caution in answer["cautions"]:
        say(f"Mind: {sentence(caution)}")


def sentence(text: str) -> str:
    """A remark as a sentence: one capital, one full stop."""
    return text[:1].upper() + text[1:].rstrip(".") + "."


def shutter_text(rung: dict) -> str:
    """ "1/125", "1 s", or "B for 36 s"."""
    return f"B for {time_text(rung['hold_s'])}" if rung["bulb"] else rung["shutter"]


def _pointer(rung: dict) -> str:
    return pointer_words(rung["mark_below"], rung["mark_above"], rung["fraction"])


def _row(rung: dict, preferred: bool) -> tuple[str, ...]:
    if not rung["usable"]:
        how_far, _, cure = rung["notes"][0].partition(": ")
        return "", shutter_text(rung), f"({rung['aperture']})", how_far, *(("",) if "near_m" in rung else ()), cure
    pointer, notes = _pointer(rung).replace(" of the way from ", " from "), "; ".join(rung["notes"])
    sharp = (_sharp(rung),) if "near_m" in rung else ()
    return "→" if preferred else "", shutter_text(rung), rung["aperture"], pointer, *sharp, notes


def _sharp(rung: dict) -> str:
    near, far = rung["near_m"], rung["far_m"]
    return f"{short_text(near)} to {'inf' if far is None else short_text(far)}"
