"""A phone's profile as a TOML file: what calibration found, how, and from what."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite

from meter.errors import ShelfError
from meter.falloff import Falloff
from meter.response import CODES, Profile, Response

FORMAT = 1
EVIDENCE = ("published", "secondary", "memory", "computed", "measured")
PARTS = ("response", "offset", "falloff")  # what a profile may hold; each with a source and evidence of its own
CHANNELS = ("red", "green", "blue")
FALLOFF_KEYS = ("center_x", "center_y", "k2_stops", "k4_stops", "k6_stops", "sigma_stops")
LARGEST_OFFSET = 6.0  # beyond it something other than the phone is wrong [stops]
PER_LINE = 8


@dataclass(frozen=True)
class Origin:
    """Where one part of a profile comes from. evidence: one of EVIDENCE. date: as 2025-06-01, or empty."""

    source: str
    evidence: str = "measured"
    date: str = ""


@dataclass(frozen=True)
class Residual:
    """How far photos still disagree at these codes (encoded luma). [stops]"""

    first_code: int
    last_code: int
    rms_stops: float
    samples: int


@dataclass(frozen=True)
class Conditions:
    """What a response was measured from.

    frames, scenes: how many. range_stops: of exposure, the widest scene. first_code, last_code: the luma that was seen.
    spread_before_stops, spread_after_stops: rms of one place over the frames, decoded as sRGB and by this response.
    disagreeing: names of photos whose EXIF the others contradict.
    """

    frames: int
    scenes: int
    range_stops: float
    first_code: int
    last_code: int
    spread_before_stops: float
    spread_after_stops: float
    residuals: tuple[Residual, ...] = ()
    disagreeing: tuple[str, ...] = ()


@dataclass(frozen=True)
class ProfileFile:
    """A profile with its provenance. origins: by part; a part that was not calibrated has none."""

    profile: Profile
    origins: Mapping[str, Origin] = field(default_factory=dict)
    conditions: Conditions | None = None


def read_profile(text: str, where: str = "this profile") -> ProfileFile:
    """Read a profile file. where: what a message calls it. Raises ShelfError with all faults."""
    import tomllib

    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ShelfError(f"{where} is not valid TOML: {error or 'nested too deeply'}") from error
    found = list(problems(data))
    if found:
        raise ShelfError(f"{where} cannot be used. " + "; ".join(found))
    return profile_from(data)


def problems(data: dict) -> Iterator[str]:
    """Yield each fault of a profile file as 'key: what is wrong'. None means that it can be trusted."""
    if data.get("format") != FORMAT:
        yield f"format: this version reads {FORMAT}, the file says {data.get('format')!r}"
    for key in ("name", "make", "model"):
        if not isinstance(data.get(key), str) or not data[key].strip():
            yield f"{key}: text is needed, got {data.get(key)!r}"
    if "focal_35mm" in data and not _number(data["focal_35mm"], 5, 1000):
        yield f"focal_35mm: millimetres from 5 to 1000 are needed, got {data['focal_35mm']!r}"
    if not _all_text(data.get("notes", [])):
        yield f"notes: a list of sentences is needed, got {data.get('notes')!r}"
    yield from _response_problems(data.get("response"))
    if "offset" in data:
        yield from _offset_problems(data["offset"])
    if "falloff" in data:
        yield from _falloff_problems(data["falloff"])


def _response_problems(part: object) -> Iterator[str]:
    if not isinstance(part, dict):
        yield "response: a table with red, green, blue and sigma_stops is needed"
        return
    yield from _origin_problems("response", part)
    for key in CHANNELS:
        values = part.get(key)
        if not _codes_list(values):
            yield f"response.{key}: {CODES} finite numbers of 0 or more are needed"
        elif any(b <= a for a, b in pairwise(values)):
            first = next(code for code in range(1, CODES) if values[code] <= values[code - 1])
            yield f"response.{key}: must rise from code to code, and does not at code {first}"
    if not _codes_list(part.get("sigma_stops")):
        yield f"response.sigma_stops: {CODES} finite numbers of 0 or more are needed"
    if "conditions" in part:
        yield from _conditions_problems(part["conditions"])


def _conditions_problems(part: object) -> Iterator[str]:
    where = "response.conditions"
    if not isinstance(part, dict):
        yield f"{where}: a table is needed, got {part!r}"
        return
    for key, high in (("frames", 10_000), ("scenes", 10_000), ("first_code", 255), ("last_code", 255)):
        if not _whole(part.get(key), 0, high):
            yield f"{where}.{key}: a whole number from 0 to {high} is needed, got {part.get(key)!r}"
    for key in ("range_stops", "spread_before_stops", "spread_after_stops"):
        if not _number(part.get(key), 0, 50):
            yield f"{where}.{key}: stops from 0 to 50 are needed, got {part.get(key)!r}"
    if not _all_text(part.get("disagreeing", [])):
        yield f"{where}.disagreeing: a list of names is needed, got {part.get('disagreeing')!r}"
    rows = part.get("residual", [])
    if not isinstance(rows, list):
        yield f"{where}.residual: a list of tables is needed, got {rows!r}"
        return
    for number, row in enumerate(rows):
        if not _residual_ok(row):
            yield f"{where}.residual[{number}]: first_code, last_code, rms_stops and samples are needed, got {row!r}"


def _offset_problems(part: object) -> Iterator[str]:
    if not isinstance(part, dict):
        yield f"offset: a table with offset_stops and sigma_stops is needed, got {part!r}"
        return
    yield from _origin_problems("offset", part)
    if not _number(part.get("offset_stops"), -LARGEST_OFFSET, LARGEST_OFFSET):
        yield f"offset.offset_stops: stops within {LARGEST_OFFSET:g} of 0 are needed, got {part.get('offset_stops')!r}"
    if not _number(part.get("sigma_stops"), 0, LARGEST_OFFSET):
        yield f"offset.sigma_stops: stops from 0 to {LARGEST_OFFSET:g} are needed, got {part.get('sigma_stops')!r}"


def _falloff_problems(part: object) -> Iterator[str]:
    if not isinstance(part, dict):
        yield f"falloff: a table with {', '.join(FALLOFF_KEYS)} is needed, got {part!r}"
        return
    yield from _origin_problems("falloff", part)
    limits = ((-1, 2), (-1, 2), (-10, 10), (-10, 10), (-10, 10), (0, 5))
    for key, (low, high) in zip(FALLOFF_KEYS, limits, strict=True):
        if not _number(part.get(key), low, high):
            yield f"falloff.{key}: a number from {low} to {high} is needed, got {part.get(key)!r}"


def _origin_problems(name: str, part: dict) -> Iterator[str]:
    if not isinstance(part.get("source"), str) or not part["source"].strip():
        yield f"{name}.source: where it comes from is needed, got {part.get('source')!r}"
    if part.get("evidence") not in EVIDENCE:
        yield f"{name}.evidence: one of {', '.join(EVIDENCE)} is needed, got {part.get('evidence')!r}"
    if not isinstance(part.get("date", ""), str):
        yield f'{name}.date: text such as "2025-06-01" is needed, got {part["date"]!r}'


def _number(value: object, low: float, high: float) -> bool:
    return type(value) in (int, float) and isfinite(value) and low <= value <= high


def _whole(value: object, low: int, high: int) -> bool:
    return type(value) is int and low <= value <= high


def _all_text(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def _codes_list(value: object) -> bool:
    return isinstance(value, list) and len(value) == CODES and all(_number(one, 0, 1e9) for one in value)


def _residual_ok(row: object) -> bool:
    return (
        isinstance(row, dict)
        and all(_whole(row.get(key), 0, 255) for key in ("first_code", "last_code"))
        and _number(row.get("rms_stops"), 0, 50)
        and _whole(row.get("samples"), 0, 10**9)
    )


def profile_from(data: dict) -> ProfileFile:
    """The profile of a file's data in which `problems` found nothing."""
    response = data["response"]
    tables = [tuple(float(value) for value in response[key]) for key in (*CHANNELS, "sigma_stops")]
    offset, falloff = data.get("offset", {}), data.get("falloff")
    given = {}
    if offset:
        given = {"offset_stops": float(offset["offset_stops"]), "offset_sigma": float(offset["sigma_stops"])}
    profile = Profile(
        name=data["name"],
        make=data["make"],
        model=data["model"],
        response=Response(*tables),
        focal_35mm=float(data["focal_35mm"]) if "focal_35mm" in data else None,
        falloff=Falloff(*(float(falloff[key]) for key in FALLOFF_KEYS)) if falloff else None,
        notes=tuple(data.get("notes", ())),
        **given,
    )
    origins = {
        part: Origin(data[part]["source"], data[part]["evidence"], data[part].get("date", ""))
        for part in PARTS
        if part in data
    }
    conditions = _conditions_from(response["conditions"]) if "conditions" in response else None
    return ProfileFile(profile, origins, conditions)


def _conditions_from(part: dict) -> Conditions:
    plain = {key: value for key, value in part.items() if key in Conditions.__dataclass_fields__}
    rows = tuple(
        Residual(row["first_code"], row["last_code"], float(row["rms_stops"]), row["samples"])
        for row in part.get("residual", [])
    )
    return Conditions(**(plain | {"residuals": rows, "disagreeing": tuple(part.get("disagreeing", ()))}))


def profile_text(file: ProfileFile) -> str:
    """The TOML text of a profile; `read_profile` gives the same back, tables to seven digits.

    Raises ShelfError when it could not be read again (an origin is missing, a number out of range).
    """
    import tomlkit

    document = tomlkit.document()
    document.update(_head(file.profile))
    document["response"] = _response_table(file)
    if "offset" in file.origins or file.profile.offset_stops:
        values = {"offset_stops": _digits(file.profile.offset_stops), "sigma_stops": _digits(file.profile.offset_sigma)}
        document["offset"] = values | _origin(file.origins.get("offset"))
    if file.profile.falloff is not None:
        fall = file.profile.falloff
        numbers = (fall.center_x, fall.center_y, fall.k2, fall.k4, fall.k6, fall.sigma_stops)
        values = dict(zip(FALLOFF_KEYS, map(_digits, numbers), strict=True))
        document["falloff"] = values | _origin(file.origins.get("falloff"))
    found = list(problems(document.unwrap()))
    if found:
        raise ShelfError(f"the profile {file.profile.name} cannot be written. " + "; ".join(found))
    return tomlkit.dumps(document)


def _head(profile: Profile) -> dict:
    head = {"format": FORMAT, "name": profile.name, "make": profile.make, "model": profile.model}
    if profile.focal_35mm is not None:
        head["focal_35mm"] = _digits(profile.focal_35mm)
    return head | ({"notes": list(profile.notes)} if profile.notes else {})


def _response_table(file: ProfileFile):
    import tomlkit

    table = tomlkit.table()
    table.update(_origin(file.origins.get("response")))
    response = file.profile.response
    for key, values in zip(
        (*CHANNELS, "sigma_stops"), (response.red, response.green, response.blue, response.sigma), strict=True
    ):
        table[key] = _long_array(values)
    if file.conditions is not None:
        table["conditions"] = _conditions_table(file.conditions)
    return table


def _conditions_table(conditions: Conditions):
    import tomlkit

    table = tomlkit.table()
    for key in Conditions.__dataclass_fields__:
        if key not in ("residuals", "disagreeing"):
            table[key] = _digits(getattr(conditions, key), 4)
    if conditions.disagreeing:
        table["disagreeing"] = list(conditions.disagreeing)
    rows = tomlkit.aot()
    for one in conditions.residuals:
        row = tomlkit.table()
        row.update({"first_code": one.first_code, "last_code": one.last_code})
        row.update({"rms_stops": _digits(one.rms_stops, 4), "samples": one.samples})
        rows.append(row)
    if conditions.residuals:
        table["residual"] = rows
    return table


def _long_array(values: tuple[float, ...]):
    import tomlkit

    array = tomlkit.array()
    for start in range(0, len(values), PER_LINE):
        array.add_line(*map(_digits, values[start : start + PER_LINE]))
    array.add_line(indent="")
    return array


def _origin(origin: Origin | None) -> dict:
    if origin is None:
        return {}
    return {"source": origin.source, "evidence": origin.evidence} | ({"date": origin.date} if origin.date else {})


def _digits(value: float, digits: int = 7) -> float:
    """The value in as few digits as a file needs; whole numbers stay whole."""
    return value if isinstance(value, int) else float(f"{value:.{digits}g}")
