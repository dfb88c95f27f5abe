"""What stopgap bulb puts on the screen, and its countdown."""

import json

import pytest
from click.testing import CliRunner

import meter.cli.bulb as bulb_verb
from meter.bulb import Countdown, Moment
from meter.cli.app import main
from meter.cli.countdown import Bells, big, clock_text, in_lines, screen_of
from meter.jobs.hold_bulb import Clock

FILM = """
format = 1
name = "Net Loft 100"
speed_iso = 100
kind = "negative"
process = "bw"
source = "the box"
evidence = "published"
default_curve = "mine"
default_reason = "It is mine."
[[curve]]
name = "mine"
model = "table"
begins_s = 1
source = "my own tests"
evidence = "measured"
rows = [
  { metered_s = 10, corrected_s = 20 },
  { metered_s = 100, corrected_s = 400, note = "develop 10 % less" },
]
[[curve]]
name = "other"
model = "power"
exponent = 1.3
source = "a guess"
evidence = "memory"
"""


@pytest.fixture
def run(tmp_path):
    (tmp_path / "films").mkdir()
    (tmp_path / "films" / "net-loft-100.toml").write_text(FILM, "utf-8")

    def running(*options):
        return CliRunner().invoke(main, ["bulb", "--film", "net-loft-100", "--shelf", str(tmp_path), *options])

    return running


@pytest.fixture
def fast(monkeypatch):
    """A clock that is slept on without waiting."""

    class Turned(Clock):
        now = 50.0

        def steady(self):
            return self.now

        def wall(self):
            return 1_000_000_000.0 + self.now

        def sleep(self, seconds):
            self.now += seconds

    monkeypatch.setattr(bulb_verb, "Clock", Turned)


def test_the_hold_comes_first_then_why(run):
    result = run("--metered", "10s")
    assert result.exit_code == 0
    assert result.output == (
        "Hold 20 s\n"
        "for 10 s metered on Net Loft 100: +1.0 stops of time.\n"
        "Within a third of a stop: 15 s to 27 s.\n"
        "closed at  10 s  15 s  18 s  22 s  25 s  30 s  40 s\n"
        "───────────────────────────────────────────────────\n"
        "film gets  -0.8  -0.3  -0.1  +0.1  +0.2  +0.4  +0.8\n"
        "Reciprocity: 'mine' (measured): rows of the source, interpolated in log time\n"
        "  against log time; covers up to 100 s metered.\n"
        "Source: my own tests.\n"
        "Why this curve: It is mine.\n"
        "Others for this film: --reciprocity other\n"
        "Long exposures raise contrast: shadows lose more than highlights. Give less\n"
        "  development, or accept it (Barnbaum 1994, p. 77; secondary).\n"
    )


def bulb(*words):
    return CliRunner().invoke(main, ["bulb", *words])


def test_a_kit_brings_its_film(run):
    named = bulb("--metered", "30s", "--film", "hp5-plus").output
    assert bulb("--metered", "30s", "--kit", "breakwater").output == named
    assert bulb("--table", "--kit", "breakwater").output.startswith("HP5 Plus: hold B for")
    assert "on Net Loft 100" in run("--metered", "30s", "--kit", "breakwater").output


def test_without_film_and_kit_it_asks_for_one():
    result = bulb("--metered", "30s")
    assert result.exit_code == 2 and "say which film: --film NAME" in result.output


def test_a_time_that_needs_no_correction_says_so(run):
    lines = run("--metered", "1/2").output.splitlines()
    assert lines[:2] == ["Hold 1/2", "for 1/2 metered on Net Loft 100: nothing needs correcting."]


def test_a_film_without_figures_warns_in_the_second_line():
    output = bulb("--metered", "30s", "--film", "iso-400").output
    assert output.splitlines()[1].startswith("for 30 s metered on Any film of ISO 400. No reciprocity figure is known")
    assert output.count("test before you rely on it") == 1


def test_beyond_the_source_is_said_on_the_first_line(run):
    output = run("--metered", "200s").output
    assert output.startswith("Hold 986 s (16 min 26 s), beyond the published range\n")
    assert "The source, from 100 s metered: develop 10 % less" in output


def test_what_became_of_a_hold_that_was_missed(run):
    assert run("--metered", "10s", "--held", "40s").output.startswith("Held 40 s: +0.8 stops against plan.\n")


def test_an_ev_needs_its_aperture_and_says_what_it_made(run):
    output = run("--ev", "0", "--aperture", "f/8", "--ei", "200").output
    assert "for 32 s metered (EV 0.0, f/8, EI 200) on Net Loft 100" in output


def test_filters_follow_the_light_and_a_close_up_counts(run):
    # at 1:1 the lens stands two focal lengths out: (1 + 1)² is 2 stops, 4 s become 16 s
    assert "for 16 s metered with 2.0 stops of close-up on" in run("--metered", "4s", "--magnification", "1").output
    extended = run("--metered", "4s", "--extension", "75", "--kit", "harbour-light")
    assert "for 16 s metered with 2.0 stops of close-up on" in extended.output
    both = run("--metered", "1s", "--magnification", "1", "--filter", "nd-8", "--light", "tungsten").output
    assert "stops of filter and close-up on" in both


def test_the_card_runs_to_an_hour_and_stars_what_is_not_published(run):
    lines = [line.rstrip() for line in run("--table").output.splitlines()]
    assert lines[0] == "Net Loft 100: hold B for"
    assert lines[3].split() == ["1", "s", "1", "s", "0.0"]
    assert any(line.startswith("  1 min") and "*" not in line for line in lines)
    assert any(line.startswith("    1 h") and "*" in line for line in lines)
    assert "* beyond the published range: test before you rely on it." in lines
    assert all(len(line) <= 80 for line in lines)
    card = json.loads(run("--table", "--json").output)["card"]
    assert [row["metered_s"] for row in card][:3] == [1.0, 2.0, 4.0] and card[-1]["extrapolated"]


def test_a_countdown_into_a_pipe_calls_out_the_time(run, fast, tmp_path):
    log = tmp_path / "holds.jsonl"
    result = run("--metered", "8s", "--hold", "--lead-in", "2s", "--log-to", str(log))
    assert result.exit_code == 0
    assert result.output == (
        "Net Loft 100: 15 s for 8 s metered\n"
        "opens in 2\nopens in 1\nOPEN now, 15 s to hold\n"
        "left 10\nleft 9\nleft 8\nleft 7\nleft 6\nleft 5\nleft 4\nleft 3\nleft 2\nleft 1\n"
        "CLOSE now\n"
        "Open 15.0 s of 15.0 s: the film got 0.0 stops against plan.\n"
    )
    assert json.loads(log.read_text("utf-8"))["ended"] == "done"


def test_a_countdown_with_json_keeps_standard_output_for_the_result(run, fast):
    result = run("--metered", "2s", "--hold", "--lead-in", "0", "--json")
    data = json.loads(result.stdout)
    assert data["held"]["ended"] == "done" and "CLOSE now" in result.stderr


def test_the_screen_fits_whatever_size_the_window_has():
    moment = Countdown(75.0, 0.0).at(10.0)
    for width, height in ((80, 24), (44, 14), (30, 8), (20, 5), (10, 3)):
        screen = screen_of(moment, "Net Loft 100", width, height)
        lines = screen.split("\n")
        assert len(lines) <= height and max(map(len, lines)) <= width
        assert "█" in screen or "1:05" in screen or width < 12


def test_digits_are_doubled_where_there_is_room_and_plain_where_there_is_none():
    assert len(big("12", 80)[0]) == 2 * len(big("12", 12)[0]) - 2
    assert big("1:23:45", 10) == ["1:23:45"]
    assert clock_text(3723) == "1:02:03"


def test_the_bell_rings_once_to_open_and_three_times_to_close_even_if_seconds_are_skipped():
    rung = []
    bells = Bells(lambda: rung.append("ring"))
    for phase in ("lead_in", "lead_in", "open", "open"):
        bells.ring(Moment(phase, 1.0, 0.0, 0.0))
    assert len(rung) == 1
    for _ in range(5):
        bells.ring(Moment("over", 1.0, 0.0, 1.0))
    assert len(rung) == 4


def test_lines_are_said_once_a_second(capsys):
    with in_lines("title") as show:
        for tenth in range(31):
            show(Countdown(2.0, 1.0).at(tenth / 10))
    assert capsys.readouterr().out == "title\nopens in 1\nOPEN now, 2 s to hold\nleft 1\nCLOSE now\n"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ((), "give either a metered time (--metered 8s) or an EV and an aperture (--ev 3 --aperture f/11)"),
        (("--ev", "3"), "an EV needs an aperture beside it: --aperture f/11"),
        (("--metered", "soon"), "time 'soon' is not readable"),
        (("--metered", "8s", "--reciprocity", "tarot"), "has no reciprocity curve 'tarot'; its curves: mine, other"),
        (("--metered", "8s", "--log-to", "x"), "--log-to and --until-stopped belong to a countdown: add --hold"),
        (("--table", "--hold"), "--table prints the whole card"),
        (("--table", "--filter", "red-25"), "--table prints the whole card"),
        (("--table", "--until-stopped"), "--table prints the whole card"),
        (
            ("--metered", "8s", "--ei", "50"),
            "a metered time has index and aperture in it: leave out --ei and --aperture",
        ),
        (("--metered", "8s", "--aperture", "f/8"), "a metered time has index and aperture in it"),
        (("--metered", "8s", "--magnification", "1", "--extension", "9"), "say the same thing twice"),
        (("--metered", "8s", "--kit", "breakwatr"), "did you mean breakwater"),
        (("--metered", "8s", "--hold", "--lead-in", "2min"), "a lead-in of 0 to 60 s"),
        (("--metered", "8s", "--filter", "rose"), "rose"),
    ],
)
def test_bad_input_is_one_sentence(run, options, says):
    result = run(*options)
    assert result.exit_code == 2
    assert says in result.output and "Traceback" not in result.output
    assert says in json.loads(run("--json", *options).output)["error"]["message"]
