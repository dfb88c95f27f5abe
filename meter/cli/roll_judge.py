"""stopgap roll judge: what a developed negative says about EI and development."""

from dataclasses import replace
from pathlib import Path

import click

from meter.cli.paper import show_json, show_table
from meter.cli.roll_options import log_options, roll_option
from meter.development import PLACEMENT_SIGMA, Estimate, Verdict
from meter.errors import BadInput
from meter.roll import parse_development, tank_text
from meter.zones import zone_text


@click.command()
@click.argument("scan", required=False, type=click.Path(path_type=Path))
@click.option("--density", "densities", multiple=True, help="ZONE=DENSITY or NAME=DENSITY, base included; repeatable.")
@click.option("--base-fog", type=float, help="Density of the clear film, with --density.")
@click.option("--base", help="X,Y on clear film in SCAN, fractions from the top left.")
@click.option("--spot", "spots", multiple=True, help="X,Y=ZONE or X,Y=NAME in SCAN; repeatable.")
@click.option(
    "--spot-size", type=click.FloatRange(0.001, 0.5), help="Diameter, parts of the short side.  [default: 0.02]"
)
@click.option("--frame", "number", type=click.IntRange(min=1), help="The frame, to use its placements by name.")
@click.option("--ei", type=float, help="Exposed at.  [default: the roll's]")
@click.option("--wanted", help="Development that was meant, N-1.  [default: the roll's, else N]")
@click.option("--enlarger", type=click.Choice(["diffusion", "condenser"]), default="diffusion", show_default=True)
@click.option("--density-range", type=float, help="Zone VIII above Zone I, where yours is another.")
@click.option(
    "--placement-sigma", type=float, default=PLACEMENT_SIGMA, help="Doubt about each zone, in stops.  [default: 1/3]"
)
@roll_option
@log_options
def judge(
    scan, densities, base_fog, base, spots, spot_size, number, ei, wanted, enlarger, density_range, placement_sigma,
    roll_number, kit, log, as_json,
) -> None:  # fmt: skip
    """Judge a developed negative: slope, exposure index, development.

    From a densitometer, or from spots on a 16-bit linear scan that shows some
    clear film. With --ei no log is needed.

    \b
    stopgap roll judge --base-fog 0.08 --density I=0.17 --density III=0.42 \\
        --density V=0.75 --density VIII=1.30 --ei 200
    stopgap roll judge scan.tif --base 0.02,0.5 --spot "0.3,0.7=quay wall" \\
        --spot 0.6,0.2=VII --frame 4
    """
    from meter.jobs import judge_roll, keep_roll

    if (scan is None) == (not densities):
        raise BadInput("give either --density readings with --base-fog, or a SCAN with --base and --spot")
    roll = frame = None
    remarks = ()
    if number is not None or roll_number is not None or kit is not None or ei is None:
        roll = keep_roll.find_finished_roll(roll_number, kit, log)
        remarks = judge_roll.check_judgeable(roll)
        frame = judge_roll.frame_of(roll, number) if number is not None else None
    target = judge_roll.wanted_of(roll, frame) if wanted is None else parse_development(wanted)
    common = {
        "ei": ei if ei is not None else roll.made.ei, "wanted": target, "enlarger": enlarger,
        "density_range": density_range, "placement_sigma": placement_sigma, "frame": frame,
    }  # fmt: skip
    if scan is None:
        if base_fog is None:
            raise BadInput("--density needs --base-fog: the density of the clear film beside the frames")
        found = judge_roll.judge_densities(densities, base_fog, **common)
    else:
        if base is None or not spots:
            raise BadInput("a SCAN needs --base X,Y on clear film and at least two --spot X,Y=ZONE")
        found = judge_roll.judge_scan(scan, base, spots, size=spot_size, **common)
    found = replace(found, cautions=(*remarks, *found.cautions))
    if as_json:
        return show_json(judge_roll.plain_judgement(found))
    _show(found, roll)


def _show(found, roll) -> None:
    verdict: Verdict = found.verdict
    click.echo(f"EI: {_ei_words(verdict, found.ei)}")
    click.echo(f"Development: {_development_words(verdict)}")
    if roll is not None:
        click.echo(roll.title)
    rows = [(zone_text(p.zone), f"{p.density:.2f}", f"{p.density_sigma:.2f}", p.name) for p in found.patches]
    show_table(("zone", "net density", "±", "what"), rows, align="lrrl")
    if verdict.line:
        click.echo(f"slope III to VIII: {_pm(verdict.line.slope, 3)} density a zone")
    if verdict.gradient:
        click.echo(f"average gradient:  {_pm(verdict.gradient, 2)} (N for this enlarger: {_normal(found):.2f})")
    if verdict.speed:
        iso = f"by the ISO speed point EI {verdict.iso_ei:g}"
        click.echo(f"density 0.10 at:   Zone {verdict.speed.value:.1f} ± {verdict.speed.sigma:.1f}; {iso}")
    click.echo("± is one standard uncertainty.")
    for caution in found.cautions:
        click.echo(click.wrap_text(f"! {caution}", 80, "", "  "))


def _normal(found) -> float:
    from meter.development import gradient_for

    return gradient_for(0, found.density_range)


def _ei_words(verdict: Verdict, used: float) -> str:
    shift = verdict.shift_stops
    if shift is None:
        return f"nothing can be said; stay at {used:g}"
    if verdict.ei == used:
        return f"stay at {used:g} (asks for {shift.value:+.1f} ± {shift.sigma:.1f} stops: within the doubt)"
    more = "more" if shift.value > 0 else "less"
    return f"{verdict.ei:g} instead of {used:g} ({abs(shift.value):.1f} ± {shift.sigma:.1f} stops {more} exposure)"


def _development_words(verdict: Verdict) -> str:
    change = verdict.change
    if change is None:
        return "nothing can be said"
    got = f"got {_n(verdict.development)}, wanted {tank_text(verdict.wanted)}"
    if verdict.time_factor:
        low, high = verdict.time_factor
        return f"{got}; time x {low:.2f} to {high:.2f} (rule of thumb, memory)"
    if abs(change.value) < change.sigma or abs(change.value) < 0.25:
        return f"{got}: keep the time"
    return f"{got}; {'more' if change.value > 0 else 'less'} time, by trial: beyond what is known"


def _n(estimate: Estimate) -> str:
    value = round(estimate.value, 1) + 0.0
    return f"N{value:+.1f} ± {estimate.sigma:.1f}" if value else f"N ± {estimate.sigma:.1f}"


def _pm(estimate: Estimate, digits: int) -> str:
    return f"{estimate.value:.{digits}f} ± {estimate.sigma:.{digits}f}"
