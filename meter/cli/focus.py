"""stopgap focus: what is sharp, where to set the focus, how wrong a guess may be."""

from math import inf, isfinite

import click

from meter.camera import Lens
from meter.cli.options import json_option, kit_option, shelf_option
from meter.cli.paper import say, show_json, show_table
from meter.distance import (
    FOOT_M,
    feet_text,
    metres_text,
    parse_distance,
    parse_span,
    scale_mark_text,
    short_text,
    span_text,
)
from meter.engraved import READING, Stricter, fact_text, parse_fact
from meter.errors import BadInput
from meter.focus import DIVISOR, Depth
from meter.jobs.plan_focus import Circle, FocusPlan, GuessAnswer, Setting, SharpAnswer, plan_focus
from meter.stops import aperture_text, mark_text, parse_f_number

APERTURES_A_TABLE = 9  # as many as fit 80 columns


def parse_part(text: str) -> float:
    """Read "20%" or "0.2" as 0.2. Raises BadInput."""
    try:
        value = float(text.strip().removesuffix("%")) / (100 if text.strip().endswith("%") else 1)
    except ValueError:
        value = -1.0
    if not 0 < value < 1:
        raise BadInput(f"'{text}' is not a part between 0 and 100 %: write 20% or 0.2")
    return value


@click.command("focus", short_help="What is sharp, and where to set the focus.")
@kit_option
@click.option("--focus", metavar="DISTANCE", help="Where the focus is set: 3m, 10ft, inf.")
@click.option("--aperture", metavar="F", help="The aperture: f/8, f/11+0.4.")
@click.option("--sharp", metavar="NEAR..FAR", help="What must be sharp: 1.5m..inf, 5..20ft.")
@click.option("--guess", metavar="PART", help="How wrong the guessed --focus may be: 20%.")
@click.option("--coc", type=float, metavar="MM", help="Circle of confusion on the film.")
@click.option(
    "--coc-divisor", type=float, metavar="D", help=f"Or the frame's diagonal over D; {DIVISOR:g} if not given."
)
@click.option("--by-scale", is_flag=True, help="Infer it from the depth scale that the kit lists.")
@click.option(
    "--engraved", multiple=True, metavar="FACT", help="Infer it from the lens: 'f/11 5m 3.6m..8.5m'; repeat for more."
)
@click.option("--reading", metavar="PART", default=f"{READING:.0%}", show_default=True, help="How well a scale reads.")
@shelf_option
@json_option
def command(kit, focus, aperture, sharp, guess, coc, coc_divisor, by_scale, engraved, reading, shelf_dir, as_json):
    """Depth of field of a kit: near and far, hyperfocal distances, the focus and aperture for a range.

    With --by-scale or --engraved the circle of confusion comes from the lens itself; --coc or --coc-divisor is then
    the stricter one to compare it with.

    \b
    stopgap focus --kit breakwater --sharp 2m..inf
    stopgap focus --kit breakwater --focus 3m --aperture f/8 --guess 20%
    stopgap focus --kit breakwater --engraved "f/11 5m 3.6m..8.5m"
    """
    plan = plan_focus(
        kit,
        focus_m=None if focus is None else parse_distance(focus),
        f_number=None if aperture is None else parse_f_number(aperture),
        wanted=None if sharp is None else parse_span(sharp),
        wrong_part=None if guess is None else parse_part(guess),
        coc_mm=coc,
        divisor=coc_divisor,
        facts=[parse_fact(text) for text in engraved],
        by_scale=by_scale,
        reading=parse_part(reading),
        shelf_dir=shelf_dir,
    )
    if as_json:
        show_json(as_data(plan))
    else:
        show(plan)


def show(plan: FocusPlan) -> None:
    """Print a plan, the answer to what was asked first."""
    if plan.sharp:
        show_sharp(plan.sharp)
    elif plan.setting:
        show_setting(plan.setting)
    if plan.guess:
        show_guess(plan.guess)
    if plan.circle.inference:
        show_inference(plan)
    if not (plan.sharp or plan.setting or plan.guess or plan.circle.inference):
        show_depths(plan)
        show_hyperfocals(plan)
    circle = plan.circle
    click.echo(f"Circle of confusion {circle.coc_mm:.3f} mm: {circle.why}.")
    for caution in plan.cautions:
        say(caution)


def both_units(distance_m: float) -> str:
    """A distance in metres and feet."""
    return metres_text(distance_m) if distance_m == inf else f"{metres_text(distance_m)} ({feet_text(distance_m)})"


def focus_words(setting: Setting) -> str:
    """Where to set the focus: 4.3 m, three quarters of the way from 3 to 5 m."""
    plain = both_units(setting.focus_m)
    return plain if setting.place == plain or setting.focus_m == inf else f"{plain}, {setting.place}"


def show_setting(setting: Setting) -> None:
    click.echo(f"{setting.aperture}, focus on {focus_words(setting)}")
    click.echo(f"Sharp from {span_text(setting.depth.near_m, setting.depth.far_m)}.")
    room = setting.room
    if isfinite(room.nearer_m):
        beyond = (
            "any distance" if room.farther_m == inf else f"{short_text(room.farther_m)} m ({room.farther_part:.0%})"
        )
        say(
            f"The subject may really stand {short_text(room.nearer_m)} m ({room.nearer_part:.0%}) nearer "
            f"or {beyond} farther than set."
        )


def show_sharp(answer: SharpAnswer) -> None:
    wanted = span_text(answer.near_m, answer.far_m)
    if answer.setting:
        show_setting(answer.setting)
        say(f"The widest aperture of this lens for {wanted}; f/{answer.needed:.3g} would just do.")
        return
    say(f"No aperture of this lens keeps {wanted} sharp; it would take f/{answer.needed:.0f}.")
    for what, setting in (("near", answer.give_near), ("far", answer.give_far)):
        if setting is None:
            continue
        sharp = span_text(setting.depth.near_m, setting.depth.far_m)
        say(f"Give up some of the {what} end: {setting.aperture}, focus on {focus_words(setting)}: {sharp}.")


def show_guess(answer: GuessAnswer) -> None:
    asked = f"a guess of {metres_text(answer.focus_m)} that is {answer.wrong_part:.0%} wrong either way"
    if answer.setting:
        say(f"{answer.setting.aperture} forgives {asked}.")
    else:
        say(f"No aperture of this lens forgives {asked}; it would take f/{answer.needed:.0f}.")


def show_inference(plan: FocusPlan) -> None:
    circle = plan.circle
    found = circle.inference
    verdict = "" if len(found.facts) == 1 else "; the facts agree" if found.consistent else "; the facts do not agree"
    say(
        f"The scale's maker used c = {circle.coc_mm:.3f} mm, 1/{circle.divisor:.0f} of the diagonal "
        f"({found.low_mm:.3f} to {found.high_mm:.3f} mm{verdict})."
    )
    show_table(
        ("engraved", "c, mm", "from", "to"),
        [(fact_text(c.fact), f"{c.coc_mm:.3f}", f"{c.low_mm:.3f}", f"{c.high_mm:.3f}") for c in found.facts],
        align="lrrr",
    )
    if abs(circle.stricter_stops) < 0.05:
        say(f"That is as strict as c = {circle.stricter_mm:.3f} mm: use the scale as it is engraved.")
        return
    way = "stricter" if circle.stricter_stops > 0 else "more lenient"
    say(f"By the {way} c = {circle.stricter_mm:.3f} mm, {abs(circle.stricter_stops):.1f} stops from it:")
    for one in circle.stricter:
        kept = span_text(one.kept.near_m, one.kept.far_m)
        at = "infinity" if one.fact.focus_m == inf else metres_text(one.fact.focus_m)
        say(f"  f/{mark_text(one.fact.f_number)} at {at} keeps {kept}{_where_to_read(one, plan.kit.lens)}.")


def _where_to_read(one: Stricter, lens: Lens) -> str:
    """Which marks of the lens's scale stand as far apart as what is kept; said where it has none."""
    if lens.reaches(one.read_at):
        return f": read the scale at {aperture_text(one.read_at, lens.marks)}"
    wider = one.read_at < lens.exact_marks[0]
    return f"; the scale has no marks so {'close together' if wider else 'far apart'}"


def show_depths(plan: FocusPlan) -> None:
    """The table of near (upper) and far (lower line) for each focus distance and aperture."""
    labels = [f"f/{mark_text(mark)}" for mark in plan.marks] or [f"f/{plan.hyperfocals[0].f_number:.3g}"]
    unit, scale = ("ft", sorted(plan.kit.lens.distance_marks_ft)) if _in_feet(plan) else ("m", ())
    for start in range(0, len(labels), APERTURES_A_TABLE):
        part = slice(start, start + APERTURES_A_TABLE)
        rows = []
        for i, (focus_m, depths) in enumerate(zip(plan.focuses_m, plan.depths, strict=True)):
            label = "inf" if focus_m == inf else scale_mark_text(scale[i]) if unit == "ft" else f"{focus_m:g}"
            rows.append((label, *(_cell(depth.near_m, unit) for depth in depths[part])))
            rows.append(("", *(_cell(depth.far_m, unit) for depth in depths[part])))
        show_table((unit, *labels[part]), rows, align="r" * (len(labels) + 1))
    click.echo(f"Each focus distance: near above, far below, in {unit}.")


def _in_feet(plan: FocusPlan) -> bool:
    lens = plan.kit.lens
    return bool(lens.distance_marks_ft) and not lens.distance_marks_m and len(plan.focuses_m) > 1


def _cell(distance_m: float, unit: str) -> str:
    return short_text(distance_m / FOOT_M if unit == "ft" else distance_m)


def show_hyperfocals(plan: FocusPlan) -> None:
    click.echo("\nFocus here and all is sharp from the near end to infinity:")
    show_table(
        ("aperture", "focus", "near", "on the scale"),
        [(f"f/{mark_text(h.mark)}", metres_text(h.focus_m), metres_text(h.near_m), h.place) for h in plan.hyperfocals],
        align="rrrl",
    )


def number(value: float | None) -> float | None:
    """A number for JSON: infinity becomes null."""
    return None if value is None or not isfinite(value) else value


def as_data(plan: FocusPlan) -> dict:
    """The plan for --json. A null distance stands for infinity."""
    return {
        "kit": plan.kit.slug,
        "circle": _circle_data(plan.circle, plan.kit.lens),
        "hyperfocal": [
            {"aperture": f"f/{mark_text(h.mark)}", "f_number": h.f_number, "focus_m": h.focus_m, "near_m": h.near_m,
             "place": h.place} for h in plan.hyperfocals
        ],
        "table": [
            {"focus_m": number(focus_m), "depths": [_depth_data(depth) for depth in depths]}
            for focus_m, depths in zip(plan.focuses_m, plan.depths, strict=True)
        ],
        "setting": _setting_data(plan.setting),
        "sharp": plan.sharp and {
            "near_m": plan.sharp.near_m, "far_m": number(plan.sharp.far_m), "needed_f_number": plan.sharp.needed,
            "setting": _setting_data(plan.sharp.setting), "give_near": _setting_data(plan.sharp.give_near),
            "give_far": _setting_data(plan.sharp.give_far),
        },
        "guess": plan.guess and {
            "focus_m": number(plan.guess.focus_m), "wrong_part": plan.guess.wrong_part,
            "needed_f_number": plan.guess.needed, "setting": _setting_data(plan.guess.setting),
        },
        "cautions": list(plan.cautions),
    }  # fmt: skip


def _depth_data(depth: Depth) -> dict:
    return {"near_m": depth.near_m, "far_m": number(depth.far_m)}


def _setting_data(setting: Setting | None) -> dict | None:
    return setting and {
        "focus_m": number(setting.focus_m), "place": setting.place, "f_number": setting.f_number,
        "aperture": setting.aperture, **_depth_data(setting.depth),
        "nearer_m": number(setting.room.nearer_m), "farther_m": number(setting.room.farther_m),
    }  # fmt: skip


def _circle_data(circle: Circle, lens: Lens) -> dict:
    """The circle for --json. read_at null: the lens's scale has no such marks."""
    found = circle.inference
    return {
        "coc_mm": circle.coc_mm, "divisor": circle.divisor, "why": circle.why,
        "inferred": found and {
            "low_mm": found.low_mm, "high_mm": found.high_mm, "consistent": found.consistent,
            "facts": [
                {"f_number": c.fact.f_number, "focus_m": number(c.fact.focus_m), "near_m": c.fact.near_m,
                 "far_m": number(c.fact.far_m), "coc_mm": c.coc_mm, "low_mm": c.low_mm, "high_mm": c.high_mm,
                 "agrees": c.agrees} for c in found.facts
            ],
            "stricter_mm": circle.stricter_mm, "stricter_stops": circle.stricter_stops,
            "kept": [
                _depth_data(one.kept) | {"read_at": one.read_at if lens.reaches(one.read_at) else None}
                for one in circle.stricter
            ],
        },
    }  # fmt: skip
