"""The checkers: each mistake in a file is named; shipped files have none; no data at all gives anything else."""

import copy
import tomllib
from math import inf, nan
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import meter.shelf
from meter.shelf import entries, faults
from meter.shelf.checks import EVIDENCE

SHIPPED = Path(meter.shelf.__file__).parent
CHECKS = {
    "films": (faults.film_faults, lambda data: entries.film_from("x", data)),
    "kits": (faults.kit_faults, lambda data: entries.kit_from("x", data)),
    "filters": (faults.filters_faults, lambda data: None),
    "subjects": (faults.subjects_faults, lambda data: None),
    "daylight": (faults.daylight_faults, lambda data: None),
}
FILES = sorted(SHIPPED.glob("**/*.toml"))


def part_of(file: Path) -> str:
    return file.parent.name if file.parent != SHIPPED else file.stem


def load(file: Path) -> dict:
    return tomllib.loads(file.read_text("utf-8"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_shipped_files_have_no_faults(file):
    assert list(CHECKS[part_of(file)][0](load(file))) == []


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_shipped_files_name_no_maker(file):
    text = file.read_text("utf-8").casefold()

    assert not [
        maker for maker in ("kod" + "ak", "ilf" + "ord", "fuj" + "i", "agf" + "a", "har" + "man") if maker in text
    ]


FILM = {
    "format": 1, "name": "Net Loft 100", "speed_iso": 100, "kind": "negative", "process": "bw", "source": "the box",
    "evidence": "published", "default_curve": "mine",
    "curve": [
        {"name": "mine", "model": "table", "begins_s": 1, "source": "tests", "evidence": "measured",
         "rows": [{"metered_s": 10, "corrected_s": 20}, {"metered_s": 100, "opened_stops": "1 1/2"}]},
    ],
}  # fmt: skip
KIT = load(SHIPPED / "kits" / "harbour-light.toml")
ROWS = ("curve", 0, "rows")


def changed(data: dict, *path_and_value) -> dict:
    """A copy with one value replaced; `...` takes the key away."""
    data = copy.deepcopy(data)
    *path, last, value = path_and_value
    place = data
    for step in path:
        place = place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return data


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("format", 2), "format: 1, the format that this version reads, is needed, got 2"),
        (("format", True), "format: 1, the format that this version reads, is needed, got True"),
        (("speed_iso", 0), "speed_iso: a whole number from 1 to 12800 is needed, got 0"),
        (("speed_iso", "fast"), "speed_iso: a whole number from 1 to 12800 is needed, got 'fast'"),
        (("speed_iso", 100.5), "speed_iso: a whole number from 1 to 12800 is needed, got 100.5"),
        (("speed_iso", nan), "speed_iso: a whole number from 1 to 12800 is needed, got nan"),
        (("kind", "slide"), "kind: one of negative, reversal is needed, got 'slide'"),
        (("source", ...), "source: missing; a text is needed"),
        (("source", "  "), "source: a text is needed, got '  '"),
        (("evidence", "hearsay"), f"evidence: one of {', '.join(EVIDENCE)} is needed, got 'hearsay'"),
        (("speed", 100), "speed: not a key of this table; its keys are format, name, speed_iso"),
        (("default_curve", "yours"), "default_curve: 'yours' is not a curve of this film; it has mine"),
        (("curve", 0, "model", "magic"), "curve[0].model: one of power, extra, table, log_stops, none is needed"),
        (("curve", 0, "evidence", ...), "curve[0].evidence: missing; one of published, secondary"),
        (("curve", 0, "exponent", 1.3), "curve[0].exponent: not a key of this table"),
        (("curve", 0, "begins_s", 11), "curve[0].begins_s: 11 s lies after the first row, 10 s"),
        ((*ROWS, []), "curve[0].rows: at least one row is needed"),
        ((*ROWS, 0, "metered_s", inf), "curve[0].rows[0].metered_s: a number from 0.0001 to 1e+07 is needed, got inf"),
        ((*ROWS, 0, "corrected_s", 9), "curve[0].rows[0]: corrected to less than metered, 9 s for 10 s"),
        ((*ROWS, 1, "metered_s", 10), "curve[0].rows[1]: both times must be longer than those of the row before"),
        ((*ROWS, 1, "opened_stops", "some"), 'curve[0].rows[1].opened_stops: stops from 0 to 30, as 0.5, "1/3" or'),
        ((*ROWS, 1, "evidence", "none"), "curve[0].rows[1].evidence: one of published"),
        (("filter", [{"slug": "a", "name": "A", "source": "s", "evidence": "memory"}]), "filter[0]: what it costs"),
        (("notes", "one"), "notes: a list of texts is needed, got 'one'"),
    ],
)
def test_a_mistake_in_a_film_is_named(change, says):
    found = list(faults.film_faults(changed(FILM, *change)))

    assert len(found) == 1
    assert found[0].startswith(says)


def test_the_only_curve_is_the_default():
    film = changed(FILM, "default_curve", ...)

    assert not list(faults.film_faults(film))
    assert entries.film_from("net-loft-100", film).curve().name == "mine"


def test_of_several_curves_one_must_be_the_default():
    curve = FILM["curve"][0]
    film = changed(FILM, "default_curve", ...) | {"curve": [curve, curve | {"name": "sheet"}], "default_reason": "why"}

    assert list(faults.film_faults(film)) == ["default_curve: say which of 'mine', 'sheet' is used when nobody chooses"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            ("lens", "marks", [2.8, 5.6, 4]),
            "lens.marks: a list of at least 2 ascending numbers from 0.5 to 512 is needed",
        ),
        (("lens", "marks", [8]), "lens.marks: a list of at least 2 ascending numbers"),
        (("lens", "iris", "quarter"), "lens.iris: one of continuous, whole, half, third is needed, got 'quarter'"),
        (("lens", "focal_length_mm", True), "lens.focal_length_mm: a number from 5 to 2000 is needed, got True"),
        (("lens", "depth_scale", 0, "near_m", 5), "lens.depth_scale[0]: focus_m must lie between near_m and far_m"),
        (("lens", "depth_scale", 0, "f_number", 45), "lens.depth_scale[0].f_number: f/45 lies outside the marks"),
        (
            ("lens", "depth_scale", 0, "far_m", nan),
            "lens.depth_scale[0].far_m: a distance in metres, or inf, is needed",
        ),
        (("lens", 90), "lens: a table is needed, got 90"),
        (("shutter", "marked", ["1/500", "soon"]), 'shutter.marked: a list of times as "1/125" is needed'),
        (("shutter", "bulb", "yes"), "shutter.bulb: true or false is needed, got 'yes'"),
        (("shutter", "measured", 0, "marked", "1/400"), "shutter.measured[0].marked: 0.0025 s is not among the marked"),
        (("shutter", "measured", 0, "open_s", 2.86), "shutter.measured[0].open_s: 2.86 s is 10.5 stops from its mark"),
        (("shutter", "measured", 0, "marked", "1/250"), "shutter.measured[1].marked: '1/250' is there twice"),
        (("shutter", "measured", 0, "source", ...), "shutter.measured[0].source: missing; a text is needed"),
        (("back", "frames", 0), "back.frames: a whole number from 1 to 100 is needed, got 0"),
        (("ei", 0), "ei: a number from 1 to 25600 is needed, got 0"),
    ],
)
def test_a_mistake_in_a_kit_is_named(change, says):
    found = list(faults.kit_faults(changed(KIT, *change)))

    assert found[0].startswith(says)
    assert len(found) == 1


def test_a_format_of_ones_own_needs_its_size_and_frames():
    found = list(faults.kit_faults(changed(KIT, "back", {"format": "5x7", "width_mm": 50})))

    assert [fault.partition(":")[0] for fault in found] == ["back.height_mm", "back.frames"]


def test_all_faults_are_said_at_once():
    broken = changed(changed(changed(FILM, "speed_iso", -1), "kind", ...), "curve", 0, "model", 3)

    assert {fault.partition(":")[0] for fault in faults.film_faults(broken)} == {
        "speed_iso",
        "kind",
        "curve[0].model",
    }


def test_two_curves_need_a_reason_and_two_names():
    twice = changed(FILM, "curve", [FILM["curve"][0], FILM["curve"][0]])

    assert [fault.partition(";")[0] for fault in faults.film_faults(twice)] == [
        "curve[1].name: 'mine' is there twice",
        "default_reason: missing",
    ]


def test_a_filter_cost_is_said_once():
    data = {"format": 1, "source": "rim", "evidence": "published", "filter": [
        {"slug": "amber", "name": "Amber", "density": 0.3, "daylight_factor": 2}]}  # fmt: skip

    found = list(faults.filters_faults(data))

    assert found == ["filter[0].density: daylight_factor and density say the same thing twice; keep one"]


@pytest.mark.parametrize(
    ("marks", "meant"),
    [
        ([4.5, 5, 6, 8, 11, 16], ["5.6"]),
        ([3, 5, 8, 11, 16], ["3.5"]),
        ([6, 3, 8, 11], ["6.3"]),
        ([4, 5, 5, 6, 8], ["5.6"]),
        ([8, 11, 12, 5], ["12.5"]),
    ],
)
def test_a_decimal_comma_in_the_marks_is_suspected(marks, meant):
    found = [fault for fault in faults.kit_faults(changed(KIT, "lens", "marks", marks)) if "comma" in fault]

    assert [fault.split(" meant, ")[0].split()[-1] for fault in found] == meant


@pytest.mark.parametrize(
    "marks",
    [
        [6.8, 8, 11, 16, 22, 32],
        [7.7, 11, 16, 22, 32, 45],
        [3.2, 4.5, 6.3, 9, 12.5, 18, 25, 36],
        [4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 22, 32],
        [1, 2, 4, 8, 16, 32],
        [4, 5, 8, 11, 16, 22, 32],
        [6, 8, 11, 16, 22, 32],
        [2, 3, 4, 8, 16, 32],
    ],
)
def test_marks_of_real_lenses_are_no_commas(marks):
    assert not list(faults.kit_faults(KIT | {"lens": KIT["lens"] | {"marks": marks, "depth_scale": []}}))


def test_entries_take_the_source_of_their_file_and_need_one():
    entry = {"slug": "tar", "name": "Tar", "zone": 2}

    assert list(faults.subjects_faults({"format": 1, "source": "s", "evidence": "memory", "subject": [entry]})) == []
    assert [fault.partition(":")[0] for fault in faults.subjects_faults({"format": 1, "subject": [entry]})] == [
        "subject[0].source",
        "subject[0].evidence",
    ]


@pytest.mark.parametrize("ev100", [[14, 12], [1], "bright", nan, [1, inf], 99])
def test_an_exposure_value_is_a_number_or_a_range(ev100):
    row = {"slug": "a", "name": "A", "ev100": ev100, "source": "s", "evidence": "memory"}

    assert next(faults.daylight_faults({"format": 1, "row": [row]})).startswith("row[0].ev100: an EV from -15 to 25")


texts = st.text(alphabet="ab1/. ²é\0_", max_size=6)
junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | texts | st.sampled_from(["table", "1/125"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=6,
)


DATA = {file: load(file) for file in FILES}


@st.composite
def mutated(draw):
    """A shipped file with one to three places replaced, taken away or added to."""
    file = draw(st.sampled_from(FILES))
    data = copy.deepcopy(DATA[file])
    for _ in range(draw(st.integers(1, 3))):
        place = data
        while True:
            steps = list(place) if isinstance(place, dict) else list(range(len(place)))
            if not steps:
                break
            step = draw(st.sampled_from(steps))
            if isinstance(place[step], dict | list) and draw(st.booleans()):
                place = place[step]
                continue
            if draw(st.booleans()):
                place[step] = draw(junk)
            else:
                del place[step]
            break
        if isinstance(place, dict) and draw(st.booleans()):
            place[draw(texts)] = draw(junk)
    return part_of(file), data


@given(mutated())
def test_whatever_a_file_holds_it_is_used_or_refused_with_reasons(case):
    part, data = case
    check, build = CHECKS[part]

    found = list(check(data))

    assert all(isinstance(fault, str) and ": " in fault for fault in found)
    if not found:
        build(data)  # what has no faults can be built


@given(st.dictionaries(texts, junk, max_size=5))
def test_any_table_is_refused_as_a_film_and_a_kit(data):
    assert list(faults.film_faults(data))
    assert list(faults.kit_faults(data))
