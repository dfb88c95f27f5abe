"""How a snapshot was exposed, from a mapping alone: fallbacks, doubts, warnings."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import PhotoError
from meter.exif import Given, understand

PHONE = {"FNumber": 1.8, "ExposureTime": 1 / 1848, "PhotographicSensitivity": 50.0, "FocalLength": 4.2,
         "FocalLengthIn35mmFilm": 26.0}  # fmt: skip
SYSTEM = {"FNumber": 11.0, "ExposureTime": 1 / 125, "PhotographicSensitivity": 100.0, "FocalLength": 50.0,
          "FocalLengthIn35mmFilm": 75.0}  # fmt: skip


def test_a_phones_values_are_left_alone():
    snapshot = understand(PHONE)
    assert (snapshot.f_number, snapshot.time_s, snapshot.iso, snapshot.sigma) == (1.8, 1 / 1848, 50, 0)
    assert snapshot.found == ()


def test_a_system_cameras_nominal_values_are_made_exact():
    snapshot = understand(SYSTEM)
    assert (snapshot.f_number, snapshot.time_s) == (pytest.approx(2**3.5), 1 / 128)
    assert "1/125" in snapshot.found[0]


def test_a_value_given_by_hand_leaves_the_others_to_be_restored():
    snapshot = understand(SYSTEM, Given(time_s=1 / 125))
    assert (snapshot.f_number, snapshot.time_s) == (pytest.approx(2**3.5), 1 / 125)


def test_control_codes_do_not_reach_a_terminal():
    snapshot = understand(PHONE | {"Make": "\x1b]0;gone\x07Harbour\x1b[31m"})
    assert snapshot.make.isprintable()
    assert "Harbour" in snapshot.make


def test_doubt_goes_into_sigma():
    unknown = {"FNumber": 8.0, "ExposureTime": 1 / 60, "PhotographicSensitivity": 100.0}
    snapshot = understand(unknown)
    assert snapshot.time_s == 1 / 60
    # Half the 0.093 stop between 1/60 and 1/64: the truth is one or the other.
    assert snapshot.sigma == pytest.approx(log2(64 / 60) / 2)


def test_apex_where_the_plain_tags_are_missing():
    """Av 5, Tv 7 are f/5.6 and 1/125: Exif annex C (memory), exact values."""
    snapshot = understand({"ApertureValue": 5.0, "ShutterSpeedValue": 7.0, "PhotographicSensitivity": 100.0})
    assert (snapshot.f_number, snapshot.time_s) == (pytest.approx(2**2.5), 1 / 128)
    assert len(snapshot.found) == 2


@pytest.mark.parametrize(
    ("tags", "iso"),
    [
        ({"PhotographicSensitivity": 65535.0, "SensitivityType": 3.0, "ISOSpeed": 102400.0}, 102400),
        ({"SensitivityType": 2.0, "RecommendedExposureIndex": 640.0}, 640),
        ({"SensitivityType": 4.0, "StandardOutputSensitivity": 500.0, "RecommendedExposureIndex": 640.0}, 500),
        ({"ISOSpeedRatings": 80.0}, 80),
        ({"MakerNoteISO": 125.0}, 125),
        ({"PhotographicSensitivity": 0.0, "MakerNoteISO": 125.0}, 125),
    ],
)
def test_iso_is_found_where_it_is(tags, iso):
    snapshot = understand({"FNumber": 1.8, "ExposureTime": 0.01, "FocalLength": 4.0} | tags)
    assert snapshot.iso == iso
    assert any("ISO from" in line for line in snapshot.found)


def test_the_users_values_fill_in_and_win():
    snapshot = understand({}, Given(1.8, 0.01, 100), "harbour.jpg")
    assert (snapshot.f_number, snapshot.time_s, snapshot.iso) == (1.8, 0.01, 100)
    assert understand(PHONE, Given(iso=64)).iso == 64


def test_what_is_missing_is_named_with_its_option():
    with pytest.raises(PhotoError, match=r"harbour\.jpg does not say its exposure time \(--time\), ISO \(--iso\)"):
        understand({"FNumber": 2.0}, name="harbour.jpg")


@pytest.mark.parametrize(
    ("tags", "words"),
    [
        ({"Flash": 1.0}, "flash fired"),
        ({"CustomRendered": 3.0}, "composite"),
        ({"CompositeImage": 3.0}, "several frames"),
        ({"SceneCaptureType": 3.0}, "night-scene"),
        ({"DigitalZoomRatio": 2.0}, "digital zoom 2x"),
        ({"Software": "Photo Improver 3"}, "other software"),
        ({"ExifImageWidth": 4000.0, "ExifImageLength": 3000.0, "StoredWidth": 800.0, "StoredHeight": 600.0}, "scaled"),
        ({"DateTimeOriginal": "2000:01:01 00:00:00"}, "clock was not set"),
        ({"FNumber": 45.0, "ExposureTime": 1 / 60}, "not an aperture"),
        ({"ExposureTime": 59.0, "PhotographicSensitivity": 3200.0}, "unusual"),
        ({"FNumber": 0.0, "ApertureValue": 1.7}, "cannot be"),
        ({"FocalLengthIn35mmFilm": 65535.0}, "cannot be"),
        ({"DateTimeOriginal": "2026:05:01 10:00:00", "DateTime": "2026:07:02 08:00:00"}, "saved again on 2026-07-02"),
    ],
)
def test_oddities_are_warned_about(tags, words):
    assert any(words in warning for warning in understand(PHONE | tags).warnings)


@pytest.mark.parametrize("tag", ["Flash", "CustomRendered", "Software"])
def test_doubtful_tones_widen_sigma(tag):
    odd = {"Flash": 9.0, "CustomRendered": 3.0, "Software": "some editor"}[tag]
    assert understand(PHONE | {tag: odd}).sigma > 0.2


def test_brightness_that_disagrees_is_reported_not_used():
    """One published photo: Av 2.526, Tv 4.5918, ISO 1250, Bv -0.2005, which its settings put at -1.526
    (exchangetuts.com 1641448623977678; the difference of 1.33 computed)."""
    tags = {"ApertureValue": 2.526, "ShutterSpeedValue": 4.5918, "PhotographicSensitivity": 1250.0,
            "BrightnessValue": -0.2005, "FocalLength": 4.1}  # fmt: skip
    (warning,) = understand(tags).warnings
    assert "1.3 EV above" in warning
    assert "(-0.2, -1.5)" in warning


def test_brightness_that_agrees_says_nothing():
    bv = 2 * log2(1.8) + log2(1848) - log2(50 / 3.125)
    assert understand(PHONE | {"BrightnessValue": bv}).warnings == ()
    assert understand(PHONE | {"BrightnessValue": bv + 1, "ExposureBiasValue": 1.0}).warnings == ()


def test_impossible_exposures_are_refused():
    with pytest.raises(PhotoError, match="no scene is lit like"):
        understand({"FNumber": 64.0, "ExposureTime": 1e-6, "PhotographicSensitivity": 3.0})


values = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True), st.text(max_size=5), st.none(), st.tuples(st.floats(), st.floats()),
    st.just(()),
)  # fmt: skip
names = st.sampled_from(
    [
        *PHONE,
        "ApertureValue",
        "ShutterSpeedValue",
        "SensitivityType",
        "Orientation",
        "Flash",
        "BrightnessValue",
        "DateTimeOriginal",
        "MeteringMode",
        "CustomRendered",
        "ExifImageWidth",
    ]
)


@given(st.dictionaries(names, values))
def test_any_mapping_gives_a_snapshot_or_a_sentence(tags):
    try:
        snapshot = understand(tags)
    except PhotoError as error:
        assert "--" in str(error)
    else:
        assert snapshot.f_number > 0
        assert 1 <= snapshot.orientation <= 8
