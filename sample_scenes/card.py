"""The card of a simulated camera: what it is, what is wrong with it, and why. One TOML file each in `cards/`."""

import tomllib
from collections.abc import Iterator
from dataclasses import Field, dataclass, field, fields
from itertools import pairwise
from math import isfinite
from pathlib import Path
from typing import Any

from meter.errors import ShelfError

FOLDER = Path(__file__).parent / "cards"
GROUPS = ("training", "test", "reference")


def number(low: float, high: float) -> Any:
    """A number, `low` to `high`."""
    return field(metadata={"range": (low, high)})


def numbers(count: int, low: float, high: float) -> Any:
    """A list of `count` numbers, each `low` to `high`."""
    return field(metadata={"range": (low, high), "count": count})


def choice(*words: str) -> Any:
    """One of these words."""
    return field(metadata={"words": words})


def text() -> Any:
    """A sentence or a name."""
    return field(metadata={"text": True})


@dataclass(frozen=True)
class Lens:
    """What happens to light before the sensor."""

    f_number: float = number(0.9, 32)  # the real one, which makes the exposure
    stated_f_number: float = number(0.9, 32)  # what EXIF says
    focal_mm: float = number(1, 100)
    focal_35mm: float = number(8, 200)  # by the diagonal [mm]
    falloff_corrected: float = number(0, 1.5)  # share of the natural cos⁴ fall-off that the camera undoes; 1 is all
    glare_wide: float = number(0, 0.2)  # share of the light that ends up even over the frame
    glare_local: float = number(0, 0.2)  # share that spreads around its source ...
    glare_local_width: float = number(0, 0.5)  # ... as a Gaussian with this sigma [frame diagonals]


@dataclass(frozen=True)
class Sensor:
    """Photons to numbers. Linear levels are ISO 12232's: 0.18 is the mid-tone; `headroom` is the level that clips."""

    megapixels: float = number(0.1, 200)  # of the sensor; a smaller picture averages them
    full_well_e: float = number(100, 200_000)  # electrons that fill one sensor pixel at base ISO, green
    read_noise_e: float = number(0, 200)  # electrons rms, one sensor pixel
    base_iso: float = number(10, 1600)
    iso_ratio: float = number(0.5, 2)  # real sensitivity / stated, at ISO 100; lens transmission is in here too
    iso_drift: float = number(-0.2, 0.2)  # how that ratio changes with stated ISO [stops per stop]
    time_jitter: float = number(0, 0.2)  # exposure-to-exposure scatter of the real time [stops rms]
    headroom: float = number(0.9, 8)  # level that clips, green
    balance: tuple[float, float, float] = numbers(3, 0.1, 1)  # channel sensitivities to D65 white, green 1
    crosstalk: float = number(0, 0.4)  # share of each channel's light that belongs to its two neighbours


@dataclass(frozen=True)
class AutoExposure:
    """How the camera chooses and states an exposure."""

    metering: str = choice("average", "centre", "pattern")
    target: float = number(0.02, 0.6)  # weighted mean level that it aims at, clipped pixels counted as clipped
    clipped_share: float = number(0, 1)  # it exposes less when more of the frame than this would clip ...
    clipped_pull: float = number(0, 4)  # ... but by no more than this [stops]
    night_droop: float = number(0, 0.5)  # target falls by this for each stop under 8 cd/m² [stops per stop]
    programme: tuple[tuple[float, float], ...] = field(metadata={"programme": True})  # corners: time [s], ISO
    steps: str = choice("fine", "thirds")  # thirds: real times and ISO 2^(k/3), stated as the nominal 1/125 for 1/128
    brightness_unit: float = number(0, 10)  # luminance at BrightnessValue 0 [cd/m²]; 0: the tag is not written
    brightness_offset: float = number(-3, 3)  # error of BrightnessValue [stops]


@dataclass(frozen=True)
class Colour:
    """White balance and colour rendering, on linear levels."""

    balance_strength: float = number(0, 1)  # how much of the light's colour is removed, along amber-blue
    balance_limit: float = number(0, 4)  # largest change of red against blue [stops]
    balance_bias: tuple[float, float, float] = numbers(3, 0.5, 2)  # then every picture is multiplied by this
    matrix_error: float = number(-1, 1)  # share of the sensor's crosstalk that the matrix leaves (negative: overdoes)
    saturation: float = number(0, 2)  # 1 is true; luminance is kept


@dataclass(frozen=True)
class Tone:
    """Levels to code values: a fixed curve, and what adapts to the picture."""

    curve: str = choice("srgb", "contrast", "lifted", "film")
    brighten: float = number(-2, 2)  # gain before the curve [stops]
    s_depth: float = number(0, 0.9)  # contrast: how far the S departs from straight, on the code values
    slope: float = number(0.5, 2)  # lifted and film: stops out for a stop in, below the shoulder
    knee: float = number(0.1, 1)  # lifted: level where the shoulder begins; film: level where it has halved the slope
    black: float = number(0, 0.1)  # share of the code values cut off at the dark end, against haze
    applied: str = choice("channels", "luminance")
    adapt_slope: float = number(0, 1)  # share of a slope-limited histogram equalisation that is mixed in
    adapt_level: float = number(0, 1)  # share of the median's distance from mid-tone that is taken out
    local: float = number(0, 0.9)  # compression of the large-scale brightness differences
    sharpen: float = number(0, 2)  # unsharp mask on the code values


@dataclass(frozen=True)
class Output:
    """The file."""

    quality: int = number(30, 100)
    subsampling: str = choice("4:4:4", "4:2:2", "4:2:0")
    orientation: int = number(1, 8)  # EXIF Orientation; the stored pixels are turned to match
    sensitivity_type: int = number(0, 7)  # EXIF SensitivityType


@dataclass(frozen=True)
class Card:
    """A simulated camera. Group "test" is kept for tests alone; "reference" is the one without vices."""

    name: str = text()
    group: str = choice(*GROUPS)
    make: str = text()
    model: str = text()
    why: str = text()
    lens: Lens = field(metadata={"part": Lens})
    sensor: Sensor = field(metadata={"part": Sensor})
    exposure: AutoExposure = field(metadata={"part": AutoExposure})
    colour: Colour = field(metadata={"part": Colour})
    tone: Tone = field(metadata={"part": Tone})
    output: Output = field(metadata={"part": Output})

    def iso_real(self, stated: float) -> float:
        """The sensitivity that the camera works at when it states this one. [ISO]"""
        return stated * self.sensor.iso_ratio * (stated / 100) ** self.sensor.iso_drift


def cards(group: str | None = None, folder: Path = FOLDER) -> tuple[Card, ...]:
    """The cards of a group in alphabetical order; without one, training and test together.

    Raises ShelfError when a file holds something that cannot be trusted, naming file, key and reason.
    """
    if group is not None and group not in GROUPS:
        raise ShelfError(f"there is no group of cameras called {group!r}; there are {', '.join(GROUPS)}")
    wanted = ("training", "test") if group is None else (group,)
    found = (load(path) for path in sorted(folder.glob("*.toml")))
    return tuple(one for one in found if one.group in wanted)


def card(name: str, folder: Path = FOLDER) -> Card:
    """The camera of this name. Raises ShelfError, with the names there are, when there is none."""
    path = folder / f"{name}.toml"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in folder.glob("*.toml")))
        raise ShelfError(f"there is no camera called {name!r} in {folder}; there are {known}")
    return load(path)


def load(path: Path) -> Card:
    """Read one card. Raises ShelfError with all the faults of the file."""
    try:
        data = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ShelfError(f"{path}: cannot be read as TOML: {error}") from error
    faults = list(problems(data, path.stem))
    if faults:
        raise ShelfError(f"{path}: " + "; ".join(faults))
    return _build(Card, data)


def problems(data: dict, stem: str) -> Iterator[str]:
    """Yield each fault of a card as 'key: what is wrong'. `stem` is the file's name, which `name` must repeat."""
    if data.get("format") != 1:
        yield f"format: this version reads 1, the file says {data.get('format')!r}"
    if data.get("name") != stem:
        yield f"name: the file is called {stem!r}, the card {data.get('name')!r}"
    yield from _part_problems(Card, {k: v for k, v in data.items() if k != "format"}, "")


def _part_problems(part: type, data: dict, prefix: str) -> Iterator[str]:
    known = {one.name: one for one in fields(part)}
    for key in data.keys() - known.keys():
        yield f"{prefix}{key}: no such key; there are {', '.join(known)}"
    for key, one in known.items():
        if key not in data:
            yield f"{prefix}{key}: missing"
        elif "part" in one.metadata:
            if isinstance(data[key], dict):
                yield from _part_problems(one.metadata["part"], data[key], f"{key}.")
            else:
                yield f"{key}: a table is needed, got {data[key]!r}"
        elif reason := _value_problem(one, data[key]):
            yield f"{prefix}{key}: {reason}, got {data[key]!r}"


def _value_problem(one: Field, value: object) -> str | None:
    """What is wrong with one value, or None."""
    rule = one.metadata
    if "text" in rule:
        return None if isinstance(value, str) and value.strip() else "text is needed"
    if "words" in rule:
        return None if value in rule["words"] else f"one of {', '.join(rule['words'])} is needed"
    if "programme" in rule:
        return _programme_problem(value)
    low, high = rule["range"]
    if "count" in rule:
        good = isinstance(value, list) and len(value) == rule["count"] and all(_between(v, low, high) for v in value)
        return None if good else f"{rule['count']} numbers from {low} to {high} are needed"
    kind = "whole number" if one.type is int else "number"
    good = _between(value, low, high) and (one.type is not int or isinstance(value, int))
    return None if good else f"a {kind} from {low} to {high} is needed"


def _programme_problem(value: object) -> str | None:
    rows = value if isinstance(value, list) else []
    if len(rows) < 2 or not all(
        isinstance(r, list) and len(r) == 2 and all(_between(v, 1e-6, 1e6) for v in r) for r in rows
    ):
        return "two or more corners of [seconds, ISO] are needed"
    rising = all(a[0] <= b[0] and a[1] <= b[1] and a != b for a, b in pairwise(rows))
    return None if rising else "time and ISO must never fall from corner to corner, and one of them must rise"


def _between(value: object, low: float, high: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value) and low <= value <= high


def _build(part: type, data: dict) -> Any:
    """Make the dataclass from checked data, lists turned into tuples."""
    values = {}
    for one in fields(part):
        value = data[one.name]
        if "part" in one.metadata:
            value = _build(one.metadata["part"], value)
        elif isinstance(value, list):
            value = tuple(tuple(v) if isinstance(v, list) else v for v in value)
        values[one.name] = value
    return part(**values)
