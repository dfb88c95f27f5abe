"""What a key of a data file may hold, and a walk that yields each fault of a table as 'key: what is wrong'."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite
from reprlib import repr as short

from meter.errors import BadInput
from meter.factors import read_stops
from meter.stops import parse_time

EVIDENCE = ("published", "secondary", "memory", "computed", "measured")


@dataclass(frozen=True)
class Key:
    """needs: what the value must be, in words. fits: whether one is. required: whether it may be left out."""

    needs: str
    fits: Callable[[object], bool]
    required: bool = True


def optional(key: Key) -> Key:
    """The same key, which may be left out."""
    return Key(key.needs, key.fits, required=False)


def is_number(value: object) -> bool:
    """Whether a value is a finite number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def number(low: float, high: float) -> Key:
    return Key(f"a number from {low:g} to {high:g}", lambda v: is_number(v) and low <= v <= high)


def whole(low: int, high: int) -> Key:
    return Key(f"a whole number from {low} to {high}", lambda v: is_number(v) and v == int(v) and low <= v <= high)


def ascending(low: float, high: float, least: int = 0) -> Key:
    """Numbers in a list, each larger than the one before."""

    def fits(value: object) -> bool:
        if not (isinstance(value, list) and len(value) >= least):
            return False
        in_range = all(is_number(v) and low <= v <= high for v in value)
        return in_range and all(a < b for a, b in pairwise(value))

    some = f"at least {least} " if least else ""
    return Key(f"a list of {some}ascending numbers from {low:g} to {high:g}", fits)


def one_of(choices: tuple[str, ...]) -> Key:
    return Key(f"one of {', '.join(choices)}", lambda v: isinstance(v, str) and v in choices)


def _is_stops(value: object) -> bool:
    try:
        return isinstance(value, str | int | float) and 0 <= read_stops(value) <= 30
    except BadInput:
        return False


def _is_time(value: object) -> bool:
    try:
        return isinstance(value, str) and 1e-5 <= parse_time(value) <= 3600
    except BadInput:
        return False


def _is_far(value: object) -> bool:
    return value == inf or (is_number(value) and 0 < value <= 1e6)


def _is_range(value: object) -> bool:
    ends = value if isinstance(value, list) and len(value) == 2 else [value, value]
    return all(is_number(v) and -15 <= v <= 25 for v in ends) and ends[0] <= ends[1]


TEXT = Key("a text", lambda v: isinstance(v, str) and bool(v.strip()))
TEXTS = Key("a list of texts", lambda v: isinstance(v, list) and all(TEXT.fits(one) for one in v))
FLAG = Key("true or false", lambda v: isinstance(v, bool))
TABLES = Key("a list of tables", lambda v: isinstance(v, list) and all(isinstance(one, dict) for one in v))
TABLE = Key("a table", lambda v: isinstance(v, dict))
STOPS = Key('stops from 0 to 30, as 0.5, "1/3" or "1 2/3",', _is_stops)
TIME = Key('a time as "1/125" or "2"', _is_time)
FAR = Key("a distance in metres, or inf,", _is_far)
EV_RANGE = Key("an EV from -15 to 25, or [low, high],", _is_range)
SOURCE = {"source": TEXT, "evidence": one_of(EVIDENCE)}


def table_faults(table: object, keys: dict[str, Key], at: str = "") -> Iterator[str]:
    """Yield each fault of a table: keys that are not known, missing, or hold something else than they need.

    at: where the table is, as "curve[0].".
    """
    if not isinstance(table, dict):
        yield f"{at.rstrip('.') or 'file'}: a table is needed, got {short(table)}"
        return
    for name in table:
        if name not in keys:
            yield f"{at}{name}: not a key of this table; its keys are {', '.join(keys)}"
    for name, key in keys.items():
        if name not in table:
            if key.required:
                yield f"{at}{name}: missing; {key.needs.rstrip(',')} is needed"
        elif not key.fits(table[name]):
            yield f"{at}{name}: {key.needs} is needed, got {short(table[name])}"


def tables(value: object) -> list[dict]:
    """The tables in a list of tables; none where it is something else (which the walk reports)."""
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def double_faults(entries: list[dict], key: str, at: str) -> Iterator[str]:
    """Yield a fault for each entry whose value at key another before it has."""
    seen: list[object] = []
    for index, entry in enumerate(entries):
        value = entry.get(key)
        if value is not None and value in seen:
            yield f"{at}[{index}].{key}: {short(value)} is there twice"
        seen.append(value)
