"""Names as people type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter.errors import ShelfError
from meter.shelf import names

FILMS = {"hp5-plus": ("HP5 Plus",), "tri-x-400": ("400TX",), "iso-100": (), "iso-1600": (), "portra-160": (),
         "portra-400": (), "neopan-acros": (), "neopan-acros-ii": ()}  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "slug"),
    [
        ("hp5-plus", "hp5-plus"),
        ("HP5 Plus", "hp5-plus"),
        ("hp5plus", "hp5-plus"),
        ("  Hp5 ", "hp5-plus"),
        ("trix", "tri-x-400"),
        ("Tri-X", "tri-x-400"),
        ("400 tx", "tri-x-400"),
        ("ISO100", "iso-100"),
        ("Neopan Acros", "neopan-acros"),  # the whole name of one, though another begins with it
        ("160", "portra-160"),
    ],
)
def test_case_spaces_and_punctuation_do_not_count(typed, slug):
    assert names.find(typed, FILMS, "film") == slug


@pytest.mark.parametrize("typed", ["iso 16", "iso 10", "h", "plu", "", "  ", "-", "portra 1600"])
def test_a_piece_of_a_word_or_number_is_no_name(typed):
    assert names.find(typed, FILMS, "film") is None


def test_a_name_that_fits_several_is_refused_with_them():
    with pytest.raises(ShelfError, match="film 'portra' could be portra-160, portra-400: say which"):
        names.find("portra", FILMS, "film")


@pytest.mark.parametrize("typed", ["hp5 pluss", "hp6"])
def test_an_unknown_name_gets_a_likely_one_and_where_all_are(typed):
    error = names.unknown(typed, FILMS, "film")

    assert str(error) == f"film '{typed}' is not on the shelf; did you mean hp5-plus? see stopgap film list"


def test_what_no_command_lists_is_named_up_to_six():
    rows = {f"lamp-{n}": () for n in range(20)} | {"full-sun": ("Typical scene", "sunny")}
    said = str(names.unknown("sunny 16", rows, "daylight row"))

    assert said.startswith("daylight row 'sunny 16' is not on the shelf; did you mean full-sun? the nearest of 21 are ")
    assert said.count("lamp-") == 5


def test_an_empty_shelf_says_so():
    assert str(names.unknown("zzz", {}, "kit")) == "kit 'zzz' is not on the shelf; there are none"


def test_numbers_sort_as_numbers():
    assert sorted(["iso-1600", "iso-100", "hp5"], key=names.sorting_key) == ["hp5", "iso-100", "iso-1600"]


@given(st.text(alphabet="hp5PLUS plus-4ß²Ⅳ.", max_size=20))
def test_any_text_is_a_name_or_not(typed):
    assert names.compact(names.compact(typed)) == names.compact(typed)
    try:
        assert names.find(typed, FILMS, "film") in {None, *FILMS}
    except ShelfError as error:
        assert "say which" in str(error)
