"""From options to an order: whose exposure index counts, and what is on the lens."""

from pathlib import Path

import pytest

from meter.jobs.find_settings import find_settings
from meter.jobs.load_order import Wish, load_order
from meter.shelf import reader


@pytest.fixture
def shelf(tmp_path):
    """A shelf whose kit names its film as people say it and rates it at its own index."""
    text = (Path(reader.__file__).parent / "kits/breakwater.toml").read_text("utf-8")
    (tmp_path / "kits").mkdir()
    text = text.replace('film = "hp5-plus"', 'film = "HP5 Plus"\nei = 250')
    (tmp_path / "kits/tug.toml").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(("film", "ei"), [(None, 250), ("hp5-plus", 250), ("hp5", 250), ("fp4-plus", 125)])
def test_the_kits_index_is_for_its_film_by_whatever_name(shelf, film, ei):
    assert load_order(Wish(kit="tug", film=film, shelf_dir=shelf)).ei == ei


def test_the_answer_names_the_filters_and_the_focus():
    wish = Wish(filters=("Yellow 8", "polarizer"), focus_m=3.0)
    answer = find_settings(wish, 14.0, None).answer

    assert answer["filters"] == ["yellow-8", "polariser"]
    assert answer["focus"]["focus_m"] == 3.0
    assert find_settings(Wish(), 14.0, None).answer["filters"] == []
