"""What a negative says, against a measured set, the zone density targets and laws of a straight line."""

import tomllib
from math import log2, log10
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from meter.development import (
    DENSITY_RANGE,
    ISO_SPEED_ZONE,
    STOP,
    Estimate,
    NegativePatch,
    development_of,
    fit_line,
    gradient_for,
    judge,
    rounded_ei,
    speed_zone,
    time_factor,
)
from meter.errors import BadInput

PUBLISHED = tomllib.loads((Path(__file__).parent / "published/negatives.toml").read_text("utf-8"))
MEASURED = PUBLISHED["set"][0]
GRADIENTS = [
    (table["density_range"], n, gradient)
    for table in PUBLISHED["gradient"]
    for n, gradient in zip(table["developments"], table["gradients"], strict=True)
]


def patches(densities, sigma: float = 0.1) -> list[NegativePatch]:
    return [NegativePatch(zone, density, zone_sigma=sigma) for zone, density in densities]


def measured() -> list[NegativePatch]:
    return patches(zip(MEASURED["zones"], MEASURED["densities"], strict=True))


@pytest.mark.parametrize(("density_range", "n", "gradient"), GRADIENTS)
def test_the_gradient_a_development_needs(density_range, n, gradient):
    assert gradient_for(n, density_range) == pytest.approx(gradient, abs=0.0005)  # half the last printed digit
    assert development_of(Estimate(gradient, 0.01), density_range).value == pytest.approx(n, abs=0.01)


def test_the_measured_set_was_exposed_and_developed_normally():
    """Zone I carries 0.11 against a target of 0.10, Zone VIII 1.18, inside the condenser target: EI right, about N."""
    verdict = judge(measured(), ei=100, density_range=DENSITY_RANGE["condenser"])

    assert verdict.ei == 100
    # 0.10 lies a ninth of a zone below Zone I: (0.11 - 0.10) / (0.11 - 0.02), by hand.
    assert verdict.speed.value == pytest.approx(1 - 1 / 9)
    assert verdict.development.value == pytest.approx(0, abs=max(2 * verdict.development.sigma, 0.75))


def test_the_slope_of_the_measured_set_is_that_of_a_least_squares_line():
    inside = [(z, d) for z, d in zip(MEASURED["zones"], MEASURED["densities"], strict=True) if 3 <= z <= 8]
    slope, _ = np.polyfit(*zip(*inside, strict=True), 1)  # numpy as the outside judge

    assert fit_line(measured()).slope.value == pytest.approx(slope, rel=1e-9)


def test_scatter_and_sigma_against_textbook_least_squares():
    """Standard error of a slope: s / sqrt(Sxx), s² = residual squares / (n - 2); numpy's covariance as the judge."""
    noisy = [
        NegativePatch(z, d, density_sigma=1e-9, zone_sigma=0)
        for z, d in [(3, 0.3), (4, 0.55), (5, 0.6), (6, 0.9), (7, 1.0)]
    ]
    _, covariance = np.polyfit([p.zone for p in noisy], [p.density for p in noisy], 1, cov=True)

    assert fit_line(noisy).slope.sigma == pytest.approx(covariance[0, 0] ** 0.5, rel=1e-9)


@pytest.mark.parametrize("enlarger", DENSITY_RANGE)
def test_a_negative_on_its_targets_needs_no_change(enlarger):
    """The middles of the published targets for I and VIII; V follows the straight line between III and VIII."""
    middle = {
        t["zone"]: (t["low"] + t["high"]) / 2
        for t in PUBLISHED["target"]
        if t.get("enlarger", enlarger) == enlarger and t["zone"] != 1
    }
    on_target = patches([(1, 0.10), (5, middle[5]), (8, middle[8])])

    verdict = judge(on_target, ei=200, density_range=DENSITY_RANGE[enlarger])

    assert verdict.ei == 200
    assert verdict.time_factor is None
    assert verdict.development.value == pytest.approx(0, abs=0.05)  # the figures are printed to 0.05 of density


def test_the_iso_speed_point_lies_ten_to_one_below_the_mid_tone():
    assert pytest.approx(1.68, abs=0.005) == ISO_SPEED_ZONE  # reference: Zone 1.68
    # Density 0.10 on Zone I is an EI of about 0.62 of the ISO speed: ISO 400 -> 250 (reference, computed).
    iso_400_exposed_at_250 = judge(patches([(1, 0.10), (3, 0.35), (5, 0.68), (8, 1.25)]), ei=250)
    assert (iso_400_exposed_at_250.ei, iso_400_exposed_at_250.iso_ei) == (250, 400)


@pytest.mark.parametrize(
    ("was", "wanted", "low", "high"),
    [(0, 1, 1.20, 1.40), (0, -1, 0.75, 0.85), (0, -2, 0.65, 0.70), (0, 2, 1.50, 1.70)],  # memory, no maker's figure
)
def test_developing_times_are_the_rules_of_thumb(was, wanted, low, high):
    assert time_factor(was, wanted) == pytest.approx((low, high))


def test_no_time_is_offered_beyond_what_anyone_knows():
    assert time_factor(-2.5, 0) is None
    verdict = judge(patches([(1, 0.05), (2, 0.12), (3, 0.18), (5, 0.37), (8, 0.77)]), ei=400)
    assert verdict.change.value > 2 and verdict.time_factor is None


@given(
    slope=st.floats(0.08, 0.4),
    foot=st.floats(0.4, 2.4),
    zones=st.lists(st.integers(1, 9), min_size=3, max_size=9, unique=True).map(sorted),
    ei=st.sampled_from([25, 50, 100, 200, 400, 800]),
)
def test_a_straight_negative_gives_back_its_slope_speed_and_gradient(slope, foot, zones, ei):
    line = [(zone, 0.10 + slope * (zone - foot)) for zone in zones if zone >= foot - 0.4]
    assume(len([z for z, _ in line if 3 <= z <= 8]) >= 2 and line[0][0] - foot <= 0.7)

    verdict = judge(patches(line), ei)

    assert verdict.line.slope.value == pytest.approx(slope)
    assert verdict.speed.value == pytest.approx(foot)
    assert verdict.gradient.value == pytest.approx(slope / log10(2))
    assert verdict.shift_stops.value == pytest.approx(foot - 1)


@given(shift=st.floats(-0.9, 0.9))
def test_a_stop_more_exposure_is_a_stop_less_index(shift):
    zones = [(zone, 0.10 + 0.17 * (zone - 1 - shift)) for zone in range(0, 9) if zone >= shift]

    found = speed_zone(patches(zones))

    assert found.value - 1 == pytest.approx(shift)
    exact = 400 * 2 ** -(found.value - 1)
    # rounding to thirds of a stop, and nominal speeds up to 0.02 stop from the series
    assert abs(log2(rounded_ei(400, found.value - 1) / exact)) <= 1 / 6 + 0.05


@given(st.integers(-9, 15))
def test_indices_are_the_ones_on_film_boxes(thirds):
    """The preferred series as printed on boxes and meters (common practice)."""
    printed = (12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600,
               2000, 2500, 3200)  # fmt: skip
    assert rounded_ei(100, -thirds / 3) == printed[9 + thirds]


def test_more_doubt_about_zones_is_more_doubt_about_everything():
    sure, unsure = (judge(patches([(1, 0.1), (3, 0.4), (5, 0.7), (8, 1.3)], s), 200) for s in (0.05, 0.5))

    for name in ("shift_stops", "gradient", "development", "change"):
        assert getattr(unsure, name).sigma > getattr(sure, name).sigma


def test_stated_sigma_of_the_slope_covers_a_simulation():
    """Placements wrong by a third of a stop at random: the slope's spread over 2000 negatives is the sigma stated."""
    random = np.random.default_rng(7)  # seeded: the figure must not wander
    zones = np.array([3.0, 4, 5, 6, 7, 8])
    slopes = [
        fit_line(
            [
                NegativePatch(z, 0.17 * true, 1e-6, 1 / 3)
                for z, true in zip(zones, zones + random.normal(0, 1 / 3, 6), strict=True)
            ]
        )
        for _ in range(2000)
    ]

    spread = np.std([line.slope.value for line in slopes])
    assert np.mean([line.slope.sigma for line in slopes]) == pytest.approx(spread, rel=0.25)  # never smaller by design


@pytest.mark.parametrize(
    ("densities", "complaint"),
    [
        ([(3, 0.4)], "two parts on different zones"),
        ([(3, 0.4), (3, 0.41)], "two parts on different zones"),
        ([(3, 1.2), (5, 0.8), (8, 0.3)], "density does not grow"),
    ],
)
def test_what_cannot_be_judged_is_said(densities, complaint):
    with pytest.raises(BadInput, match=complaint):
        judge(patches(densities), 200)


def test_missing_ends_are_named():
    no_toe = judge(patches([(4, 0.5), (6, 0.85)]), 200)
    assert no_toe.ei is None and no_toe.speed is None
    assert any("near density 0.10" in caution for caution in no_toe.cautions)
    assert any("nothing on VII or VIII" in caution for caution in no_toe.cautions)
    assert any("two parts make a line" in caution for caution in no_toe.cautions)

    only_toe = judge(patches([(1, 0.09), (2, 0.2)]), 200)
    assert only_toe.ei == 200 and only_toe.development is None
    assert any("no slope" in caution for caution in only_toe.cautions)


def test_a_gradient_is_density_over_log_exposure():
    assert pytest.approx(0.30103, abs=5e-6) == STOP
    assert gradient_for(0, 7 * STOP) == pytest.approx(1.0)


@pytest.mark.parametrize("bad", [(float("nan"), 0.3), (3, float("nan")), (3, 9), (40, 0.3)])
def test_impossible_readings_are_refused(bad):
    with pytest.raises(BadInput):
        NegativePatch(*bad)


def test_patches_of_one_zone_from_several_frames_count_as_their_mean():
    """By hand: the mean of 0.06 and 0.14 on Zone I is the speed point itself; one more frame on V changes nothing."""
    frames = [(1.0, 0.06), (1.0, 0.14), (2.0, 0.24), (5.0, 0.72), (5.1, 0.74)]
    found = speed_zone(patches(frames))

    assert found.value == pytest.approx(1.0)
    assert speed_zone(patches(frames[::-1])).value == pytest.approx(1.0)
    assert found.sigma < speed_zone(patches([(1.0, 0.10), (2.0, 0.24)])).sigma
    assert found.sigma > 0.1  # the doubt about the zone itself does not average away
