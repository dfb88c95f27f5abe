"""stopgap film: which films there are, and what is known of one: speed, reciprocity, where each figure comes from."""

from math import isfinite

import click

from meter.cli.broken import broken_answers, warn_broken
from meter.cli.options import json_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.film import Film
from meter.reciprocity import Curve
from meter.shelf.reader import Shelf
from meter.stops import time_text

SHOWN_S = (1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0, 240.0)


@click.group()
def command() -> None:
    """Films: list them, show one.

    \b
    stopgap film list
    stopgap film show tri-x-400
    """


@command.command("list")
@shelf_option
@json_option
def list_films(shelf_dir, as_json) -> None:
    """Every film on the shelf.  Example: stopgap film list --json"""
    films, broken = Shelf(shelf_dir).films()
    if as_json:
        show_json([film_answer(film) for film in films] + broken_answers(broken))
        return
    show_table(
        ("Film", "Name", "ISO", "Kind", "Reciprocity"),
        [
            (film.slug, film.name, f"{film.speed_iso}", f"{film.process} {film.kind}", _curves_text(film))
            for film in films
        ],
        align="llrll",
    )
    warn_broken(broken)


def _curves_text(film: Film) -> str:
    return ", ".join(curve.name for curve in film.curves) or "no figures"


@command.command("show")
@click.argument("name")
@shelf_option
@json_option
def show_film(name, shelf_dir, as_json) -> None:
    """One film, with its curves and their sources.  Example: stopgap film show tri-x-400"""
    film = Shelf(shelf_dir).film(name)
    if as_json:
        show_json(film_answer(film))
        return
    say(f"{film.name} ({film.slug})", bold=True)
    say(f"ISO {film.speed_iso}, {film.process} {film.kind}{', sheet ' + film.sheet if film.sheet else ''}")
    for note in film.notes:
        say(f"Note: {note}")
    if not film.curves:
        say("No reciprocity figures: beyond 1 s, bracket towards longer.")
        return
    if film.default_reason:
        say(f"Default curve: {film.default_curve}. {film.default_reason}")
    for curve in film.curves:
        say(f"Curve {curve.name}: {curve.source} ({curve.evidence}){'. ' + curve.note if curve.note else ''}")
    show_table(
        ("Metered", *(f"hold ({curve.name})" for curve in film.curves)),
        [(time_text(t), *(_hold_text(curve, t) for curve in film.curves)) for t in SHOWN_S],
        align="r" * (1 + len(film.curves)),
    )
    if any(curve.extrapolated(SHOWN_S[-1]) for curve in film.curves):
        say("? beyond the published range: bracket.")


def _hold_text(curve: Curve, metered_s: float) -> str:
    return time_text(curve.corrected_s(metered_s)) + (" ?" if curve.extrapolated(metered_s) else "")


def film_answer(film: Film) -> dict:
    """A film as plain data; times in s."""
    return {
        "name": film.slug,
        "title": film.name,
        "speed_iso": film.speed_iso,
        "ei": film.ei_default,
        "kind": film.kind,
        "process": film.process,
        "sheet": film.sheet,
        "default_curve": film.default_curve,
        "default_reason": film.default_reason,
        "curves": [
            {
                "name": curve.name,
                "model": curve.model,
                "source": curve.source,
                "evidence": curve.evidence,
                "published_to_s": curve.published_to_s if isfinite(curve.published_to_s) else None,
                "rows": [
                    {
                        "metered_s": t,
                        "corrected_s": round(curve.corrected_s(t), 3),
                        "extrapolated": curve.extrapolated(t),
                    }
                    for t in SHOWN_S
                ],
            }
            for curve in film.curves
        ],
        "notes": list(film.notes),
    }
