"""How a snapshot was exposed, and how sure that is, from a mapping of EXIF values; opens no file.

The mapping holds EXIF names (FNumber, ExposureTime ...) with plain numbers, tuples of numbers or text.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import hypot, inf, log2

from meter.errors import PhotoError
from meter.light import brightness_value, ev100_from_settings, f_number_from_apex, time_from_apex
from meter.plain import visible
from meter.stops import (
    aperture_stops,
    exact_f_number,
    system_camera_time,
    time_text,
)

TYPE_TAGS = {  # SensitivityType: the tags that hold the number, best first; Exif 2.3 (0-3 memory, 4-7 secondary)
    1: ("StandardOutputSensitivity",), 2: ("RecommendedExposureIndex",), 3: ("ISOSpeed",),
    4: ("StandardOutputSensitivity", "RecommendedExposureIndex"), 5: ("StandardOutputSensitivity", "ISOSpeed"),
    6: ("RecommendedExposureIndex", "ISOSpeed"),
    7: ("StandardOutputSensitivity", "RecommendedExposureIndex", "ISOSpeed"),
}  # fmt: skip
SATURATED_ISO = 65535  # PhotographicSensitivity is 16 bits wide: this means "look elsewhere" (secondary)
METERING = {1: "average", 2: "centre-weighted", 3: "spot", 4: "multi-spot", 5: "pattern", 6: "partial"}
FLASH_SIGMA, COMPOSITE_SIGMA = 1.0, 0.3  # what each makes of the tone scale [stops] (judgement)
EDITED_SIGMA, SAVED_AGAIN_SIGMA = 0.5, 0.2
BRIGHTNESS_DISAGREES_STOPS = 0.5
SHORTEST_SYSTEM_FOCAL_MM = 9.0  # shorter lenses sit on phones and pocket cameras (judgement)
EV_RANGE = (-10.0, 21.0)  # no scene is metered outside this [EV at ISO 100]
_EDITORS = re.compile(r"edit|photo|retouch|studio", re.IGNORECASE)
FOCAL_35MM_RANGE = (8.0, 1000.0)  # equivalents outside this are mistakes [mm]


@dataclass(frozen=True)
class Given:
    """What the user states where the photo does not: exact f-number, seconds, ISO."""

    f_number: float | None = None
    time_s: float | None = None
    iso: float | None = None


@dataclass(frozen=True)
class Snapshot:
    """One photo's exposure. sigma: uncertainty of log2(N²/tS) and of the tone scale, from EXIF alone. [stops]

    found: one sentence for each value that did not come from its usual tag. orientation: 1-8 as EXIF counts.
    """

    f_number: float
    time_s: float
    iso: float
    sigma: float
    make: str = ""
    model: str = ""
    exposure_bias: float | None = None
    brightness_value: float | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    metering: str = ""
    taken_at: str = ""
    orientation: int = 1
    found: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def ev100(self) -> float:
        """The EV at ISO 100 for which these settings are the right ones."""
        return ev100_from_settings(self.f_number, self.time_s, self.iso)


@dataclass
class _Case:
    """The mapping under examination, and what has been found so far."""

    tags: Mapping[str, object]
    name: str
    found: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    sigma: float = 0.0

    def number(self, tag: str) -> float | None:
        value = self.tags.get(tag)
        if isinstance(value, (tuple, list)):
            value = value[0] if value else None
        return float(value) if isinstance(value, (int, float)) and -inf < value < inf else None

    def positive(self, tag: str) -> float | None:
        value = self.number(tag)
        if value is not None and value <= 0:
            self.warnings.append(f"{tag} says {value:g}, which cannot be: ignored")
            return None
        return value

    def text(self, tag: str) -> str:
        value = self.tags.get(tag)
        return visible(value.strip(" \0")) if isinstance(value, str) else ""

    def doubt(self, stops: float) -> None:
        self.sigma = hypot(self.sigma, stops)


def understand(tags: Mapping[str, object], given: Given = Given(), name: str = "the photo") -> Snapshot:
    """Read how a photo was exposed.

    given: the user's own values, which win over the file's. name: of the photo, for messages.
    Raises PhotoError where f-number, time or ISO cannot be found, or their EV is outside EV_RANGE.
    """
    case = _Case(tags, name)
    f_number = given.f_number or _f_number(case)
    time_s = given.time_s or _time(case)
    iso = given.iso or _iso(case)
    asked = {"f-number (--aperture)": f_number, "exposure time (--time)": time_s, "ISO (--iso)": iso}
    missing = [what for what, value in asked.items() if value is None]
    if missing:
        raise PhotoError(f"{name} does not say its {', '.join(missing)}: give what is missing with these options")
    if given != Given():
        options = {"--aperture": given.f_number, "--time": given.time_s, "--iso": given.iso}
        case.found.append("taken from your options: " + ", ".join(name for name, value in options.items() if value))
    f_number, time_s = _restore_nominal(case, f_number, time_s, given)
    ev100 = ev100_from_settings(f_number, time_s, iso)
    if not EV_RANGE[0] <= ev100 <= EV_RANGE[1]:
        raise PhotoError(
            f"{name} says f/{f_number:.3g}, {time_text(time_s)}, ISO {iso:g}, which is EV {ev100:.0f}: no scene is lit "
            "like that; give the true values with --aperture, --time and --iso"
        )
    _warn_of_oddities(case, f_number, time_s)
    _compare_brightness(case, f_number, time_s, iso)
    focal_35mm = _focal_35mm(case)
    orientation = int(case.number("Orientation") or 1)
    return Snapshot(
        f_number=f_number,
        time_s=time_s,
        iso=iso,
        sigma=case.sigma,
        make=case.text("Make"),
        model=case.text("Model"),
        exposure_bias=case.number("ExposureBiasValue"),
        brightness_value=case.number("BrightnessValue"),
        focal_mm=case.positive("FocalLength") if case.number("FocalLength") else None,
        focal_35mm=focal_35mm,
        metering=METERING.get(int(case.number("MeteringMode") or 0), ""),
        taken_at=case.text("DateTimeOriginal") or case.text("DateTime"),
        orientation=orientation if 1 <= orientation <= 8 else 1,
        found=tuple(case.found),
        warnings=tuple(case.warnings),
    )


def _focal_35mm(case: _Case) -> float | None:
    stated = case.number("FocalLengthIn35mmFilm")
    if not stated:  # 0 stands for unknown (Exif 2.3)
        return None
    if not FOCAL_35MM_RANGE[0] <= stated <= FOCAL_35MM_RANGE[1]:
        case.warnings.append(f"a 35 mm equivalent of {stated:g} mm cannot be: ignored, give --focal-35mm")
        return None
    return stated


def _f_number(case: _Case) -> float | None:
    if (direct := case.positive("FNumber")) is not None:
        return direct
    if (apex := case.number("ApertureValue")) is not None and 0 < apex < 14:
        case.found.append("f-number from ApertureValue")
        case.doubt(0.03)  # APEX values are often rounded to tenths
        return f_number_from_apex(apex)
    return None


def _time(case: _Case) -> float | None:
    if (direct := case.positive("ExposureTime")) is not None:
        return direct
    if (apex := case.number("ShutterSpeedValue")) is not None and -12 < apex < 20:
        case.found.append("exposure time from ShutterSpeedValue")
        case.doubt(0.03)
        return time_from_apex(apex)
    return None


def _iso(case: _Case) -> float | None:
    usual = case.positive("PhotographicSensitivity")
    if usual is not None and usual < SATURATED_ISO:
        return usual
    for tag in TYPE_TAGS.get(int(case.number("SensitivityType") or 0), ()):
        if (value := case.positive(tag)) is not None:
            case.found.append(f"ISO from {tag}")
            return value
    if (value := case.positive("ISOSpeedRatings")) is not None and value < SATURATED_ISO:
        case.found.append("ISO from ISOSpeedRatings")
        return value
    if (value := case.positive("MakerNoteISO")) is not None:
        case.found.append("ISO from the maker's own note")
        case.doubt(0.1)
        return value
    return None


def kind_of_camera(case_tags: Mapping[str, object], f_number: float) -> str:
    """ "phone", "system" or "unknown", by focal length, crop and aperture; never by the maker's name."""
    case = _Case(case_tags, "")
    focal, equivalent = case.number("FocalLength") or 0.0, case.number("FocalLengthIn35mmFilm") or 0.0
    crop = equivalent / focal if focal and equivalent else None
    if focal >= SHORTEST_SYSTEM_FOCAL_MM and (crop is None or crop < 3):
        return "system"
    if 0 < focal < SHORTEST_SYSTEM_FOCAL_MM and f_number < 3.2 and (crop is None or crop > 3.2):
        return "phone"
    return "unknown"


def _restore_nominal(case: _Case, f_number: float, time_s: float, given: Given) -> tuple[float, float]:
    """Undo the rounding of engraved values for a system camera; put the doubt into sigma where that is not certain.

    A value that the user gave, or that came from an APEX tag, is taken as it is.
    """
    exact_n, exact_t = exact_f_number(f_number), system_camera_time(time_s)
    if given.f_number is not None or "f-number from ApertureValue" in case.found:
        exact_n = f_number
    if given.time_s is not None or "exposure time from ShutterSpeedValue" in case.found:
        exact_t = time_s
    shift_n, shift_t = aperture_stops(exact_n) - aperture_stops(f_number), log2(exact_t / time_s)
    kind = kind_of_camera(case.tags, f_number)
    if kind == "system":
        changed = [f"f/{f_number:g} is f/{exact_n:.4g}"] if abs(shift_n) > 0.002 else []
        changed += [f"{time_text(time_s)} is 1/{1 / exact_t:.4g} s"] if abs(shift_t) > 0.002 else []
        if changed:
            case.found.append(f"nominal values made exact: {', '.join(changed)}")
        return exact_n, exact_t
    if kind == "unknown":
        case.doubt(abs(shift_n) / 2)
        case.doubt(abs(shift_t) / 2)
    elif time_s in (1 / 125, 1 / 250, 1 / 500, 1 / 1000):  # a phone's time is real, but these are everyone's labels
        case.doubt(abs(shift_t) / 2)
    return f_number, time_s


def _warn_of_oddities(case: _Case, f_number: float, time_s: float) -> None:
    flash = int(case.number("Flash") or 0)
    if flash & 1:
        case.warnings.append("flash fired: near things are lit by it, so this is not the light the film will see")
        case.doubt(FLASH_SIGMA)
    if (rendered := case.number("CustomRendered")) and rendered >= 2:
        case.warnings.append(
            "a composite or specially rendered picture (HDR, night or portrait mode): tones were moved"
        )
        case.doubt(COMPOSITE_SIGMA)
    elif (case.number("CompositeImage") or 0) >= 2:
        case.warnings.append("a composite of several frames: its exposure time is not that of one frame")
        case.doubt(COMPOSITE_SIGMA)
    if case.number("SceneCaptureType") == 3:
        case.warnings.append("taken in a night-scene mode: tones may have been lifted")
        case.doubt(COMPOSITE_SIGMA)
    if (zoom := case.number("DigitalZoomRatio") or 0) > 1.01:
        case.warnings.append(f"digital zoom {zoom:.2g}x: angles follow the 35 mm equivalent that the file states")
    _warn_of_editing(case)
    if 0 < (case.number("FocalLength") or 0) < SHORTEST_SYSTEM_FOCAL_MM and f_number > 16:
        case.warnings.append(f"f/{f_number:g} is not an aperture of so short a lens: check it, or give --aperture")
    if time_s > 30.5:
        case.warnings.append(f"an exposure of {time_text(time_s)} is unusual: check it, or give --time")
    taken = case.text("DateTimeOriginal") or case.text("DateTime")
    if taken.startswith(("0000", "1970:01:01", "1980:01:01", "2000:01:01 00", "2002:12:08")):
        case.warnings.append(f"the camera's clock was not set ({taken}): do not trust the date")


def _warn_of_editing(case: _Case) -> None:
    software, tool = case.text("Software"), case.text("ProcessingSoftware")
    width, stored = case.number("ExifImageWidth") or 0, case.number("StoredWidth") or 0
    height, stored_height = case.number("ExifImageLength") or 0, case.number("StoredHeight") or 0
    sizes = {width, height}, {stored, stored_height}
    if tool or _EDITORS.search(software):
        case.warnings.append(f"went through other software ({tool or software}): tones may have been changed")
        case.doubt(EDITED_SIGMA)
        return
    taken, saved = case.text("DateTimeOriginal"), case.text("DateTime")
    if taken[:10] and saved[:10] > taken[:10]:
        day = saved[:10].replace(":", "-")
        case.warnings.append(f"saved again on {day}, after it was taken: tones may have been changed")
        case.doubt(SAVED_AGAIN_SIGMA)
    if width and stored and sizes[0] != sizes[1]:
        case.warnings.append(
            f"{width:.0f} x {height:.0f} in its EXIF but {stored:.0f} x {stored_height:.0f} here: scaled or cropped, "
            "so spot sizes may be off"
        )


def _compare_brightness(case: _Case, f_number: float, time_s: float, iso: float) -> None:
    recorded = case.number("BrightnessValue")
    if recorded is None or not -20 < recorded < 20:
        return
    implied = brightness_value(f_number, time_s, iso) + (case.number("ExposureBiasValue") or 0.0)
    apart = recorded - implied
    if abs(apart) > BRIGHTNESS_DISAGREES_STOPS:
        case.warnings.append(
            f"records a brightness {abs(apart):.1f} EV {'above' if apart > 0 else 'below'} what its exposure implies "
            f"({recorded:.1f}, {implied:.1f}): not used"
        )
