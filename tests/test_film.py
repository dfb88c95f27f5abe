"""Films: their index, their curves by name, and that the stated reasons for the default curves are true."""

from pathlib import Path

import pytest

from meter.errors import BadInput
from meter.film import Film
from meter.shelf.reader import Shelf

SHELF = Shelf(config=Path(__file__).parent / "no such folder")


def test_a_film_is_metered_at_its_speed_unless_named_for_another_index():
    assert SHELF.film("fp4-plus").ei_default == 125
    assert (SHELF.film("delta-3200").speed_iso, SHELF.film("delta-3200").ei_default) == (1000, 3200)


def test_curves_are_found_by_name_and_the_default_without():
    film = SHELF.film("tri-x-400")

    assert film.curve("sheet").name == "sheet"
    assert film.curve() is film.curve("measured")


def test_an_unknown_curve_names_the_ones_there_are():
    with pytest.raises(BadInput, match="Tri-X 400 has no reciprocity curve 'guess'; its curves: sheet, measured, book"):
        SHELF.film("tri-x-400").curve("guess")


def test_a_film_without_figures_has_no_curve_and_says_so_when_asked_for_one():
    film = Film("net-loft", "Net Loft", 100, "negative", "bw")

    assert film.curve() is None
    with pytest.raises(BadInput, match="its curves: none"):
        film.curve("sheet")


def less_than_default(film: str, other: str, metered_s: float) -> float:
    """Stops by which another curve asks for less than the default one."""
    found = SHELF.film(film)
    return found.curve().stops(metered_s) - found.curve(other).stops(metered_s)


@pytest.mark.parametrize(
    ("film", "other", "metered_s", "stops"),
    [  # what default_reason of each film states, in tenths
        ("delta-100", "measured", 10, 0.6),
        ("delta-100", "measured", 100, 0.9),
        ("hp5-plus", "measured", 10, 0.5),
        ("hp5-plus", "measured", 100, 0.6),
        ("t-max-400", "measured", 10, 0.3),
        ("t-max-400", "measured", 100, 0.5),
        ("fp4-plus", "older-sheet", 10, -0.8),
        ("tri-x-400", "sheet", 10, -1.6),
    ],
)
def test_reasons_state_differences_that_are_so(film, other, metered_s, stops):
    assert less_than_default(film, other, metered_s) == pytest.approx(stops, abs=0.05)


@pytest.mark.parametrize(
    ("film", "other", "times_s", "within"),
    [
        ("tri-x-400", "book", (2, 5, 10, 30, 60, 120), 1 / 3),
        ("t-max-100", "measured", (2, 5, 10, 30, 60, 100), 0.3),
        ("t-max-100", "book", (2, 5, 10, 30, 60, 100), 0.3),
        ("velvia-50", "field", (4, 8, 16, 32), 0.25),
    ],
)
def test_reasons_state_agreements_that_are_so(film, other, times_s, within):
    assert max(abs(less_than_default(film, other, t)) for t in times_s) <= within


def test_on_reversal_film_the_default_is_never_the_curve_that_gives_more():
    # Reversal film loses highlights to overexposure (common practice, memory); within a quarter of a stop they agree.
    for film in map(SHELF.film, SHELF.film_names()):
        if film.kind == "reversal":
            covered = [t for t in (1, 4, 16, 32, 128, 500) if not film.curve().extrapolated(t)]
            assert covered
            for curve in film.curves:
                assert all(film.curve().stops(t) <= curve.stops(t) + 0.25 for t in covered)


def test_every_reversal_film_notes_its_latitude():
    for film in map(SHELF.film, SHELF.film_names()):
        assert (film.kind == "reversal") == any("bracket" in note for note in film.notes if "Reversal" in note)
