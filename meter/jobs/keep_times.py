"""Put measured shutter times into the user's own kit file, leaving its comments and everything else as they are."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from meter.errors import BadInput, MeterError
from meter.jobs.time_shutter import TimedSpeed
from meter.jobs.whole_file import whole_file
from meter.shelf.faults import kit_faults
from meter.shelf.reader import Shelf
from meter.stops import exact_time, parse_time, time_text


@dataclass(frozen=True)
class KeptTimes:
    """file: the kit file that holds the times. copied_from: the shipped one that it began as, None where it was there.

    marks: which times were put in. before: by mark, what stood there. [s]
    """

    file: Path
    copied_from: Path | None
    marks: tuple[str, ...]
    before: dict[str, float]


def keep_times(
    timed: Sequence[TimedSpeed],
    kit_name: str,
    *,
    shelf_dir: Path | None = None,
    replace: bool = False,
    on: date | None = None,
) -> KeptTimes:
    """Write the trustworthy ones of these times into the kit file of this name in the user's own folder.

    replace: put them in the place of others measured before. on: the day, for the record.
    Raises BadInput where measured times would be overwritten, MeterError where none can be trusted or the file does
    not take them; the file is then as it was.
    """
    shelf = Shelf(shelf_dir, begin=True)
    slug, source = shelf.kit(kit_name).slug, shelf.kit_file(kit_name)
    target = shelf.own_folder / "kits" / f"{slug}.toml"
    wanted = [one for one in timed if one.speed.trustworthy]
    if not wanted:
        raise MeterError(f"no measured time is sure enough to go into {slug}: nothing was written")
    text = source.read_text("utf-8")
    edited, before = edited_kit(text, wanted, replace=replace, where=slug, on=on)
    if faults := list(kit_faults(tomllib.loads(edited))):
        raise MeterError(f"with these times {slug} would not be a kit: {'; '.join(faults)}. Nothing was written")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise MeterError(f"{target.parent} cannot be made ({error.strerror}): nothing was written") from error
    with whole_file(target, force=True) as part:
        part.write_text(edited, "utf-8")
    copied = None if source.resolve() == target.resolve() else source
    return KeptTimes(target, copied, tuple(one.mark for one in wanted), before)


def edited_kit(
    text: str, timed: Sequence[TimedSpeed], *, replace: bool, where: str, on: date | None = None
) -> tuple[str, dict[str, float]]:
    """A kit file's text with these times in shutter.measured, and by mark what stood there before. [s]

    Raises BadInput, naming old and new, where a measured time stands already and `replace` is not given.
    """
    import tomlkit

    document = tomlkit.parse(text)
    shutter = document["shutter"]
    rows = shutter.get("measured")
    if rows is None:
        rows = tomlkit.aot()
        shutter["measured"] = rows
    here = {exact_time(parse_time(row["marked"])): row for row in rows}
    before = {one.mark: float(here[_key(one)]["open_s"]) for one in timed if _key(one) in here}
    if before and not replace:
        raise BadInput(_taken(timed, before, where))
    for one in timed:
        new = _row(one, on)
        if (old := here.get(_key(one))) is not None:
            old.update(new | {"marked": old["marked"]})
        elif isinstance(rows, tomlkit.items.AoT):
            table = tomlkit.table()
            table.update(new)
            table.add(tomlkit.nl())
            rows.append(table)
        else:
            inline = tomlkit.inline_table()
            inline.update(new)
            rows.add_line(inline, indent="  ")
    return tomlkit.dumps(document).replace("\n\n\n[[shutter", "\n\n[[shutter"), before


def _key(one: TimedSpeed) -> float:
    return exact_time(parse_time(one.mark))


def _row(one: TimedSpeed, on: date | None) -> dict:
    return {
        "marked": one.mark.removesuffix(" s"),
        "open_s": float(f"{one.speed.measured_s:.4g}"),
        "sigma_stops": float(f"{one.speed.sigma_stops:.2g}"),
        "source": one.how + (f", {on.isoformat()}" if on else ""),
        "evidence": "measured",
    }


def _taken(timed: Sequence[TimedSpeed], before: dict[str, float], where: str) -> str:
    changes = [
        f"{one.mark} is measured as {time_text(before[one.mark])}, now {time_text(one.speed.measured_s)}"
        for one in timed
        if one.mark in before
    ]
    cure = "Nothing was written; give --replace to put the new in"
    return f"{where} holds measured times already: {'; '.join(changes)}. {cure}"
