"""Filters and close-ups in stops: pairs in print, the factor table of a film's sheet, laws."""

import tomllib
from math import inf, log2
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meter import factors
from meter.errors import BadInput
from meter.factors import Filter
from meter.shelf.reader import Shelf

HERE = Path(__file__).parent
FILTERS = tomllib.loads((HERE / "published" / "filters.toml").read_text("utf-8"))
CLOSE_UPS = tomllib.loads((HERE / "published" / "closeup.toml").read_text("utf-8"))["row"]
SHELF = Shelf(config=HERE / "no such folder")
LIGHTS = ("daylight", "tungsten")
SIXTH = 1 / 6  # sheets print whole thirds of a stop [stops]


@pytest.mark.parametrize("row", FILTERS["pair"], ids=lambda row: f"{row['factor']:g}")
def test_factor_and_stops_are_the_printed_pair(row):
    stops = factors.stops_from_factor(row["factor"])

    assert stops == pytest.approx(factors.read_stops(row["stops"]), abs=SIXTH)
    assert factors.factor_from_stops(stops) == pytest.approx(row["factor"])


@pytest.mark.parametrize("film", ["t-max-100", "t-max-400"])
@pytest.mark.parametrize("row", FILTERS["sheet"]["row"], ids=lambda row: row["filter"])
def test_filters_of_a_film_cost_what_its_sheet_says(film, row):
    one = SHELF.filters(SHELF.film(film))[row["filter"]]

    for light in LIGHTS:
        assert one.stops(light) == pytest.approx(factors.read_stops(row[f"{light}_stops"]))
        if row.get("consistent", True):
            assert one.stops(light) == pytest.approx(log2(row[f"{light}_factor"]), abs=SIXTH)


def test_the_polariser_of_that_sheet_contradicts_itself():
    row = next(row for row in FILTERS["sheet"]["row"] if row["filter"] == "polariser")

    assert factors.read_stops(row["daylight_stops"]) - log2(row["daylight_factor"]) > SIXTH


@pytest.mark.parametrize("row", FILTERS["general"], ids=lambda row: row["filter"])
def test_general_filters_cost_their_usual_factor(row):
    one = SHELF.filters()[row["filter"]]

    assert one.evidence == row["evidence"]
    for light in LIGHTS:
        assert one.stops(light) == pytest.approx(log2(row[f"{light}_factor"]), abs=SIXTH)


def test_yellow_to_red_cost_less_in_tungsten_light_and_blue_more():
    # jukolart.us, filter-factors (secondary)
    general = SHELF.filters()
    for slug in ("yellow-8", "deep-yellow-15", "orange-21", "red-25", "red-29"):
        assert general[slug].stops("tungsten") < general[slug].stops("daylight")
    assert general["blue-47"].stops("tungsten") > general["blue-47"].stops("daylight")


@pytest.mark.parametrize("row", FILTERS["density"], ids=lambda row: f"{row['density']:g}")
def test_density_in_stops(row):
    assert factors.neutral_density_stops(row["density"]) == pytest.approx(row["stops"], abs=row["last_digit"] / 2)


def test_every_neutral_density_passes_what_its_name_says():
    for slug, one in SHELF.filters().items():
        if slug.startswith("nd-"):
            # Names of densities are rounded by up to 2.4 % (ND 64 is 10^1.8 = 63.1).
            assert factors.factor_from_stops(one.stops()) == pytest.approx(int(slug.removeprefix("nd-")), rel=0.024)


@pytest.mark.parametrize("row", CLOSE_UPS, ids=lambda row: f"{row['magnification']:.3g} {row['evidence']}")
def test_close_up_costs_what_is_printed(row):
    assert factors.close_up_stops(row["magnification"]) == pytest.approx(row["stops"], abs=row["last_digit"] / 2)


@given(st.floats(0, 20), st.floats(10, 500))
def test_close_up_is_the_square_of_image_distance_over_focal_length(magnification, focal_mm):
    # Factor (v/f)², v = f + extension; reference section 11.
    extension_mm = magnification * focal_mm
    image_mm = focal_mm + extension_mm

    found = factors.close_up_stops(factors.magnification_from_extension(extension_mm, focal_mm))

    assert found == pytest.approx(log2((image_mm / focal_mm) ** 2), abs=1e-9)


def test_a_large_exit_pupil_makes_a_close_up_cost_less():
    assert factors.close_up_stops(1.0, pupil_ratio=2.0) == pytest.approx(2 * log2(1.5))


@given(st.lists(st.floats(1, 1000), max_size=4))
def test_stacked_filters_multiply_their_factors(given_factors):
    stack = [Filter("f", "F", log2(f), log2(f), "test", "computed") for f in given_factors]
    product = 1.0
    for factor in given_factors:
        product *= factor

    assert factors.stacked_stops(stack) == pytest.approx(log2(product), abs=1e-9)


def test_stops_are_read_as_written():
    assert [factors.read_stops(text) for text in ("2/3", "1 2/3", "0.5", 2)] == pytest.approx([2 / 3, 5 / 3, 0.5, 2.0])


@pytest.mark.parametrize("text", ["", "a lot", "1/0", "nan", "inf", "1 2/3 x", None, True, [1], float("nan"), inf])
def test_unreadable_stops_are_refused(text):
    with pytest.raises(BadInput, match="is not a number of stops"):
        factors.read_stops(text)


def test_a_missing_figure_or_unknown_light_is_one_sentence():
    amber = Filter("amber", "Amber", 1.0, None, "test", "computed")

    with pytest.raises(BadInput, match="filter amber has no figure for tungsten"):
        factors.stacked_stops([amber], "tungsten")
    with pytest.raises(BadInput, match="light 'moon' is not known; it is daylight or tungsten"):
        amber.stops("moon")


@pytest.mark.parametrize(
    "call",
    [
        lambda: factors.stops_from_factor(0.9),
        lambda: factors.stops_from_factor(inf),
        lambda: factors.factor_from_stops(-1),
        lambda: factors.neutral_density_stops(float("nan")),
        lambda: factors.close_up_stops(-0.1),
        lambda: factors.close_up_stops(1, 0),
        lambda: factors.magnification_from_extension(10, 0),
        lambda: factors.magnification_from_extension(-1, 90),
    ],
)
def test_impossible_numbers_are_refused(call):
    with pytest.raises(BadInput, match="must"):
        call()
