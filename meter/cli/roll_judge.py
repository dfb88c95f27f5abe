"""stopgap roll judge: what a developed negative says about EI and development."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import click

from meter.cli.paper import show_json, show_table
from meter.cli.roll_options import log_options, roll_option
from meter.development import PLACEMENT_SIGMA, Estimate, Verdict
from meter.errors import BadInput
from meter.roll import parse_development, tank_text
from meter.zones import zone_text

PER_SCAN = ("--base", "--spot", "--frame")
SCANS_BEFORE = "stopgap.scans_before"  # in the context: for each option of PER_SCAN how many scans stood before it


class ScanByScan(click.Command):
    """Notes how many scans stand before each --base, --spot and --frame: these belong to the scan they follow."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        takes_value = {name for p in self.params if isinstance(p, click.Option) and not p.is_flag for name in p.opts}
        ctx.meta[SCANS_BEFORE] = {name: [] for name in PER_SCAN}
        scans, only_scans, rest = 0, False, iter(args)
        for word in rest:
            name, has_value, _ = word.partition("=")
            if only_scans or not word.startswith("-"):
                scans += 1
            elif word == "--":
                only_scans = True
            elif name in takes_value:
                ctx.meta[SCANS_BEFORE].get(name, []).append(scans)
                if not has_value:
                    next(rest, None)
        return super().parse_args(ctx, args)


def belonging(name: str, values: Sequence, scan: int) -> tuple:
    """The values of a repeated option that go for a scan (1 is the first): its own, else those before every scan."""
    placed = list(zip(click.get_current_context().meta[SCANS_BEFORE][name], values, strict=True))
    own = tuple(value for before, value in placed if before == scan)
    return own or tuple(value for before, value in placed if before == 0)


@click.command(cls=ScanByScan)
@click.argument("scans", nargs=-1, type=click.Path(path_type=Path), metavar="[SCAN]...")
@click.option("--density", "densities", multiple=True, help="ZONE=DENSITY or NAME=DENSITY, base included; repeatable.")
@click.option("--base-fog", type=float, help="Density of the clear film, with --density.")
@click.option("--base", "bases", multiple=True, help="X,Y on clear film in a SCAN, fractions from the top left.")
@click.option("--spot", "spots", multiple=True, help="X,Y=ZONE or X,Y=NAME in a SCAN; repeatable.")
@click.option(
    "--spot-size", type=click.FloatRange(0.001, 0.5), help="Diameter, parts of the short side.  [default: 0.02]"
)
@click.option(
    "--frame", "numbers", multiple=True, type=click.IntRange(min=1), help="The frame, to use its placements by name."
)
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
    scans, densities, base_fog, bases, spots, spot_size, numbers, ei, wanted, enlarger, density_range, placement_sigma,
    roll_number, kit, log, as_json,
) -> None:  # fmt: skip
    """Judge a developed negative: slope, exposure index, development.

    From a densitometer, or from spots on 16-bit linear scans that show some
    clear film. --base, --spot and --frame belong to the SCAN that they follow;
    before the first they go for each that has none of its own. Several scans
    are judged as one roll. With --ei no log is needed.

    \b
    stopgap roll judge --base-fog 0.08 --density I=0.17 --density III=0.42 \\
        --density V=0.75 --density VIII=1.30 --ei 200
    stopgap roll judge scan4.tif --frame 4 --base 0.02,0.5 \\
        --spot "0.3,0.7=quay wall" --spot 0.6,0.2=VII \\
        scan7.tif --base 0.02,0.4 --spot 0.5,0.5=II
    """  # fmt: skip
    from meter.jobs import judge_roll, keep_roll

    if bool(scans) == bool(densities):
        raise BadInput("give either --density readings with --base-fog, or SCANs with --base and --spot")
    roll, remarks = None, ()
    if numbers or roll_number is not None or kit is not None or ei is None:
        roll = keep_roll.find_finished_roll(roll_number, kit, log)
        remarks = judge_roll.check_judgeable(roll)
    common = {
        "ei": ei if ei is not None else roll.made.ei, "enlarger": enlarger, "density_range": density_range,
        "wanted": judge_roll.wanted_of(roll) if wanted is None else parse_development(wanted),
        "placement_sigma": placement_sigma,
    }  # fmt: skip
    if scans:
        wishes = tuple(_wishes(scans, bases, spots, numbers, roll))
        found = judge_roll.judge_scans(wishes, size=spot_size, **common)
    else:
        if base_fog is None:
            raise BadInput("--density needs --base-fog: the density of the clear film beside the frames")
        frame = judge_roll.frame_of(roll, _one("--frame", numbers, "with --density")) if numbers else None
        found = judge_roll.judge_densities(densities, base_fog, frame=frame, **common)
    found = replace(found, cautions=(*remarks, *found.cautions))
    if as_json:
        return show_json(judge_roll.plain_judgement(found))
    _show(found, roll)


def _wishes(scans, bases, spots, numbers, roll) -> Iterator:
    """What to read in each scan. Raises BadInput for one without its base or spots."""
    from meter.jobs.judge_roll import ScanWish, frame_of

    for place, scan in enumerate(scans, start=1):
        base, of_scan = belonging("--base", bases, place), belonging("--spot", spots, place)
        number = belonging("--frame", numbers, place)
        if not (base and of_scan):
            raise BadInput(f"{scan} needs --base X,Y on clear film and --spot X,Y=ZONE behind its name")
        frame = frame_of(roll, _one("--frame", number, f"for {scan}")) if number else None
        yield ScanWish(scan, _one("--base", base, f"for {scan}"), of_scan, frame)


def _one(name: str, values: Sequence, where: str):
    if len(values) > 1:
        raise BadInput(f"{name} is given {len(values)} times {where}: give it once, behind the scan that it is for")
    return values[0]


def _show(found, roll) -> None:
    verdict: Verdict = found.verdict
    click.echo(f"EI: {_ei_words(verdict, found.ei)}")
    click.echo(f"Development: {_development_words(verdict)}")
    if roll is not None:
        click.echo(roll.title)
    rows = [(zone_text(p.zone), f"{p.density:.2f}", f"{p.density_sigma:.2f}", _what(p)) for p in found.patches]
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


def _what(patch) -> str:
    return " in ".join(text for text in (patch.name, patch.source) if text)


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
