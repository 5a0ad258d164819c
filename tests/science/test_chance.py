"""The chance of rain: counting members, the calibrated curve, its laws and its fit."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from made import PRIOR
from scipy.stats import logistic

from advisor.science.chance import (
    IDENTITY,
    Calibration,
    _loss,
    _made_up_pairs,
    brier,
    calibrate_members,
    calibrated_chance,
    chance_at_least,
    fit,
    mean_and_spread,
    quantile,
    reliability,
    window_totals,
)

DEFAULT = PRIOR.curve
NAN = float("nan")
ENSEMBLES = hnp.arrays(
    np.float64,
    st.tuples(st.integers(1, 12), st.integers(1, 60)),
    elements=st.one_of(st.just(0.0), st.just(NAN), st.integers(0, 8).map(lambda v: v / 2)),
)
CURVES = st.builds(
    Calibration,
    a=st.floats(-2.0, 0.5),
    b=st.floats(0.0, 1.5),
    c=st.floats(0.05, 2.0),
    d=st.floats(0.0, 1.5),
)

DEFAULT = PRIOR.curve
MM = st.floats(0.0, 60.0)


def rows(members: np.ndarray) -> list[tuple[float, ...]]:
    return sorted(tuple(np.nan_to_num(row, nan=-1.0)) for row in members)


# --- counting ------------------------------------------------------------------------------------


def test_the_chance_is_the_share_of_the_known_members() -> None:
    totals = np.array([0.0, 4.9, 5.0, 12.0, NAN])
    assert chance_at_least(totals, 5.0) == 0.5


def test_a_total_that_misses_the_threshold_by_rounding_alone_reaches_it() -> None:
    assert chance_at_least(np.array([0.1 + 0.2]) * 10, 3.0) == 1.0
    assert chance_at_least(np.array([np.sum([0.7, 0.1, 0.1, 0.1])]), 1.0) == 1.0


@pytest.mark.parametrize("totals", [np.array([]), np.array([NAN, NAN])], ids=["no member", "none known"])
def test_without_a_known_member_nothing_is_said(totals: np.ndarray) -> None:
    assert np.isnan(chance_at_least(totals, 1.0))
    assert np.isnan(quantile(totals, 0.5))
    assert np.isnan(mean_and_spread(totals)).all()


def test_quantile_mean_and_spread_pass_over_unknown_members() -> None:
    totals = np.array([0.0, 2.0, NAN, 4.0])
    assert quantile(totals, 0.5) == 2.0
    assert mean_and_spread(totals) == (2.0, 2.0)
    assert mean_and_spread(np.array([3.0])) == (3.0, 0.0)


def test_a_member_with_an_unknown_hour_in_the_window_has_no_total() -> None:
    members = np.array([[1.0, 2.0, 3.0], [1.0, NAN, 3.0], [NAN, 0.0, 1.0]])
    np.testing.assert_array_equal(window_totals(members, 1, 3), [5.0, NAN, 1.0])


@pytest.mark.parametrize("window", [(-1, 2), (2, 4)], ids=["before the series", "past the horizon"])
def test_a_window_that_leaves_the_series_is_unknown_not_dry(window: tuple[int, int]) -> None:
    assert np.isnan(window_totals(np.zeros((2, 3)), *window)).all()


# --- the curve and its laws ------------------------------------------------------------------------


def test_dry_members_alone_leave_a_small_chance_of_rain() -> None:
    dry = {
        x: float(calibrated_chance(mean_mm=0, spread_mm=0, threshold_mm=x, calibration=DEFAULT))
        for x in (1, 5)
    }
    assert 0.01 < dry[1] < 0.03
    assert 0.0 < dry[5] < 0.01
    assert (
        chance_at_least(calibrate_members(members_mm=np.zeros((31, 24)), calibration=DEFAULT).sum(axis=1), 5)
        == 0
    )


@given(mean=MM, spread=MM, more=MM, threshold=st.floats(0.1, 40.0), curve=CURVES)
@settings(max_examples=60)
def test_a_wider_ensemble_of_the_same_mean_never_raises_confidence(
    mean: float, spread: float, more: float, threshold: float, curve: Calibration
) -> None:
    """Confidence is the distance of the chance from one half."""
    chance = calibrated_chance(
        mean_mm=[mean, mean], spread_mm=[spread, spread + more], threshold_mm=threshold, calibration=curve
    )
    narrow, wide = np.abs(chance - 0.5)
    assert wide <= narrow + 1e-12


@given(
    totals=hnp.arrays(np.float64, 11, elements=MM),
    more=st.floats(0.0, 30.0),
    factor=st.floats(1.0, 8.0),
    curve=st.one_of(st.just(DEFAULT), CURVES),
    place=st.floats(0.62, 4.8),
)
@settings(max_examples=100)
def test_more_rain_in_every_member_never_lowers_the_chance(
    totals: np.ndarray, more: float, factor: float, curve: Calibration, place: float
) -> None:
    """The same depth more, or the same factor, for thresholds in the range that the room states."""
    threshold = max(0.0, curve.a + place * curve.b) ** 2

    def chance(t: np.ndarray) -> float:
        mean, spread = mean_and_spread(t)
        return float(
            calibrated_chance(mean_mm=mean, spread_mm=spread, threshold_mm=threshold, calibration=curve)
        )

    assert chance_at_least(totals + more, threshold) >= chance_at_least(totals, threshold)
    if threshold > 0.0:
        assert chance(totals + more) >= chance(totals) - 1e-9
        assert chance(totals * factor) >= chance(totals) - 1e-9


@given(
    hours=hnp.arrays(np.float64, (7, 36), elements=st.integers(0, 3).map(float)),
    more=st.floats(0.0, 1.0),
    threshold=st.sampled_from([1.0, 5.0, 10.0]),
)
@settings(max_examples=40)
def test_more_rain_in_every_members_day_never_lowers_the_share_of_calibrated_members(
    hours: np.ndarray, more: float, threshold: float
) -> None:
    def share(members: np.ndarray) -> float:
        recast = calibrate_members(members_mm=members, calibration=DEFAULT)
        return chance_at_least(window_totals(recast, 0, 24), threshold)

    assert share(hours + more) >= share(hours)


@pytest.mark.parametrize(("every", "threshold"), [(6.0, 5.0), (4.0, 5.0)], ids=["all above", "all below"])
def test_where_all_members_agree_the_default_leaves_room_for_doubt(every: float, threshold: float) -> None:
    chance = float(
        calibrated_chance(mean_mm=every, spread_mm=0.5, threshold_mm=threshold, calibration=DEFAULT)
    )
    assert 0.15 < chance < 0.85
    recast = calibrate_members(members_mm=np.full((31, 24), every / 24), calibration=DEFAULT)
    assert 0.15 < chance_at_least(recast.sum(axis=1), threshold) < 0.85


# --- members ------------------------------------------------------------------------------------


def test_totals_become_the_quantiles_of_the_curve_in_the_members_own_order() -> None:
    rng = np.random.default_rng(7)
    members = rng.gamma(0.5, 1.0, (31, 48))
    recast = calibrate_members(members_mm=members, calibration=DEFAULT)
    for first in (0, 24):
        totals = window_totals(members, first, first + 24)
        mean, spread = mean_and_spread(totals)
        p = (np.arange(31) + 0.5) / 31
        scale = DEFAULT.c + DEFAULT.d * spread / (2 * np.sqrt(mean + 3))
        expected = np.maximum(0, DEFAULT.a + DEFAULT.b * np.sqrt(mean) + scale * np.log(p / (1 - p))) ** 2
        new = window_totals(recast, first, first + 24)
        np.testing.assert_allclose(np.sort(new), expected, rtol=1e-9, atol=1e-9)
        np.testing.assert_array_equal(np.argsort(new[new > 0]), np.argsort(totals[new > 0]))
        share = calibrated_chance(mean_mm=mean, spread_mm=spread, threshold_mm=5, calibration=DEFAULT)
        assert abs(chance_at_least(new, 5) - float(share)) <= 0.5 / 31 + 1e-9


@pytest.mark.parametrize("totals", [[3.0], [2.0, 8.0], [4.0, 4.0], [1.0, 2.0, 9.0]])
def test_few_members_have_their_sample_spread_too(totals: list[float]) -> None:
    """Two members 6 mm apart: √18 mm, as `mean_and_spread` has it for the pairs; one member has none."""
    members = np.zeros((len(totals), 24))
    members[:, 9] = totals
    mean, spread = mean_and_spread(np.array(totals))
    p = (np.arange(len(totals)) + 0.5) / len(totals)
    scale = DEFAULT.c + DEFAULT.d * spread / (2 * np.sqrt(mean + 3))
    expected = np.maximum(0, DEFAULT.a + DEFAULT.b * np.sqrt(mean) + scale * np.log(p / (1 - p))) ** 2
    recast = calibrate_members(members_mm=members, calibration=DEFAULT)
    assert recast[:, 9] == pytest.approx(expected)


def test_a_members_hours_keep_their_shape() -> None:
    members = np.array([[0.0, 2.0, 4.0], [1.0, 1.0, 1.0], [9.0, 0.0, 0.0]])
    recast = calibrate_members(members_mm=members, calibration=DEFAULT, block_h=3)
    np.testing.assert_allclose(recast / recast.sum(axis=1)[:, None], members / members.sum(axis=1)[:, None])


def test_a_dry_member_that_becomes_wet_takes_the_shape_of_the_mean() -> None:
    members = np.zeros((11, 4))
    members[0] = [0.0, 30.0, 10.0, 0.0]
    curve = replace(DEFAULT, a=1.0)
    recast = calibrate_members(members_mm=members, calibration=curve, block_h=4)
    wet = recast[1:][recast[1:].sum(axis=1) > 0]
    assert len(wet) > 3
    np.testing.assert_allclose(wet / wet.sum(axis=1)[:, None], np.tile([0, 0.75, 0.25, 0], (len(wet), 1)))


def test_where_all_are_dry_the_little_rain_is_even_over_the_block() -> None:
    recast = calibrate_members(members_mm=np.zeros((31, 24)), calibration=DEFAULT)
    assert recast.max() > 0.0
    np.testing.assert_allclose(recast, recast[:, :1] * np.ones(24))


def test_hours_before_the_first_are_left_alone() -> None:
    members = np.random.default_rng(3).gamma(0.3, 1.0, (9, 60))
    recast = calibrate_members(members_mm=members, calibration=DEFAULT, first=20)
    np.testing.assert_array_equal(recast[:, :20], members[:, :20])
    assert not np.allclose(recast[:, 20:44], members[:, 20:44])
    np.testing.assert_array_equal(
        calibrate_members(members_mm=members, calibration=DEFAULT, first=60), members
    )


def test_a_short_last_block_is_calibrated_at_the_same_rain_per_hour() -> None:
    whole = np.tile(np.linspace(0.1, 1.0, 9)[:, None], (1, 24))
    short = calibrate_members(members_mm=whole[:, :6], calibration=DEFAULT)
    np.testing.assert_allclose(short, calibrate_members(members_mm=whole, calibration=DEFAULT)[:, :6])


def test_members_that_end_sooner_are_calibrated_as_far_as_they_go() -> None:
    members = np.full((6, 48), 0.2)
    members[:3, 30:] = NAN
    recast = calibrate_members(members_mm=members, calibration=DEFAULT)
    np.testing.assert_array_equal(np.isnan(recast), np.isnan(members))
    ends = np.unique(np.round(recast[3:, 30:].sum(axis=1), 9))
    assert len(ends) == 3, "the three that go on are spread over the curve by themselves"


@pytest.mark.parametrize("count", [0, 1, 2], ids=["none", "one", "two"])
def test_few_members_are_no_trouble(count: int) -> None:
    recast = calibrate_members(members_mm=np.full((count, 24), 0.5), calibration=DEFAULT)
    assert recast.shape == (count, 24)
    assert np.isfinite(recast).all()


@given(members=ENSEMBLES)
@settings(max_examples=40)
def test_the_identity_changes_nothing(members: np.ndarray) -> None:
    recast = calibrate_members(members_mm=members, calibration=IDENTITY)
    np.testing.assert_array_equal(recast, members)
    assert recast is not members


@given(members=ENSEMBLES, seed=st.integers(0, 99), curve=CURVES)
@settings(max_examples=60)
def test_the_order_of_the_members_has_no_say(members: np.ndarray, seed: int, curve: Calibration) -> None:
    shuffled = members[np.random.default_rng(seed).permutation(len(members))]
    recast = calibrate_members(members_mm=members, calibration=curve, block_h=24)
    again = calibrate_members(members_mm=shuffled, calibration=curve, block_h=24)
    np.testing.assert_allclose(rows(recast), rows(again))


@given(members=ENSEMBLES, first=st.integers(0, 30), curve=CURVES)
@settings(max_examples=60)
def test_rain_stays_rain_and_unknown_stays_unknown(
    members: np.ndarray, first: int, curve: Calibration
) -> None:
    recast = calibrate_members(members_mm=members, calibration=curve, first=first)
    np.testing.assert_array_equal(np.isnan(recast), np.isnan(members))
    assert (recast[np.isfinite(recast)] >= 0.0).all()


# --- the fit --------------------------------------------------------------------------------------


def made_pairs(n: int, truth: Calibration, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    mean = rng.gamma(0.8, 6.0, n)
    spread = mean * rng.uniform(0.3, 1.2, n)
    scale = truth.c + truth.d * spread / (2 * np.sqrt(mean + 3))
    root = truth.a + truth.b * np.sqrt(mean) + scale * rng.logistic(size=n)
    return mean, spread, np.maximum(0.0, root) ** 2


def test_many_pairs_give_back_the_curve_they_were_made_from() -> None:
    truth = Calibration(a=-0.8, b=0.8, c=0.5, d=0.9)
    mean, spread, observed = made_pairs(20_000, truth)
    found = fit(prior=PRIOR, mean_mm=mean, spread_mm=spread, observed_mm=observed)
    got = (found.a, found.b, found.c, found.d)
    np.testing.assert_allclose(got, (truth.a, truth.b, truth.c, truth.d), atol=0.05)
    assert found.pairs == 20_000
    assert found.weight == pytest.approx(20_000 / (20_000 + PRIOR.half_weight_pairs))


def test_without_pairs_the_default_stands_and_says_so() -> None:
    assert fit(prior=PRIOR, mean_mm=[], spread_mm=[], observed_mm=[]) == DEFAULT
    assert fit(prior=PRIOR, mean_mm=[NAN], spread_mm=[1.0], observed_mm=[2.0]) == DEFAULT
    assert DEFAULT.default
    assert not DEFAULT.is_identity


def test_unknown_and_impossible_pairs_are_dropped() -> None:
    clean = fit(prior=PRIOR, mean_mm=[1.0, 5.0], spread_mm=[1.0, 2.0], observed_mm=[0.0, 4.0])
    dirty = fit(
        prior=PRIOR,
        mean_mm=[1.0, NAN, 5.0, 3.0, -1.0],
        spread_mm=[1.0, 1.0, 2.0, NAN, 0.0],
        observed_mm=[0.0, 1.0, 4.0, 2.0, 1.0],
    )
    assert clean == dirty
    assert clean.pairs == 2


THETAS = st.tuples(st.floats(-2.0, 1.0), st.floats(0.0, 2.0), st.floats(0.2, 3.0), st.floats(0.0, 2.0))


@given(theta=THETAS, seed=st.integers(0, 999))
@settings(max_examples=40, deadline=None)
def test_what_the_fit_minimises_is_the_censored_likelihood_and_its_slopes(
    theta: tuple[float, ...], seed: int
) -> None:
    """Against SciPy's logistic distribution, a third of the pairs dry, and against small steps."""
    rng = np.random.default_rng(seed)
    q, r, root = rng.uniform(0, 4, 9), rng.uniform(0, 2, 9), rng.uniform(0.1, 4, 9) * ([0, 1, 1] * 3)
    share = rng.uniform(0.1, 1.0, 9)
    at = np.array(theta)
    value, slopes = _loss(at, q, r, root, share)
    curve = logistic(loc=at[0] + at[1] * q, scale=at[2] + at[3] * r)
    assert value == pytest.approx(-share @ np.where(root > 0, curve.logpdf(root), curve.logcdf(0.0)))
    for i, step in enumerate(1e-6 * np.eye(4)):
        ahead, behind = (_loss(each, q, r, root, share)[0] for each in (at + step, at - step))
        assert slopes[i] == pytest.approx((ahead - behind) / 2e-6, rel=1e-4, abs=1e-6)


def test_the_made_up_pairs_say_the_curve_and_nothing_else_from_dry_to_twenty_millimetres() -> None:
    """Evenly over the roots, narrow and wide: a fit on them alone comes back to the curve."""
    mean, spread, root = _made_up_pairs(DEFAULT)
    foretold = np.unique(mean)
    assert (foretold[0], foretold[-1]) == (0.0, 20.0)
    steps = np.diff(np.sqrt(foretold))
    assert (steps > 0.6).all()
    assert (steps < 1.4).all()
    assert all(len(np.unique(spread[mean == each])) == 2 for each in foretold[1:])
    for each in foretold:
        here = mean == each
        chance = calibrated_chance(
            mean_mm=each, spread_mm=spread[here], threshold_mm=4.0, calibration=DEFAULT
        )
        assert (root[here] >= 2.0).mean() == pytest.approx(chance.mean(), abs=0.011)
    found = fit(prior=PRIOR, mean_mm=mean, spread_mm=spread, observed_mm=root**2)
    got = (found.a, found.b, found.c, found.d)
    assert got == pytest.approx((DEFAULT.a, DEFAULT.b, DEFAULT.c, DEFAULT.d), abs=0.03)


@pytest.mark.parametrize("n", [1, 5, 15])
def test_few_pairs_change_little_even_when_they_all_say_the_opposite(n: int) -> None:
    """A wet forecast and a dry gauge, n times over; the change stays below the pairs' weight."""
    found = fit(prior=PRIOR, mean_mm=[10.0] * n, spread_mm=[4.0] * n, observed_mm=[0.0] * n)
    before, after = (
        float(calibrated_chance(mean_mm=10.0, spread_mm=4.0, threshold_mm=5.0, calibration=c))
        for c in (DEFAULT, found)
    )
    assert after < before, "but they do change something, and to the right side"
    assert before - after < found.weight
    assert found.weight == n / (n + PRIOR.half_weight_pairs)


@pytest.mark.parametrize(
    ("mean", "spread", "observed"),
    [(0.0, 0.0, 0.0), (0.0, 0.0, 30.0), (8.0, 3.0, 8.0), (500.0, 0.0, 500.0)],
    ids=["all dry", "rain out of the blue", "one same day", "a flood foretold to the mm"],
)
def test_constant_pairs_give_a_usable_curve(mean: float, spread: float, observed: float) -> None:
    found = fit(prior=PRIOR, mean_mm=[mean] * 300, spread_mm=[spread] * 300, observed_mm=[observed] * 300)
    assert np.isfinite([found.a, found.b, found.c, found.d]).all()
    assert found.b >= 0
    assert found.c > 0
    assert found.d >= 0
    chance = calibrated_chance(mean_mm=[0, 5, 20], spread_mm=[0, 3, 9], threshold_mm=5, calibration=found)
    assert ((chance > 0) & (chance < 1)).all()


def test_a_dry_season_does_not_make_the_curve_sure_of_a_storm() -> None:
    found = fit(prior=PRIOR, mean_mm=np.zeros(150), spread_mm=np.zeros(150), observed_mm=np.zeros(150))
    storm = calibrated_chance(mean_mm=12.0, spread_mm=6.0, threshold_mm=5.0, calibration=found)
    by_default = calibrated_chance(mean_mm=12.0, spread_mm=6.0, threshold_mm=5.0, calibration=DEFAULT)
    assert abs(float(storm - by_default)) < 0.1


def test_only_the_fit_pays_for_the_optimiser() -> None:
    code = (
        "import sys; from advisor.science.chance import usual_curve, calibrate_members; import numpy as np\n"
        "calibrate_members(members_mm=np.zeros((3, 24)), calibration=usual_curve(0.35, 0.6)); print('scipy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


# --- how good it was ------------------------------------------------------------------------------


def test_brier_by_hand() -> None:
    assert brier(chance=[0.8, 0.4, NAN], happened=[1, 0, 1]) == pytest.approx((0.04 + 0.16) / 2)
    assert np.isnan(brier(chance=[], happened=[]))


def test_reliability_by_hand() -> None:
    found = reliability(chance=[0.05, 0.05, 0.95, 1.0, NAN], happened=[0, 1, 1, 1, 1])
    assert [(b.low, b.count, b.happened) for b in found.bins] == [(0.0, 2, 0.5), (0.9, 2, 1.0)]
    assert found.bins[1].chance == pytest.approx(0.975)
    assert found.average_miss == pytest.approx((2 * 0.45 + 2 * 0.025) / 4)
    assert np.isnan(reliability(chance=[], happened=[]).average_miss)
