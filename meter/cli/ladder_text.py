"""The settings on the screen, most important line first."""

from itertools import groupby
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
        say(f"    {sentence(answer['preferred_why'])}")
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
    rows = _rows(rungs, preferred)
    show_table(
        ("", "Shutter", "Aperture", "Pointer", *(("Sharp, m",) if depth else ()), "Notes"),
        rows,
        align="lrllll",
        emphasis=next((i for i, row in enumerate(rows) if row[0]), -1),
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


def _rows(rungs: list[dict], preferred: int | None) -> list[tuple[str, ...]]:
    """The ladder as cells; neighbours out of reach for the same reason share a row."""
    rows = []
    for (usable, cure), some in groupby(enumerate(rungs), key=lambda pair: (pair[1]["usable"], _cure(pair[1]))):
        group = list(some)
        if usable:
            rows += [_row(rung, i == preferred) for i, rung in group]
        else:
            rows.append(_out_of_reach([rung for _, rung in group], cure))
    return rows


def _cure(rung: dict) -> str:
    return "" if rung["usable"] else rung["notes"][0].partition(": ")[2]


def _out_of_reach(rungs: list[dict], cure: str) -> tuple[str, ...]:
    first, last = rungs[0], rungs[-1]
    shutter, how_far = first["shutter"], first["notes"][0].partition(": ")[0]
    if len(rungs) > 1:
        shutter = f"{first['shutter']} to {last['shutter']}"
        how_far = f"{how_far.partition(' ')[0]} to {last['notes'][0].partition(': ')[0]}"
    return "", shutter, "out of reach", how_far, *(("",) if "near_m" in first else ()), cure


def _row(rung: dict, preferred: bool) -> tuple[str, ...]:
    pointer, notes = _pointer(rung).replace(" of the way from ", " from "), "; ".join(rung["notes"])
    sharp = (_sharp(rung),) if "near_m" in rung else ()
    return "→" if preferred else "", shutter_text(rung), rung["aperture"], pointer, *sharp, notes


def _sharp(rung: dict) -> str:
    near, far = rung["near_m"], rung["far_m"]
    return f"{short_text(near)} to {'inf' if far is None else short_text(far)}"
