"""Files in, pixels and EXIF out; and every way in which a file can disappoint."""

import io
import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from meter.errors import PhotoError
from meter.pixels.decode import COLORANTS_D50, color_space, jpeg_is_complete, open_photo, read_tags, upright
from tests.conftest import CHECKOUT
from tests.photos import PHONE, RAMP, write_jpeg


def test_orientation_turns_as_the_standard_says():
    """Exif 2.3 tag 0x0112: where row 0 and column 0 of the stored picture belong; checked against Pillow."""
    stored = np.arange(6, dtype=np.uint8).reshape(2, 3)
    methods = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}  # EXIF orientation: Pillow's transpose method
    assert (upright(stored, 1) == stored).all()
    for orientation, method in methods.items():
        turned = np.asarray(Image.fromarray(stored).transpose(Image.Transpose(method)))
        assert (upright(stored, orientation) == turned).all(), orientation


def test_a_jpeg_comes_in_with_its_tags(tmp_path):
    path = write_jpeg(
        tmp_path / "a.jpg",
        tags={"ExposureTime": 1 / 125, "FNumber": 1.8, "PhotographicSensitivity": 64, "Orientation": 6},
    )
    photo = open_photo(path)
    assert photo.pixels.shape == (64, 256, 3)
    assert photo.tags["ExposureTime"] == pytest.approx(1 / 125)
    assert photo.tags["PhotographicSensitivity"] == 64
    assert photo.orientation == 6
    assert photo.space == "srgb"


def test_a_large_jpeg_comes_in_at_half_size_unless_asked(tmp_path):
    path = write_jpeg(tmp_path / "a.jpg", np.zeros((2000, 2500, 3), np.uint8))
    assert open_photo(path).pixels.shape == (1000, 1250, 3)
    assert open_photo(path, full_size=True).pixels.shape == (2000, 2500, 3)
    assert open_photo(path).full_size == (2500, 2000)


@pytest.mark.parametrize(
    ("kind", "dtype"), [("png", np.uint8), ("png", np.uint16), ("tiff", np.uint8), ("tiff", np.uint16)]
)
def test_png_and_tiff_of_8_and_16_bits(tmp_path, kind, dtype):
    rgb = np.random.default_rng(1).integers(0, np.iinfo(dtype).max, (8, 9, 3)).astype(dtype)
    path = tmp_path / f"a.{kind}"
    cv2.imwrite(str(path), rgb[:, :, ::-1])
    pixels = open_photo(path).pixels
    assert pixels.dtype == dtype
    assert (pixels[:, :, ::-1] == rgb).all()


def test_heic_is_not_turned_by_its_exif(tmp_path):
    """HEIF turns pictures by properties of its own (irot, imir), which the decoder applies; EXIF only repeats them
    (ISO/IEC 23008-12, memory). A file without such a property stays as it is stored."""
    from pillow_heif import register_heif_opener

    register_heif_opener()
    rgb = np.zeros((64, 128, 3), np.uint8)
    rgb[:, :64] = 200
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(rgb).save(tmp_path / "a.heic", "HEIF", exif=exif, quality=-1)
    photo = open_photo(tmp_path / "a.heic")
    assert photo.orientation == 1
    assert photo.pixels.shape == (64, 128, 3)
    assert photo.pixels[:, :60].mean() > 190 > 10 > photo.pixels[:, 68:].mean()


@pytest.mark.parametrize("space", ["srgb", "display-p3", "adobe-rgb"])
def test_profile_colorants_against_a_library(space):
    """Chromatic adaptation of the primaries to D50 by colour-science 0.4.7 (Bradford, as ICC profiles use)."""
    colour = pytest.importorskip("colour")
    spaces = {"srgb": "sRGB", "display-p3": "Display P3", "adobe-rgb": "Adobe RGB (1998)"}
    rgb = colour.RGB_COLOURSPACES[spaces[space]]
    d65, d50 = (colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name] for name in ("D65", "D50"))
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(d65), colour.xy_to_XYZ(d50), transform="Bradford"
    )
    computed = (adapt @ rgb.matrix_RGB_to_XYZ).T
    assert np.allclose(computed, COLORANTS_D50[space], atol=0.0015)


def test_a_real_srgb_profile_is_recognised():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert color_space(profile) == ("srgb", ())
    assert color_space(None) == ("srgb", ())
    space, doubts = color_space(b"nonsense")
    assert space == "srgb"
    assert "cannot be read" in doubts[0]


def broken_files(folder: Path) -> dict[str, Path]:
    whole = write_jpeg(folder / "whole.jpg", np.random.default_rng(2).integers(0, 255, (300, 300, 3)).astype(np.uint8))
    files = {
        "does not exist": folder / "missing.jpg",
        "is a folder": folder,
        "is empty": folder / "empty.jpg",
        "is not a photo we can read": folder / "text.jpg",
        "breaks off before its end": folder / "half.jpg",
        "is stored as CMYK": write_jpeg(folder / "cmyk.jpg", mode="CMYK"),
        "megapixels: refused": folder / "bomb.png",
        "is a GIF picture": folder / "a.gif",
    }
    files["is empty"].write_bytes(b"")
    files["is not a photo we can read"].write_text("Low water 06:12, high water 12:31\n" * 20)
    data = whole.read_bytes()
    files["breaks off before its end"].write_bytes(data[: len(data) // 2])
    Image.fromarray(RAMP).save(files["is a GIF picture"])
    files["megapixels: refused"].write_bytes(png_header(30_000, 30_000))
    return files


def png_header(width: int, height: int) -> bytes:
    """A PNG whose header claims a size, and nothing behind it."""
    import struct
    import zlib

    body = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunk = struct.pack(">I", 13) + body + struct.pack(">I", zlib.crc32(body))
    return b"\x89PNG\r\n\x1a\n" + chunk + struct.pack(">I", 0) + b"IDAT" + struct.pack(">I", zlib.crc32(b"IDAT"))


def test_what_cannot_be_read_is_said_in_one_sentence(tmp_path):
    for words, path in broken_files(tmp_path).items():
        with pytest.raises(PhotoError, match=words) as caught:
            open_photo(path)
        assert "\n" not in str(caught.value)
        assert str(path) in str(caught.value)


def test_a_jpeg_with_something_appended_is_complete(tmp_path):
    data = write_jpeg(tmp_path / "a.jpg").read_bytes()
    assert jpeg_is_complete(data)
    assert jpeg_is_complete(data + b"a short film follows" * 100)
    assert not jpeg_is_complete(data[:-2])
    assert not jpeg_is_complete(b"\xff\xd8")


def test_without_exif_there_are_no_tags():
    buffer = io.BytesIO()
    Image.fromarray(RAMP).save(buffer, "JPEG")
    assert read_tags(buffer.getvalue()) == {}


EXIFTOOL_NAMES = {
    "FNumber": "FNumber", "ExposureTime": "ExposureTime", "PhotographicSensitivity": "ISO",
    "ExposureBiasValue": "ExposureCompensation", "BrightnessValue": "BrightnessValue", "Flash": "Flash",
    "FocalLength": "FocalLength", "FocalLengthIn35mmFilm": "FocalLengthIn35mmFormat", "Orientation": "Orientation",
    "MeteringMode": "MeteringMode", "ShutterSpeedValue": "ShutterSpeedValue", "ApertureValue": "ApertureValue",
}  # fmt: skip


def test_metadata_of_real_photos_against_an_independent_reader(real_photos):
    """Every photo's tags against exiftool (general-purpose metadata reader), skipped where it is not installed."""
    import json
    import shutil

    if shutil.which("exiftool") is None:
        pytest.skip("exiftool is not installed (Debian: libimage-exiftool-perl)")
    files = sorted(file for file in real_photos.glob("*/*") if file.suffix.lower() in (".jpg", ".heic"))
    command = ["exiftool", "-json", "-n", "-EXIF:all", "-Composite:all-", *map(str, files)]
    listed = json.loads(subprocess.run(command, capture_output=True, check=False).stdout)
    compared = 0
    for file, theirs in zip(files, listed, strict=True):
        ours = read_tags(file.read_bytes())
        for name, their_name in EXIFTOOL_NAMES.items():
            if name in ours and isinstance(theirs.get(their_name), (int, float)):
                expected = theirs[their_name]
                if name == "ShutterSpeedValue":
                    expected, got = np.log2(1 / expected), ours[name]
                elif name == "ApertureValue":
                    expected, got = 2 * np.log2(expected), ours[name]
                else:
                    got = ours[name]
                assert got == pytest.approx(expected, rel=1e-3, abs=1e-3), (file.name, name)
                compared += 1
    assert compared > 100


def test_a_missing_system_library_is_named(tmp_path):
    """A stand-in for an OpenCV that finds no libGL, as on a minimal Linux."""
    (tmp_path / "cv2.py").write_text("raise ImportError('libGL.so.1: cannot open shared object file')")
    photo = write_jpeg(tmp_path / "quay.jpg", tags=PHONE)
    command = [sys.executable, "-m", "meter", "read", str(photo)]
    environment = os.environ | {"PYTHONPATH": f"{tmp_path}{os.pathsep}{CHECKOUT}"}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, cwd=tmp_path, check=False)
    assert done.returncode == 2, done.stderr
    assert "install libgl1" in done.stderr
    assert "Traceback" not in done.stderr
