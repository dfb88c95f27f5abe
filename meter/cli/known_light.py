"""How known light is written: [PHOTO:][X,Y[,DEGREES]=]LIGHT, for stopgap calibrate offset --known."""

import re

from meter.errors import BadInput
from meter.jobs.calibrate_offset import Known
from meter.jobs.meter_photo import DEFAULT_SPOT_DEGREES

_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_WHOLE = re.compile(rf"(?:(\d+):)?(?:({_NUMBER}(?:,{_NUMBER}){{1,2}})=)?(.+)")
_LIGHTS = (
    ("meter", re.compile(rf"ev({_NUMBER})(?:,k=?({_NUMBER}))?")),
    ("luminance", re.compile(rf"({_NUMBER})cd(?:/m(?:2|²|\^2))?")),
    ("illuminance", re.compile(rf"({_NUMBER})(k?)(?:lx|lux)(?:@({_NUMBER})%)?")),
    ("sun", re.compile(rf"sun@({_NUMBER})(?:deg|°)?(?:,({_NUMBER})%)?(,facing)?")),
    ("guide", re.compile(r"guide:(.+)")),
)
GRAMMAR = (
    "X,Y=EV12.3 by a trusted meter (EV12.3,K=14 where its constant is known), X,Y=4000cd, X,Y=12000lx@18% on a card, "
    "X,Y=sun@41deg,18% on a card lying flat in full sun (sun@41deg,18%,facing if held square to it), or "
    "guide:open-shade for the whole frame; a photo's number before it where there are several, 2:0.5,0.5=EV12"
)


def read_known(text: str) -> Known:
    """Raises BadInput for what is not written as GRAMMAR says."""
    found = _WHOLE.fullmatch(re.sub(r"\s+", "", text.lower()))
    photo, place, light = found.groups() if found else (None, None, "")
    known = _light(light)
    if known is None or (place is None and known["kind"] != "guide"):
        raise BadInput(f"'{text}' does not say what is known: write {GRAMMAR}")
    return Known(text.strip(), photo=int(photo) if photo else None, spot=_spot(text, place), **known)


def _spot(text: str, place: str | None) -> tuple[float, float, float] | None:
    if place is None:
        return None
    x, y, degrees = (*map(float, place.split(",")), DEFAULT_SPOT_DEGREES)[:3]
    if not (0 <= x <= 1 and 0 <= y <= 1 and 0.1 <= degrees <= 60):
        raise BadInput(f"'{text}': x and y run from 0 (left, top) to 1, a spot from 0.1 to 60 degrees")
    return x, y, degrees


def _light(light: str) -> dict | None:
    """What Known needs of a light, None where it is none."""
    for kind, pattern in _LIGHTS:
        if found := pattern.fullmatch(light):
            return {"kind": kind} | _PARTS[kind](*found.groups())
    return None


def _share(percent: str | None) -> dict:
    return {"reflectance": float(percent) / 100} if percent else {}


_PARTS = {
    "meter": lambda ev, k: {"value": float(ev), "k": float(k) if k else None},
    "luminance": lambda luminance: {"value": float(luminance)},
    "illuminance": lambda lux, kilo, percent: {"value": float(lux) * (1000 if kilo else 1)} | _share(percent),
    "sun": lambda degrees, percent, facing: {"value": float(degrees), "facing": bool(facing)} | _share(percent),
    "guide": lambda row: {"row": row},
}
