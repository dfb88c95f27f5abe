"""Known light: each kind against outside figures, the combination against a general least-squares solution."""

import subprocess
import sys
from math import log2, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration import from_known_light as known
from calibration.from_known_light import Anchor, clear_sky_illuminance, combine
from meter.errors import BadInput

EV15_K125 = 4096.0  # cd/m2 at EV 15, K = 12.5: table of EVs, agrees with a published one (secondary)


def test_a_meter_of_k_12_5_reads_4096_at_ev_15():
    assert known.from_meter(EV15_K125, 0.1, 15, "quay", k=12.5).offset_stops == pytest.approx(0)
    assert known.from_meter(EV15_K125 / 2, 0.1, 15, "quay", k=12.5).offset_stops == pytest.approx(1)


def test_a_meter_of_k_14_means_more_light_by_0_163_stop():
    """K = 14 against 12.5: 0.163 EV (reference values, section 1)."""
    twelve, fourteen = (known.from_meter(100, 0.1, 10, "quay", k=k) for k in (12.5, 14))

    assert fourteen.offset_stops - twelve.offset_stops == pytest.approx(0.163, abs=0.0005)


def test_not_knowing_k_costs_between_a_tenth_and_a_sixth_of_a_stop_that_more_readings_cannot_remove():
    sure, unsure = (
        combine([known.from_meter(100, 0.1, 10, f"spot {i}", k=k) for i in range(200)]) for k in (12.5, None)
    )

    assert 0.1 <= (unsure.sigma_stops**2 - sure.sigma_stops**2) ** 0.5 <= 0.163
    assert sure.sigma_stops >= known.METER_COMMON


def test_a_card_of_18_percent_under_the_light_of_ev_15():
    """C = 250 lux: 81 920 lux at EV 15; K/C implies 15.7 %, so an 18 % card reads 0.197 EV above (section 1)."""
    anchor = known.from_illuminance(EV15_K125, 0.1, 81_920, 0.18, "grey card")

    assert anchor.offset_stops == pytest.approx(log2(0.18 * 81_920 / pi / EV15_K125))
    assert anchor.offset_stops == pytest.approx(log2(0.18 / 0.157), abs=0.005)  # 15.7 is printed to three digits


def test_luminance_is_compared_as_it_is():
    assert known.from_luminance(50, 0.1, 200, "window").offset_stops == pytest.approx(2)


def test_the_guide_row_full_sun_is_ev_15():
    anchor = known.from_guide(EV15_K125, 0.1, 15, "full sun")

    assert anchor.offset_stops == pytest.approx(0)
    assert anchor.total_stops > 0.5  # common practice, not a measurement


@pytest.mark.parametrize(
    ("altitude", "klx", "last_digit"),
    [(90, 120, 1), (60, 102, 1), (40, 72, 1), (30, 53.6, 0.1), (20, 33.5, 0.1), (15, 23.3, 0.1), (10, 13.9, 0.1)],
)
def test_clear_sky_illuminance_is_that_of_the_table(altitude, klx, last_digit):
    """IES clear sky, reference values, section 14 (computed there from secondary coefficients)."""
    assert clear_sky_illuminance(altitude) / 1000 == pytest.approx(klx, abs=last_digit / 2 + 0.01)


@pytest.mark.parametrize(
    ("altitude", "lux"),
    [(90, 129_000), (60, 103_000), (40, 67_500), (30, 46_300), (20, 27_400), (15, 19_200), (10, 11_100), (5, 4_540)],
)
def test_a_second_model_of_daylight_lies_within_the_stated_uncertainty(altitude, lux):
    """Explanatory Supplement fit, section 14 (memory). 1.2 sigma: what the models differ by, not a measured error."""
    sigma = known.from_sun(1000, 0.1, altitude, 0.18, "card").common_stops

    assert abs(log2(clear_sky_illuminance(altitude) / lux)) < 1.2 * sigma


def test_a_card_that_faces_the_sun_gets_more_and_the_same_at_the_zenith():
    assert clear_sky_illuminance(30, facing=True) > 1.5 * clear_sky_illuminance(30)
    assert clear_sky_illuminance(90, facing=True) == pytest.approx(clear_sky_illuminance(90))


def test_the_exposure_guide_is_met_by_a_grey_card_in_the_sun():
    """Guide: full sun is EV 15. Common practice: a card square to the sun reads about half a stop more."""
    flat, facing = (0.18 * clear_sky_illuminance(50, square) / pi for square in (False, True))

    assert log2(flat * 100 / 12.5) == pytest.approx(15, abs=0.4)
    assert log2(facing * 100 / 12.5) == pytest.approx(15.5, abs=0.2)


@given(
    st.lists(st.tuples(st.floats(-0.1, 0.1), st.floats(0.15, 0.4), st.sampled_from("abc")), min_size=2, max_size=8),
)
def test_the_mean_is_that_of_general_least_squares(rows):
    """Against numpy: the best linear estimate with the full covariance, its shared parts included."""
    common = {"a": 0.0, "b": 0.12, "c": 0.3}
    anchors = [Anchor(1 + x, sigma, f"spot {i}", kind, common[kind]) for i, (x, sigma, kind) in enumerate(rows)]
    cov = np.array([[common[p.kind] ** 2 * (p.kind == q.kind) for q in anchors] for p in anchors])
    cov += np.diag([a.sigma_stops**2 for a in anchors])
    precision = np.linalg.inv(cov)
    expected = precision.sum(axis=0) @ [a.offset_stops for a in anchors] / precision.sum()

    found = combine(anchors)  # so close together that neither Huber nor chi-square has anything to do

    assert found.offset_stops == pytest.approx(expected, abs=1e-9)
    assert found.sigma_stops == pytest.approx(precision.sum() ** -0.5, rel=1e-6)


def test_one_anchor_is_itself():
    anchor = Anchor(0.4, 0.1, "quay", "meter", 0.2)

    found = combine([anchor])

    assert (found.offset_stops, found.sigma_stops) == pytest.approx((0.4, anchor.total_stops))


def test_the_worse_anchor_counts_less():
    found = combine([Anchor(0.0, 0.05, "luminance meter"), Anchor(0.4, 0.5, "sun")])

    assert 0 < found.offset_stops < 0.02


def test_an_anchor_somewhat_out_pulls_less_than_a_plain_mean():
    values = [0.0, 0.02, -0.02, 0.01, 0.29]
    found = combine([Anchor(v, 0.1, f"spot {i}") for i, v in enumerate(values)])

    assert 0 < found.offset_stops < np.mean(values)
    assert found.sigma_stops > 0.1 / 5**0.5


def test_the_stated_interval_holds_the_truth():
    rng = np.random.default_rng(5)
    within, refused = [], 0
    for _ in range(1500):
        kinds = {"meter": (0.1, 0.16), "illuminance": (0.1, 0.14), "sun": (0.18, 0.3)}
        shift = {kind: common * rng.normal() for kind, (_, common) in kinds.items()}
        anchors = [
            Anchor(shift[kind] + sigma * rng.normal(), sigma, f"{kind} {i}", kind, common)
            for kind, (sigma, common) in kinds.items()
            for i in range(rng.integers(1, 4))
        ]
        try:
            found = combine(anchors)
        except BadInput:
            refused += 1
            continue
        within.append(abs(found.offset_stops) <= 1.96 * found.sigma_stops)

    assert 0.93 <= np.mean(within) <= 0.985
    assert refused < 0.03 * 1500


def test_the_anchor_that_contradicts_the_others_is_named():
    anchors = [Anchor(v, 0.1, name) for v, name in ((0.1, "quay"), (0.15, "shed"), (1.4, "net loft"), (0.05, "slip"))]

    with pytest.raises(BadInput) as refused:
        combine(anchors)

    assert str(refused.value) == (
        "'net loft' asks for +1.40 stops, the others for +0.10: 11.3 sigma apart; check that the same spot was read "
        "and the numbers are right, or leave it out"
    )


def test_two_that_contradict_each_other_are_both_named():
    with pytest.raises(BadInput, match=r"'quay' asks for \+0\.00 stops, 'shed' for \+1\.00"):
        combine([Anchor(0.0, 0.1, "quay"), Anchor(1.0, 0.1, "shed")])


def test_what_a_kind_shares_does_not_excuse_its_own_members():
    """Two readings by one meter, 0.8 stop apart: the meter's calibration cannot explain that."""
    with pytest.raises(BadInput):
        combine([Anchor(0.0, 0.1, "quay", "meter", 0.5), Anchor(0.8, 0.1, "shed", "meter", 0.5)])

    combine([Anchor(0.0, 0.1, "quay", "meter", 0.5), Anchor(0.8, 0.1, "shed", "sun", 0.5)])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: combine([]), "no known light"),
        (lambda: known.from_meter(0, 0.1, 10, "quay"), "quay: the phone's reading"),
        (lambda: known.from_meter(float("nan"), 0.1, 10, "quay"), "quay: the phone's reading"),
        (lambda: known.from_meter(10, -0.1, 10, "quay"), "0 or more stops"),
        (lambda: known.from_meter(10, 0.1, 40, "quay"), "between -10 and 25"),
        (lambda: known.from_meter(10, 0.1, float("nan"), "quay"), "between -10 and 25"),
        (lambda: known.from_meter(10, 0.1, 10, "quay", k=125), "K lies between"),
        (lambda: known.from_luminance(10, 0.1, -1, "quay"), "known luminance"),
        (lambda: known.from_illuminance(10, 0.1, 1000, 18, "quay"), "reflectance lies between"),
        (lambda: known.from_illuminance(10, 0.1, 0, 0.18, "quay"), "illuminance lies between"),
        (lambda: known.from_sun(10, 0.1, 2, 0.18, "quay"), "the sun must stand"),
        (lambda: known.from_sun(10, 0.1, 91, 0.18, "quay"), "the sun must stand"),
        (lambda: Anchor(float("inf"), 0.1, "quay"), "must be finite"),
        (lambda: Anchor(0.0, 0.0, "quay"), "uncertainty above 0"),
    ],
)
def test_bad_input_gets_one_sentence(call, said):
    with pytest.raises(BadInput, match=said) as refused:
        call()

    assert "\n" not in str(refused.value)


def test_it_stays_pure():
    probe = "import sys, calibration.from_known_light; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", probe], check=True, capture_output=True, text=True).stdout.split()

    assert not {"numpy", "scipy", "cv2"} & set(loaded)
