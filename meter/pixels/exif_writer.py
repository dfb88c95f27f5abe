"""Write standard EXIF into a JPEG or TIFF without touching its pixels: the coded image data is copied byte for byte.

The EXIF block of a JPEG is itself a small TIFF, so one library (tifftools) edits both; a JPEG is then put together from
its own segments around the new block. What was written is read back and compared before the caller may use it.
Markers and tag numbers: ITU-T T.81 and Exif 2.32 (memory), checked against exiftool and exiv2 in the tests.
"""

import hashlib
import io
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import tifftools
from tifftools import Datatype

from meter.errors import MeterError, PhotoError

EXIF_IFD = 34665
INTEROPERABILITY = 40965
POINTERS = (EXIF_IFD, 34853, INTEROPERABILITY)  # to the Exif, GPS and Interoperability directories: standard type LONG
_SHORT, _RATIONAL, _ASCII, _UNDEFINED = (
    int(t) for t in (Datatype.SHORT, Datatype.RATIONAL, Datatype.ASCII, Datatype.UNDEFINED)
)
TAGS = {  # what can be written, all in the Exif directory: name: number, type
    "ExposureTime": (33434, _RATIONAL),
    "FNumber": (33437, _RATIONAL),
    "ExposureProgram": (34850, _SHORT),
    "PhotographicSensitivity": (34855, _SHORT),
    "ExifVersion": (36864, _UNDEFINED),
    "DateTimeOriginal": (36867, _ASCII),
    "DateTimeDigitized": (36868, _ASCII),
    "OffsetTimeOriginal": (36881, _ASCII),
    "SubjectDistance": (37382, _RATIONAL),
    "FocalLength": (37386, _RATIONAL),
    "UserComment": (37510, _UNDEFINED),
    "FocalLengthIn35mmFilm": (41989, _SHORT),
}
ABOUT_THE_EXPOSURE = {  # what the digitising camera wrote of its own exposure would contradict the frame's
    33434: "ExposureTime", 33437: "FNumber", 34850: "ExposureProgram", 34855: "PhotographicSensitivity",
    34864: "SensitivityType", 34865: "StandardOutputSensitivity", 34866: "RecommendedExposureIndex", 34867: "ISOSpeed",
    37377: "ShutterSpeedValue", 37378: "ApertureValue", 37379: "BrightnessValue", 37380: "ExposureBiasValue",
    37381: "MaxApertureValue", 37382: "SubjectDistance", 37383: "MeteringMode", 37384: "LightSource", 37385: "Flash",
    37386: "FocalLength", 41986: "ExposureMode", 41988: "DigitalZoomRatio", 41989: "FocalLengthIn35mmFilm",
    41996: "SubjectDistanceRange", 42034: "LensSpecification", 42035: "LensMake", 42036: "LensModel",
}  # fmt: skip
MAKER_NOTE = 37500
LARGEST_SEGMENT = 65533  # bytes in one JPEG segment, its length field aside
MOST_STEPS = 20_000  # a file that sends the reader to and fro more often than this runs in a circle
_EXIF_HEAD = b"Exif\x00\x00"


@dataclass(frozen=True)
class Written:
    """What had to give way in a file: tags of the digitising camera that were replaced or removed, and remarks."""

    gave_way: tuple[str, ...]
    notes: tuple[str, ...]


class _Walked(io.BufferedReader):
    """A file that refuses to be walked in circles: a damaged one may name the same directory again and again."""

    steps = 0

    def seek(self, *place) -> int:
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise tifftools.TifftoolsError("its directories run in a circle")
        return super().seek(*place)


def write_exif(source: Path, target: Path, values: Mapping[str, object]) -> Written:
    """Copy a JPEG or TIFF to `target` with these EXIF values in place of what it said of its exposure.

    values: names of TAGS to numbers (rationals as Fraction or float), text, or for UserComment text. target: is
    overwritten; write to a temporary file. Raises PhotoError for a file that is neither or is damaged, MeterError when
    what was written does not read back the same.
    """
    try:
        with source.open("rb") as file:
            head = file.read(4)
        if head[:3] == b"\xff\xd8\xff":
            return _write_jpeg(source, target, values)
        if head in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
            return _write_tiff(source, target, values)
    except (tifftools.TifftoolsError, struct.error, KeyError, IndexError, RecursionError, ValueError) as error:
        raise PhotoError(f"{source} cannot be rewritten safely and was left as it is: {error}") from error
    raise PhotoError(f"{source} is neither JPEG nor TIFF: export the scan as one of them")


def _write_tiff(source: Path, target: Path, values: Mapping[str, object]) -> Written:
    with _Walked(io.FileIO(source)) as file:
        info = _read(file)
        if not info["ifds"]:
            raise PhotoError(f"{source} holds no picture: is the file complete?")
        before = _fingerprint(file, info)
        written = _change(info, values)
        kept = _tag_values(info)
        file.steps = -(2**62)  # copying strips seeks as often as it likes
        with target.open("wb+") as out:
            tifftools.write_tiff(info, out)
            _standard_pointers(out)
    with _Walked(io.FileIO(target)) as file:
        again = _read(file)
        _compare(source, (before, kept), (_fingerprint(file, again), _tag_values(again)))
    return written


def _write_jpeg(source: Path, target: Path, values: Mapping[str, object]) -> Written:
    data = source.read_bytes()
    start, end, block = _exif_place(data)
    if block is None:
        info = {"ifds": [{"tags": {}}], "bigEndian": True, "bigtiff": False}
        before = ()
    else:
        with _Walked(io.BytesIO(block)) as file:
            info = _read(file)
            before = _fingerprint(file, info)
    info["ifds"] = info["ifds"] or [{"tags": {}}]
    # tifftools reads the old block again while it writes, so it gets an open stream of its own.
    for ifd in _directories(info["ifds"]):
        ifd["path_or_fobj"] = io.BytesIO(block or b"")
    written = _change(info, values)
    kept = _tag_values(info)
    out = io.BytesIO()
    tifftools.write_tiff(info, out)
    _standard_pointers(out)
    with _Walked(io.BytesIO(out.getvalue())) as file:
        again = _read(file)
        _compare(source, (before, kept), (_fingerprint(file, again), _tag_values(again)))
    segment = _EXIF_HEAD + out.getvalue()
    if len(segment) > LARGEST_SEGMENT:
        raise PhotoError(f"{source}: its EXIF block with the frame's data exceeds what a JPEG segment holds (64 KiB)")
    whole = data[:start] + b"\xff\xe1" + struct.pack(">H", len(segment) + 2) + segment + data[end:]
    target.write_bytes(whole)
    return written


def _exif_place(data: bytes) -> tuple[int, int, bytes | None]:
    """Where the Exif segment of a JPEG starts and ends, and the TIFF block in it; where one belongs if it has none."""
    at, insert = 2, 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker in (0xDA, 0xD9):
            return insert, insert, None
        (length,) = struct.unpack(">H", data[at + 2 : at + 4])
        end = at + 2 + length
        if length < 2 or end > len(data):
            break
        if marker == 0xE1 and data[at + 4 : at + 10] == _EXIF_HEAD:
            return at, end, data[at + 10 : end]
        if marker == 0xE0 and at == insert:  # JFIF readers want their own segment first
            insert = end
        at = end
    raise ValueError(f"its JPEG segments end in nothing at byte {at}")


def _read(file: _Walked) -> dict:
    info = tifftools.read_tiff(file)
    _read_interoperability(file, info)
    for ifd in _directories(info["ifds"]):
        if len(ifd["tags"]) != ifd["tagcount"]:
            raise ValueError(f"its directory at byte {ifd['offset']} names a tag twice or in an unknown type")
        if any("data" not in tag for tag in ifd["tags"].values()):
            raise ValueError(f"its directory at byte {ifd['offset']} points outside the file")
    return info


def _read_interoperability(file, info: dict) -> None:
    """Read the directory that tifftools takes for a number; leave it out where it points at nothing."""
    for ifd in list(_directories(info["ifds"])):
        pointer = ifd["tags"].get(INTEROPERABILITY)
        if pointer is None or "data" not in pointer or "ifds" in pointer:
            continue
        inner: list = []
        tifftools.tifftools.read_ifd(file, info, pointer["data"][0], inner, None)
        sound = (
            inner
            and inner[0]["tagcount"] == len(inner[0]["tags"])
            and all("data" in tag for tag in inner[0]["tags"].values())
        )
        if sound:
            ifd["tags"][INTEROPERABILITY] = pointer | {"datatype": int(Datatype.IFD), "ifds": [inner]}
        else:
            del ifd["tags"][INTEROPERABILITY]
            ifd["tagcount"] -= 1


def _directories(ifds: list) -> Iterator[dict]:
    """Every directory of a file, those inside tags included."""
    for ifd in ifds:
        yield ifd
        for tag in ifd["tags"].values():
            for inner in tag.get("ifds", ()):
                yield from _directories(inner)


def _change(info: dict, values: Mapping[str, object]) -> Written:
    """Put the values into the Exif directory, made if need be, in place of what was said of the exposure."""
    main = info["ifds"][0]["tags"]
    if not main.get(EXIF_IFD, {}).get("ifds"):
        source = {key: info["ifds"][0][key] for key in ("path_or_fobj", "size") if key in info["ifds"][0]}
        main[EXIF_IFD] = {"ifds": [[{"tags": {}, **source}]]}
    tags = main[EXIF_IFD]["ifds"][0][0]["tags"]
    notes = ()
    if MAKER_NOTE in tags:
        notes = ("its maker note was copied as it is; offsets inside may no longer hold",)
    gave_way = tuple(name for number, name in ABOUT_THE_EXPOSURE.items() if tags.pop(number, None) is not None)
    _keep_date(tags, TAGS["DateTimeOriginal"][0], TAGS["DateTimeDigitized"][0])
    if TAGS["ExifVersion"][0] not in tags:
        tags[TAGS["ExifVersion"][0]] = {"datatype": _UNDEFINED, "data": b"0232"}
    for name, value in values.items():
        number, datatype = TAGS[name]
        tags[number] = {"datatype": datatype, "data": _encoded(value, datatype, info["bigEndian"])}
    return Written(gave_way, notes)


def _keep_date(tags: dict, original: int, digitized: int) -> None:
    """The date that a digitising camera gave as the original one is when the film was digitised."""
    if original in tags and digitized not in tags:
        tags[digitized] = tags[original]


def _encoded(value, datatype: int, big_endian: bool):
    if datatype == _RATIONAL:
        part = Fraction(value).limit_denominator(1_000_000)
        return [part.numerator, part.denominator]
    if datatype == _SHORT:
        return [min(max(round(value), 0), 65535)]
    if datatype == _ASCII:
        return str(value)
    text = str(value)
    if text.isascii():
        return b"ASCII\x00\x00\x00" + text.encode("ascii")
    return b"UNICODE\x00" + text.encode("utf-16-be" if big_endian else "utf-16-le")


def _standard_pointers(out) -> None:
    """Give the pointers to the Exif, GPS and Interoperability directories the type that Exif asks for."""
    out.seek(0)
    info = tifftools.read_tiff(out)
    kind, back = (Datatype.LONG8, 10) if info["bigtiff"] else (Datatype.LONG, 6)
    for ifd in _directories(info["ifds"]):
        for number in set(POINTERS) & set(ifd["tags"]):
            out.seek(ifd["tags"][number]["datapos"] - back)
            out.write(struct.pack(info["endianPack"] + "H", int(kind)))


def _offset_tags(ifd: dict) -> Iterator[tuple[int, list, list]]:
    """The tags of a directory that point at data: number, offsets, byte counts."""
    for number, tag in ifd["tags"].items():
        known = tifftools.constants.get_or_create_tag(number, tifftools.Tag)
        if known.isOffsetData() and isinstance(known.bytecounts, str):
            counts = ifd["tags"].get(int(tifftools.Tag[known.bytecounts]))
            yield number, tag["data"], counts["data"] if counts else []


def _fingerprint(file: _Walked, info: dict) -> tuple[str, ...]:
    """A digest of the coded image data that each directory points at."""
    found = []
    for ifd in _directories(info["ifds"]):
        for number, offsets, counts in _offset_tags(ifd):
            digest = hashlib.sha256()
            for offset, count in zip(offsets, counts, strict=True):
                io.BufferedReader.seek(file, offset)
                data = file.read(count)
                if len(data) < count:
                    raise ValueError("its image data is cut off")
                digest.update(data)
            found.append(f"{number}:{sum(counts)}:{digest.hexdigest()}")
    return tuple(found)


def _tag_values(info: dict) -> list[dict[int, object]]:
    """The values of each directory's tags, those that are places in the file left out."""
    places = {number for number in POINTERS} | {273, 288, 324, 330, 513}
    return [
        {number: _plain(tag) for number, tag in ifd["tags"].items() if number not in places and "ifds" not in tag}
        for ifd in _directories(info["ifds"])
    ]


def _plain(tag: dict):
    data = tag["data"]
    return data.encode() if isinstance(data, str) else bytes(data).rstrip(b"\x00") if isinstance(data, bytes) else data


def _compare(source: Path, wanted: tuple, found: tuple) -> None:
    if wanted != found:
        raise MeterError(f"{source}: what was written does not read back the same; the file was left as it is")
