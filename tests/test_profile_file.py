"""A profile written as TOML and read again; what a broken one is told."""

import tomllib
from dataclasses import replace

import pytest

from meter.errors import ShelfError
from meter.falloff import Falloff
from meter.profile_file import Conditions, Origin, ProfileFile, Residual, problems, profile_text, read_profile
from meter.response import DEFAULT_RESPONSE, Profile

PROFILE = Profile(
    name="Slate 3, wide",
    make="Harbour Works",
    model='Slate "3"',
    response=DEFAULT_RESPONSE,
    focal_35mm=26.0,
    offset_stops=-0.31,
    offset_sigma=0.12,
    falloff=Falloff(0.51, 0.49, 0.2, 0.1, -0.05, 0.03),
    notes=("Taken on the quay.",),
)
CONDITIONS = Conditions(
    frames=13,
    scenes=2,
    range_stops=4.0,
    first_code=6,
    last_code=247,
    spread_before_stops=0.62,
    spread_after_stops=0.11,
    residuals=(Residual(0, 15, 0.21, 412), Residual(16, 31, 0.13, 903)),
    disagreeing=("quay-07.jpg",),
)
ORIGINS = {
    "response": Origin("13 photos of two still scenes", "measured", "2024-05-18"),
    "offset": Origin("a trusted meter on a grey card", "measured", "2024-05-18"),
    "falloff": Origin("a sheet of paper on a window", "measured"),
}
WHOLE = ProfileFile(PROFILE, ORIGINS, CONDITIONS)


def test_what_is_written_is_read_again():
    again = read_profile(profile_text(WHOLE))

    assert (again.origins, again.conditions) == (ORIGINS, CONDITIONS)
    assert replace(again.profile, response=PROFILE.response) == PROFILE
    for ours, theirs in zip(vars(again.profile.response).values(), vars(PROFILE.response).values(), strict=True):
        assert ours == pytest.approx(theirs, rel=1e-6, abs=0)  # half of the seventh digit


def test_a_profile_of_a_response_alone_is_enough():
    bare = Profile("Slate 3", "Harbour Works", "Slate 3", DEFAULT_RESPONSE)
    text = profile_text(ProfileFile(bare, {"response": ORIGINS["response"]}))

    assert "offset" not in text and "falloff" not in text and "conditions" not in text
    assert read_profile(text).profile.focal_35mm is None


def test_writing_twice_gives_the_same_text():
    text = profile_text(WHOLE)

    assert profile_text(read_profile(text)) == text


def test_it_is_laid_out_for_people():
    text = profile_text(WHOLE)

    assert text.startswith('format = 1\nname = "Slate 3, wide"\nmake = "Harbour Works"\n')
    assert max(map(len, text.splitlines())) <= 120


@pytest.mark.parametrize("part", ["response", "offset", "falloff"])
def test_a_part_without_origin_cannot_be_written(part):
    with pytest.raises(ShelfError, match=rf"Slate 3, wide cannot be written. {part}.source: where it comes from"):
        profile_text(replace(WHOLE, origins={k: v for k, v in ORIGINS.items() if k != part}))


def broken(change) -> dict:
    data = tomllib.loads(profile_text(WHOLE))
    change(data)
    return data


def swap(data: dict) -> None:
    red = data["response"]["red"]
    red[40], red[41] = red[41], red[40]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d.update(format=2), "format: this version reads 1, the file says 2"),
        (lambda d: d.update(make=" "), "make: text is needed, got ' '"),
        (lambda d: d.update(focal_35mm="26"), "focal_35mm: millimetres from 5 to 1000 are needed, got '26'"),
        (lambda d: d.update(notes="one"), "notes: a list of sentences is needed, got 'one'"),
        (lambda d: d.pop("response"), "response: a table with red, green, blue and sigma_stops is needed"),
        (lambda d: d["response"]["blue"].pop(), "response.blue: 256 finite numbers of 0 or more are needed"),
        (lambda d: d["response"].update(sigma_stops=[float("nan")] * 256), "response.sigma_stops: 256 finite numbers"),
        (swap, "response.red: must rise from code to code, and does not at code 41"),
        (lambda d: d["response"].update(evidence="rumour"), "response.evidence: one of published, secondary"),
        (lambda d: d["response"].update(date=1), "response.date: text such as"),
        (lambda d: d["response"].update(conditions=[]), "response.conditions: a table is needed, got []"),
        (lambda d: d["response"]["conditions"].update(frames=-1), "response.conditions.frames: a whole number"),
        (lambda d: d["response"]["conditions"].update(range_stops=True), "response.conditions.range_stops: stops from"),
        (
            lambda d: d["response"]["conditions"].update(disagreeing=3),
            "response.conditions.disagreeing: a list of names",
        ),
        (lambda d: d["response"]["conditions"].update(residual={}), "response.conditions.residual: a list of tables"),
        (
            lambda d: d["response"]["conditions"]["residual"][1].pop("samples"),
            "response.conditions.residual[1]: first_",
        ),
        (lambda d: d.update(offset=1), "offset: a table with offset_stops and sigma_stops is needed, got 1"),
        (lambda d: d["offset"].update(offset_stops=9), "offset.offset_stops: stops within 6 of 0 are needed, got 9"),
        (lambda d: d["offset"].update(sigma_stops=-1), "offset.sigma_stops: stops from 0 to 6 are needed, got -1"),
        (lambda d: d["falloff"].update(k4_stops=float("inf")), "falloff.k4_stops: a number from -10 to 10 is needed"),
        (lambda d: d.update(falloff=[]), "falloff: a table with center_x"),
    ],
)
def test_a_fault_is_named_by_its_key(change, says):
    found = list(problems(broken(change)))

    assert len(found) == 1
    assert found[0].startswith(says)


def test_all_faults_are_said_at_once():
    def spoil(data):
        data["format"] = 7
        data["offset"]["sigma_stops"] = "small"
        del data["falloff"]["source"]

    assert [fault.split(":")[0] for fault in problems(broken(spoil))] == [
        "format",
        "offset.sigma_stops",
        "falloff.source",
    ]


def test_what_is_no_toml_is_refused_with_its_name():
    with pytest.raises(ShelfError, match=r"slate\.toml is not valid TOML"):
        read_profile("format = ", where="slate.toml")
