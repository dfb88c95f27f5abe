"""Write a simulated camera's JPEG, with the EXIF that such a camera writes."""

from fractions import Fraction
from io import BytesIO
from math import log2

import numpy as np
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from sample_scenes.autoexposure import Setting
from sample_scenes.card import Card

SUBSAMPLING = {"4:4:4": 0, "4:2:2": 1, "4:2:0": 2}  # Pillow's numbers
METERING_MODE = {"average": 1, "centre": 2, "pattern": 5}  # EXIF MeteringMode
SENSITIVITY_TAGS = {1: (0x8831,), 2: (0x8832,), 3: (0x8833,), 4: (0x8831, 0x8832)}  # by EXIF SensitivityType
FLASH_NOT_FIRED = 16  # EXIF Flash: did not fire, switched off
SRGB = 1  # EXIF ColorSpace
STORED_AS = {  # EXIF Orientation: how the stored pixels are made from the upright picture
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def encode(codes: np.ndarray, card: Card, setting: Setting, bias: float, brightness: float | None, taken: str) -> bytes:
    """The file: codes is uint8, (rows, columns, 3), RGB, upright; `taken` is EXIF's "YYYY:MM:DD HH:MM:SS"."""
    picture = Image.fromarray(codes)
    if card.output.orientation != 1:
        picture = picture.transpose(STORED_AS[card.output.orientation])
    exif = exif_for(card, setting, bias, brightness, taken)
    with BytesIO() as file:
        picture.save(
            file,
            "JPEG",
            quality=card.output.quality,
            subsampling=SUBSAMPLING[card.output.subsampling],
            exif=exif,
        )
        return file.getvalue()


def exif_for(card: Card, setting: Setting, bias: float, brightness: float | None, taken: str) -> Image.Exif:
    """The tags as stated by the camera: what is stated need not be what was."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = card.make
    exif[ExifTags.Base.Model] = card.model
    exif[ExifTags.Base.Orientation] = card.output.orientation
    exif[ExifTags.Base.DateTime] = taken
    tags = exif.get_ifd(ExifTags.IFD.Exif)
    tags[ExifTags.Base.ExifVersion] = b"0231"
    tags[ExifTags.Base.ExposureTime] = _time(setting.stated_time_s)
    tags[ExifTags.Base.FNumber] = _rational(card.lens.stated_f_number, 100)
    tags[ExifTags.Base.ExposureProgram] = 2  # normal programme
    tags[ExifTags.Base.ISOSpeedRatings] = setting.stated_iso  # 0x8827, PhotographicSensitivity
    tags[ExifTags.Base.SensitivityType] = card.output.sensitivity_type
    for tag in SENSITIVITY_TAGS.get(card.output.sensitivity_type, ()):
        tags[tag] = setting.stated_iso
    tags[ExifTags.Base.DateTimeOriginal] = taken
    tags[ExifTags.Base.ShutterSpeedValue] = _rational(-log2(setting.stated_time_s), 1000)
    tags[ExifTags.Base.ApertureValue] = _rational(2 * log2(card.lens.stated_f_number), 1000)
    if brightness is not None:
        tags[ExifTags.Base.BrightnessValue] = _rational(brightness, 1000)
    tags[ExifTags.Base.ExposureBiasValue] = _rational(bias, 30)
    tags[ExifTags.Base.MeteringMode] = METERING_MODE[card.exposure.metering]
    tags[ExifTags.Base.Flash] = FLASH_NOT_FIRED
    tags[ExifTags.Base.FocalLength] = _rational(card.lens.focal_mm, 100)
    tags[ExifTags.Base.FocalLengthIn35mmFilm] = round(card.lens.focal_35mm)
    tags[ExifTags.Base.ColorSpace] = SRGB
    tags[ExifTags.Base.ExposureMode] = 0  # automatic
    tags[ExifTags.Base.WhiteBalance] = 0  # automatic
    return exif


def _time(seconds: float) -> IFDRational:
    """1/n where that is what the time is, else tenths of a millisecond."""
    if abs(1 / seconds - round(1 / seconds)) < 1e-6 / seconds:
        return IFDRational(1, round(1 / seconds))
    return _rational(seconds, 10_000)


def _rational(value: float, denominator: int) -> IFDRational:
    nearest = Fraction(round(value * denominator), denominator)
    return IFDRational(nearest.numerator, nearest.denominator)
