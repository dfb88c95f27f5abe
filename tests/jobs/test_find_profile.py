"""Which profile goes with which camera and lens, and what becomes of one that is changed."""

from dataclasses import replace

import pytest

from meter.errors import BadInput, MeterError, ShelfError
from meter.falloff import Falloff
from meter.jobs.find_profile import Camera, open_profile, profile_for, same_lens
from meter.jobs.keep_profile import draft, keep, new_name, with_falloff, with_offset
from meter.response import DEFAULT_RESPONSE, Profile

SLATE = Camera("Harbour Works", "Slate 3", 26.0)


def profile(name: str, focal_35mm: float | None, make: str = "Harbour Works", model: str = "Slate 3") -> Profile:
    return Profile(name, make, model, DEFAULT_RESPONSE, focal_35mm)


def test_make_model_and_lens_must_fit():
    profiles = [profile("wide", 13), profile("main", 26.3), profile("other", 26, model="Slate 4")]
    assert profile_for(SLATE, profiles).name == "main"
    assert profile_for(replace(SLATE, focal_35mm=52), profiles) is None
    assert profile_for(replace(SLATE, make="HARBOUR WORKS "), profiles).name == "main"


def test_two_per_cent_is_the_same_lens():
    assert same_lens(26, 26.5) and not same_lens(26, 26.6) and not same_lens(26, None) and same_lens(None, None)


def test_one_for_any_lens_serves_where_none_is_for_this_one():
    profiles = [profile("any", None), profile("main", 26)]
    assert profile_for(SLATE, profiles).name == "main"
    assert profile_for(replace(SLATE, focal_35mm=None), profiles).name == "any"


def test_two_that_fit_alike_are_named():
    with pytest.raises(BadInput, match=r"several profiles fit Harbour Works Slate 3, 26 mm: a, b; say which"):
        profile_for(SLATE, [profile("a", 26), profile("b", 26)])


def test_a_new_profile_is_named_after_its_camera():
    assert new_name(SLATE) == "harbour-works-slate-3-26mm"
    assert new_name(Camera("Slate", "Slate 3", None)) == "slate-3"


def test_parts_are_added_one_by_one_and_all_are_kept(tmp_path):
    begun = draft(SLATE, shelf_dir=tmp_path)
    assert begun.begun and not begun.has_response and not begun.has_offset
    keep(with_offset(begun, 0.25, 0.1, "a card", None))
    again = draft(SLATE, shelf_dir=tmp_path)
    file = keep(with_falloff(again, Falloff(0.5, 0.5, -0.5, 0.1, 0.0, 0.05), "white paper", None))
    kept = open_profile(file)
    assert file == tmp_path / "profiles" / "harbour-works-slate-3-26mm.toml"
    assert (kept.profile.offset_stops, kept.profile.offset_sigma, kept.profile.falloff.k2) == (0.25, 0.1, -0.5)
    assert set(kept.origins) == {"response", "offset", "falloff"}


def test_the_profile_of_another_camera_is_not_changed(tmp_path):
    file = keep(with_offset(draft(SLATE, str(tmp_path / "mine.toml")), 0.25, 0.1, "a card", None))
    before = file.read_bytes()
    with pytest.raises(BadInput, match="is the profile of Harbour Works Slate 3, 26 mm, and these photos are from"):
        draft(replace(SLATE, focal_35mm=52), str(file))
    assert file.read_bytes() == before


def test_photos_that_name_no_camera_make_no_profile(tmp_path):
    with pytest.raises(BadInput, match="do not say which camera took them"):
        draft(Camera("", "", 26), shelf_dir=tmp_path)


def test_a_file_that_is_no_profile_is_named(tmp_path):
    broken = tmp_path / "broken.toml"
    for content in (b"\xff", b"format = ", b"x" * 1_000_001):
        broken.write_bytes(content)
        with pytest.raises(ShelfError, match=r"broken\.toml"):
            open_profile(broken)


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(MeterError, match="nothing was written"):
        keep(with_offset(draft(SLATE, str(tmp_path / "file" / "x.toml")), 0.1, 0.1, "a card", None))
