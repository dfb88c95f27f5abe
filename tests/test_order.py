"""Which exposure index counts: the one asked for, the kit's for its own film, the film's."""

from dataclasses import replace
from math import inf, nan

import pytest

from meter.camera import Back, Kit, Lens, shutter_from_marks
from meter.errors import BadInput
from meter.film import Film
from meter.order import index_for

FILM = Film("hp5-plus", "HP5 Plus", 400, "negative", "bw", also=("HP5+",))
OTHER = Film("fp4-plus", "FP4 Plus", 125, "negative", "bw", ei=80)
KIT = Kit("k", "k", Lens(90, (3.5, 5.6)), shutter_from_marks([1.0], {}), Back("6x7", 70, 56, 10), "hp5-plus", 200)


@pytest.mark.parametrize("named", ["hp5-plus", "HP5 Plus", "hp5 plus", "HP5PLUS"])
def test_the_kits_index_holds_for_its_film_however_it_is_named(named):
    assert index_for(replace(KIT, film=named), FILM) == 200


def test_another_film_has_its_own_index_and_asking_wins():
    assert index_for(KIT, OTHER) == 80
    assert index_for(replace(KIT, film=None), FILM) == 400
    assert index_for(replace(KIT, ei=None), FILM) == 400
    assert index_for(KIT, FILM, 320) == 320


@pytest.mark.parametrize("ei", [0, -100, 1e308, inf, nan])
def test_an_index_nobody_can_mean_is_refused(ei):
    with pytest.raises(BadInput, match=r"an exposure index from 0\.1 to 1 000 000"):
        index_for(KIT, FILM, ei)
