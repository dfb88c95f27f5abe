"""From a file to pixels and EXIF values: the one door through which photos come in.

JPEG goes through OpenCV (half size where that is enough), PNG and TIFF through OpenCV whole, HEIC through pillow-heif.
Pillow reads headers and colour profiles. Raw files and gain maps will come in here.
"""

import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np

from meter.errors import PhotoError

MAX_BYTES = 500_000_000
MAX_PIXELS = 250_000_000  # the largest phone sensors have 200 megapixels; a header that claims more is a trap
HALF_SIZE_FROM_PIXELS = 4_000_000  # a JPEG this large is decoded at half its width and height
EXIFREAD_NAMES = {"ISOSpeedRatings": "PhotographicSensitivity"}  # exifread's old name of tag 0x8827


def load_opencv():
    """Import OpenCV, or say in one sentence which system package it misses."""
    try:
        import cv2
    except ImportError as error:
        missing = "libgl1 (Debian, Ubuntu) or mesa-libGL (Fedora)" if "libGL" in str(error) else "a system library"
        if "libgthread" in str(error) or "libglib" in str(error):
            missing = "libglib2.0-0 (Debian, Ubuntu) or glib2 (Fedora)"
        raise PhotoError(f"OpenCV cannot load ({error}): install {missing} and try again") from None
    return cv2


@dataclass(frozen=True)
class Photo:
    """A photo as it came off its sensor, not yet turned upright.

    pixels: ndarray (H, W, 3) uint8 or uint16, encoded, channels blue-green-red (OpenCV's order).
    tags: EXIF values by name, as meter/exif.py reads them. space: a key of LUMINANCE_WEIGHTS.
    full_size: (width, height) of the file's own pixels; pixels may hold half as many each way.
    orientation: 1-8, what it takes to turn pixels upright, 1 where the decoder has done so.
    """

    name: str
    pixels: np.ndarray
    tags: dict[str, object]
    space: str
    full_size: tuple[int, int]
    orientation: int
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Header:
    """What a photo's first bytes say, before any pixel is decoded. full_size: (width, height)."""

    kind: str
    mode: str
    full_size: tuple[int, int]
    space: str
    data: bytes = field(repr=False)
    warnings: tuple[str, ...] = ()


def read_bytes(path: Path) -> bytes:
    """The bytes of a photo. Raises PhotoError for what is not a readable, non-empty file of sensible size."""
    try:
        if path.is_dir():
            raise PhotoError(f"{path} is a folder: name the photos in it")
        size = path.stat().st_size
        if size == 0:
            raise PhotoError(f"{path} is empty: copy it again from the phone")
        if size > MAX_BYTES:
            raise PhotoError(f"{path} has {size / 1e6:.0f} MB; photos up to {MAX_BYTES / 1e6:.0f} MB are read")
        return path.read_bytes()
    except FileNotFoundError:
        raise PhotoError(f"{path} does not exist: check the name") from None
    except (OSError, ValueError) as error:
        raise PhotoError(f"{path} cannot be read ({getattr(error, 'strerror', None) or error})") from None


def read_header(path: Path) -> Header:
    """Kind, size and colour space of a photo. Raises PhotoError for anything that is not a photo of a kind we read."""
    data = read_bytes(path)
    from PIL import Image, UnidentifiedImageError

    if data[4:8] == b"ftyp":
        from pillow_heif import register_heif_opener

        register_heif_opener(thumbnails=False)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(data))
            kind, mode, size, profile = image.format, image.mode, image.size, image.info.get("icc_profile")
    except Image.DecompressionBombError:
        raise PhotoError(_too_large(path)) from None
    except UnidentifiedImageError:
        raise PhotoError(f"{path} is not a photo we can read: JPEG, HEIC, PNG and TIFF are") from None
    except Exception as error:  # a broken file may fail anywhere inside a decoder
        raise PhotoError(f"{path} is damaged ({_first_line(error)}): copy it again from the phone") from None
    if kind not in ("JPEG", "MPO", "PNG", "TIFF", "HEIF"):
        raise PhotoError(f"{path} is a {kind} picture: JPEG, HEIC, PNG and TIFF are read")
    if size[0] * size[1] > MAX_PIXELS:
        raise PhotoError(_too_large(path))
    if mode not in ("RGB", "RGBA", "L", "LA", "P", "I;16", "I;16B", "I"):
        raise PhotoError(f"{path} is stored as {mode}, not as red, green and blue: export it as an sRGB JPEG")
    space, doubts = color_space(profile)
    return Header("JPEG" if kind == "MPO" else kind, mode, size, space, data, doubts)


def _too_large(path: Path) -> str:
    return f"{path} claims more than {MAX_PIXELS / 1e6:.0f} megapixels: refused; if it is a real photo, scale it down"


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]


def color_space(profile: bytes | None) -> tuple[str, tuple[str, ...]]:
    """The key of LUMINANCE_WEIGHTS that an embedded ICC profile means, and a warning where it is none of them.

    Compares the profile's colorants (D50-adapted XYZ) with those of the spaces we know.
    """
    if not profile:
        return "srgb", ()
    from PIL import ImageCms

    try:
        icc = ImageCms.ImageCmsProfile(io.BytesIO(profile)).profile
        found = [xyz[0] for xyz in (icc.red_colorant, icc.green_colorant, icc.blue_colorant)]
    except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
        return "srgb", ("its colour profile cannot be read: taken as sRGB",)
    for name, colorants in COLORANTS_D50.items():
        if all(
            abs(a - b) < 0.01
            for got, known in zip(found, colorants, strict=True)
            for a, b in zip(got, known, strict=True)
        ):
            return name, ()
    return "srgb", ("its colour profile is none of sRGB, Display P3 and Adobe RGB: taken as sRGB",)


COLORANTS_D50 = {  # XYZ of the primaries adapted to D50 (Bradford), as ICC profiles store them; by colour-science
    "srgb": ((0.4361, 0.2225, 0.0139), (0.3851, 0.7169, 0.0971), (0.1431, 0.0606, 0.7141)),
    "display-p3": ((0.5151, 0.2412, -0.0011), (0.2919, 0.6922, 0.0419), (0.1572, 0.0666, 0.7841)),
    "adobe-rgb": ((0.6097, 0.3111, 0.0195), (0.2053, 0.6257, 0.0609), (0.1492, 0.0632, 0.7446)),
}


def read_tags(data: bytes) -> dict[str, object]:
    """EXIF values by name: numbers as float or tuple of float, text as str; {} where there are none, or broken ones."""
    import exifread

    tags: dict[str, object] = {}
    for details in (False, True):
        raw = _exifread_safely(partial(exifread.process_file, io.BytesIO(data), details=details))
        for key, tag in raw.items():
            section, _, name = key.partition(" ")
            if section in ("Image", "EXIF") and (value := _plain(getattr(tag, "values", None))) is not None:
                tags[EXIFREAD_NAMES.get(name, name)] = value
            elif section == "MakerNote" and name in ("ISO", "ISOSetting", "ISOSpeed", "ISOSpeedRequested"):
                value = _plain(getattr(tag, "values", None))
                number = value[-1] if isinstance(value, tuple) and value else value
                if isinstance(number, float) and 3 <= number <= 1e7:
                    tags.setdefault("MakerNoteISO", number)
        if "PhotographicSensitivity" in tags or not tags or not {"ExposureTime", "ShutterSpeedValue"} & set(tags):
            break  # the maker's note is slow to read and needed only where the ISO is missing
    return tags


def _exifread_safely(process: Callable[[], dict]) -> dict:
    import logging

    logging.getLogger("exifread").setLevel(logging.CRITICAL)
    try:
        return process() or {}
    except Exception:  # broken EXIF must not lose the picture: the caller says what is missing
        return {}


def _plain(values: object) -> object:
    """An exifread value as str, float or tuple of float; None where it is neither."""
    if isinstance(values, str):
        return values
    if not isinstance(values, (list, tuple)):
        return None
    numbers = []
    for value in values[:16]:
        try:
            numbers.append(float(value))
        except (TypeError, ValueError, ZeroDivisionError, OverflowError):
            return None
    if not numbers:
        return None
    return numbers[0] if len(numbers) == 1 else tuple(numbers)


def open_photo(path: Path, *, full_size: bool = False) -> Photo:
    """Decode a photo and read its EXIF.

    full_size: decode a large JPEG whole, where half size each way would serve a light map.
    Raises PhotoError with one sentence for anything that cannot be used.
    """
    header = read_header(path)
    tags = read_tags(header.data)
    pixels = _pixels_of(path, header, full_size)
    width, height = header.full_size
    tags |= {"StoredWidth": float(width), "StoredHeight": float(height)}
    turned_already = header.kind == "HEIF"
    return Photo(
        name=str(path),
        pixels=pixels,
        tags=tags,
        space=header.space,
        full_size=header.full_size,
        orientation=1 if turned_already else _orientation(tags),
        warnings=header.warnings,
    )


def _orientation(tags: dict[str, object]) -> int:
    value = tags.get("Orientation")
    return int(value) if isinstance(value, float) and 1 <= value <= 8 else 1


def _pixels_of(path: Path, header: Header, full_size: bool) -> np.ndarray:
    if header.kind == "HEIF":
        return _decode_heif(path, header.data)
    cv2 = load_opencv()
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_ANYDEPTH
    if header.kind == "JPEG":
        if not jpeg_is_complete(header.data):
            raise PhotoError(f"{path} breaks off before its end: copy it again from the phone")
        width, height = header.full_size
        half = not full_size and width * height >= HALF_SIZE_FROM_PIXELS
        flags = cv2.IMREAD_REDUCED_COLOR_2 if half else cv2.IMREAD_COLOR
    try:
        pixels = cv2.imdecode(np.frombuffer(header.data, np.uint8), flags | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error:
        pixels = None
    if pixels is None:
        raise PhotoError(f"{path} is damaged: its pixels cannot be decoded; copy it again from the phone")
    if pixels.dtype not in (np.uint8, np.uint16):
        raise PhotoError(f"{path} has {pixels.dtype} pixels: 8 and 16 bits a channel are read")
    return pixels


def jpeg_is_complete(data: bytes) -> bool:
    """Whether the entropy-coded data of a JPEG reaches its end marker (bytes after it, as phones append, are fine)."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xDA:
            return data.find(b"\xff\xd9", at) > 0
        at += 1 if marker == 0xFF else 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False


def _decode_heif(path: Path, data: bytes) -> np.ndarray:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rgb = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    except Exception as error:  # libheif reports damage in many ways
        raise PhotoError(f"{path} is damaged ({_first_line(error)}): copy it again from the phone") from None
    return np.ascontiguousarray(rgb[:, :, ::-1])


def upright(array: np.ndarray, orientation: int) -> np.ndarray:
    """An array (H, W[, C]) turned as EXIF orientation 1-8 asks; a view, never a copy. Source: Exif 2.3, tag 0x0112."""
    if orientation in (5, 6, 7, 8):
        array = array.swapaxes(0, 1)
    if orientation in (2, 3, 6, 7):
        array = array[:, ::-1]
    if orientation in (3, 4, 7, 8):
        array = array[::-1]
    return array
