"""EXIF goes into scans without touching a pixel; exiftool, exiv2 and exifread are the outside judges."""

import shutil
import struct
import subprocess
from fractions import Fraction
from pathlib import Path

import exifread
import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from meter.errors import MeterError, PhotoError
from meter.pixels.exif_writer import write_exif

FRAME = {
    "ExposureTime": Fraction(1, 125), "FNumber": 13.0, "ExposureProgram": 1, "PhotographicSensitivity": 200,
    "DateTimeOriginal": "2026:05:01 10:00:00", "OffsetTimeOriginal": "+02:00", "FocalLength": 90,
    "FocalLengthIn35mmFilm": 43.4, "SubjectDistance": 3.05, "UserComment": "quay wall on III½",
}  # fmt: skip
GPS_IFD, INTEROPERABILITY = 0x8825, 0xA005


def noise(shape, dtype=np.uint8) -> np.ndarray:
    return np.random.default_rng(5).integers(0, np.iinfo(dtype).max, shape, dtype)


def jpeg(path: Path, **options) -> Path:
    Image.fromarray(noise((40, 60, 3))).save(path, quality=90, **options)
    return path


def digitised_jpeg(path: Path) -> Path:
    """What a camera that photographs negatives writes: its own exposure, place, thumbnail-free."""
    exif = Image.Exif()
    exif[0x010F] = "Tide"
    exif[0x0112] = 1
    inner = exif.get_ifd(0x8769)
    inner |= {0x829A: 0.5, 0x829D: 8.0, 0x9209: 16, 0x9003: "2026:06:01 09:00:00", 0xA434: "copy lens"}
    exif.get_ifd(GPS_IFD)[1] = "N"
    inner[INTEROPERABILITY] = {1: "R03"}
    return jpeg(path, exif=exif)


PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
TIFFS = {
    "plain": dict(photometric="rgb"),
    "deflate-strips": dict(photometric="rgb", compression="zlib", rowsperstrip=7, predictor=True),
    "big-endian": dict(photometric="rgb", byteorder=">"),
    "big-tiled": dict(photometric="rgb", bigtiff=True, tile=(16, 16)),
    "described": dict(
        photometric="rgb", metadata=None, description="harbour, roll 3", iccprofile=PROFILE, resolution=(3200, 3200)
    ),
}


@pytest.fixture(params=TIFFS)
def tiff(request, tmp_path) -> Path:
    path = tmp_path / f"{request.param}.tif"
    tifffile.imwrite(path, noise((40, 60, 3), np.uint16), **TIFFS[request.param])
    return path


def read_tags(path: Path) -> dict[str, str]:
    with path.open("rb") as file:
        return {name: str(tag) for name, tag in exifread.process_file(file, details=False).items()}


def coded_image(data: bytes) -> bytes:
    """Everything from the first quantisation table on: the coded picture of a JPEG."""
    return data[data.index(b"\xff\xdb") :]


def test_a_jpeg_keeps_its_coded_picture_byte_for_byte(tmp_path):
    source, target = jpeg(tmp_path / "a.jpg"), tmp_path / "b.jpg"
    original = source.read_bytes()
    written = write_exif(source, target, FRAME)

    assert written.gave_way == ()
    assert source.read_bytes() == original
    assert coded_image(target.read_bytes()) == coded_image(original)
    tags = read_tags(target)
    assert (tags["EXIF ExposureTime"], tags["EXIF FNumber"], tags["EXIF ISOSpeedRatings"]) == ("1/125", "13", "200")
    assert tags["EXIF DateTimeOriginal"] == "2026:05:01 10:00:00"


def test_what_the_digitising_camera_said_of_its_exposure_gives_way_and_the_rest_stays(tmp_path):
    source, target = digitised_jpeg(tmp_path / "a.jpg"), tmp_path / "b.jpg"
    written = write_exif(source, target, FRAME)
    tags = read_tags(target)

    assert set(written.gave_way) == {"ExposureTime", "FNumber", "Flash", "LensModel"}
    assert not {"EXIF Flash", "EXIF LensModel"} & set(tags)
    assert tags["Image Make"] == "Tide" and tags["GPS GPSLatitudeRef"] == "N"
    assert tags["EXIF DateTimeDigitized"] == "2026:06:01 09:00:00"  # its date becomes that of the digitising
    with Image.open(target) as picture:
        assert picture.getexif().get_ifd(INTEROPERABILITY)[1] == "R03"
    assert coded_image(target.read_bytes()) == coded_image(source.read_bytes())


def test_writing_twice_is_writing_once(tmp_path):
    first, second = tmp_path / "1.jpg", tmp_path / "2.jpg"
    write_exif(digitised_jpeg(tmp_path / "a.jpg"), first, FRAME)
    write_exif(first, second, FRAME)

    assert second.read_bytes() == first.read_bytes()


def test_a_tiff_keeps_its_pixels_and_its_other_tags(tiff, tmp_path):
    target = tmp_path / "out.tif"
    write_exif(tiff, target, FRAME)

    assert np.array_equal(tifffile.imread(target), tifffile.imread(tiff))
    with tifffile.TiffFile(tiff) as before, tifffile.TiffFile(target) as after:
        places = {273, 324, 34665}
        kept = {tag.code: tag.value for tag in before.pages[0].tags if tag.code not in places}
        assert {tag.code: tag.value for tag in after.pages[0].tags if tag.code not in places} == kept
        assert after.byteorder == before.byteorder and after.is_bigtiff == before.is_bigtiff
        exif = after.pages[0].tags["ExifTag"].value
    assert exif["ExposureTime"] == (1, 125) and exif["FNumber"] == (13, 1)


def test_every_page_of_a_tiff_comes_along(tmp_path):
    source, target = tmp_path / "a.tif", tmp_path / "b.tif"
    with tifffile.TiffWriter(source) as file:
        for seed in range(3):
            file.write(np.random.default_rng(seed).integers(0, 255, (20, 30), np.uint8))
    write_exif(source, target, FRAME)

    pages = [tifffile.imread(path, key=range(3)) for path in (source, target)]
    assert np.array_equal(*pages)


@pytest.mark.skipif(not shutil.which("exiftool"), reason="exiftool is not installed (libimage-exiftool-perl)")
@pytest.mark.parametrize("kind", ["jpeg", "digitised", *TIFFS])
def test_exiftool_reads_every_value_and_warns_of_nothing(kind, tmp_path):
    source, target = (
        a_scan(kind, tmp_path),
        tmp_path / f"out-{kind}{'.jpg' if kind in ('jpeg', 'digitised') else '.tif'}",
    )
    write_exif(source, target, FRAME)
    names = ("ExposureTime", "FNumber", "ISO", "ExposureProgram", "DateTimeOriginal", "OffsetTimeOriginal",
             "FocalLength",
             "FocalLengthIn35mmFormat", "SubjectDistance", "UserComment", "Warning", "Error")  # fmt: skip
    command = ["exiftool", "-s3", "-f", *(f"-{name}" for name in names), str(target)]
    answer = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()

    assert answer == ["1/125", "13.0", "200", "Manual", "2026:05:01 10:00:00", "+02:00", "90.0 mm", "43 mm", "3.05 m",
                      "quay wall on III½", "-", "-"]  # fmt: skip


@pytest.mark.skipif(not shutil.which("exiv2"), reason="exiv2 is not installed")
@pytest.mark.parametrize("kind", ["jpeg", "digitised", "plain", "deflate-strips", "big-endian", "described"])
def test_exiv2_reads_the_exposure(kind, tmp_path):  # it knows no BigTIFF
    source, target = a_scan(kind, tmp_path), tmp_path / "out"
    write_exif(source, target, FRAME)
    command = ["exiv2", "-Pv", "-K", "Exif.Photo.ExposureTime", "-K", "Exif.Photo.FNumber", str(target)]
    answer = subprocess.run(command, capture_output=True, text=True, check=True)

    assert answer.stdout.split() == ["1/125", "13/1"]
    assert answer.stderr == ""


def a_scan(kind: str, folder: Path) -> Path:
    if kind in ("jpeg", "digitised"):
        return (jpeg if kind == "jpeg" else digitised_jpeg)(folder / "a.jpg")
    path = folder / "a.tif"
    tifffile.imwrite(path, noise((40, 60, 3), np.uint16), **TIFFS[kind])
    return path


def test_real_photographs_keep_their_pixels(real_photos, tmp_path):
    for source in sorted([*real_photos.glob("jpeg/*.jpg"), *real_photos.glob("odd/*.jpg")]):
        target = tmp_path / source.name
        write_exif(source, target, FRAME)
        with Image.open(source) as before, Image.open(target) as after:
            assert np.array_equal(np.asarray(before), np.asarray(after)), source.name
        assert read_tags(target)["EXIF ExposureTime"] == "1/125", source.name


def self_referring_tiff(at: str) -> bytes:
    """A TIFF whose directory names itself: as the next one, or as a directory within."""
    if at == "next":
        return b"II*\x00" + struct.pack("<LHHHLLL", 8, 1, 256, 3, 1, 4, 8)
    return b"II*\x00" + struct.pack("<LHHHLLL", 8, 1, 330, 4, 1, 8, 0)


@pytest.mark.parametrize(
    "content",
    [
        b"\xff\xd8\xff", b"\xff\xd8\xff\xe1\x00\x01", b"\xff\xd8\xff\xe1\xff\xffExif",
        b"II*\x00", b"II*\x00\xff\xff\xff\x7f",
        b"MM\x00*\x00\x00\x00\x08\xff\xff", b"II*\x00\x00\x00\x00\x00", b"", b"GIF89a", self_referring_tiff("next"),
        self_referring_tiff("within"),
    ],
)  # fmt: skip
def test_damaged_and_foreign_files_are_refused(content, tmp_path):
    source = tmp_path / "a.tif"
    source.write_bytes(content)
    with pytest.raises(PhotoError, match=r"cannot be rewritten safely|is neither JPEG nor TIFF|holds no picture"):
        write_exif(source, tmp_path / "b.tif", FRAME)
    assert source.read_bytes() == content


def test_a_tiff_that_names_a_tag_twice_is_refused_rather_than_robbed_of_one(tmp_path):
    source = tmp_path / "a.tif"
    tifffile.imwrite(source, noise((20, 30)), description="one description, and the writer adds its own")
    with pytest.raises(PhotoError, match="names a tag twice or in an unknown type"):
        write_exif(source, tmp_path / "b.tif", FRAME)


def test_a_cut_off_tiff_is_refused(tmp_path):
    source = tmp_path / "a.tif"
    tifffile.imwrite(source, noise((40, 60, 3), np.uint16), photometric="rgb")
    source.write_bytes(source.read_bytes()[:-500])
    with pytest.raises(PhotoError, match=r"image data is cut off|outside the file"):
        write_exif(source, tmp_path / "b.tif", FRAME)


@pytest.fixture(scope="module")
def whole_files(tmp_path_factory) -> list[bytes]:
    folder = tmp_path_factory.mktemp("whole")
    tifffile.imwrite(folder / "a.tif", noise((20, 30)), photometric="minisblack")
    return [digitised_jpeg(folder / "a.jpg").read_bytes(), (folder / "a.tif").read_bytes()]


@given(data=st.data())
def test_a_mutated_file_is_either_written_whole_or_refused(data, whole_files, tmp_path_factory):
    content = bytearray(data.draw(st.sampled_from(whole_files)))
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, min(len(content) - 1, 400)))] = data.draw(st.integers(0, 255))
    folder = tmp_path_factory.mktemp("mutated")
    source, target = folder / "a", folder / "b"
    source.write_bytes(content)
    try:
        write_exif(source, target, FRAME)
    except MeterError:
        pass
    else:
        assert target.stat().st_size > 0
    assert source.read_bytes() == content
