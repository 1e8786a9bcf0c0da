"""Figures of likelihood ratios, against lir and scikit-learn, on fixed sets."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.learning import ratios
from claywit.learning.bounds import by_sources, empirical


def drawn(seed, n, m, shift=2.0, spread=1.5, step=0.0):
    """Return log LRs of *n* pieces of one side and *m* of the other, rounded to *step* so some tie."""
    rng = np.random.default_rng(seed)
    one, other = rng.normal(shift, spread, n), rng.normal(-shift, spread, m)
    return (np.round(one / step) * step, np.round(other / step) * step) if step else (one, other)


SETS = {
    "even": drawn(1, 50, 50),
    "few": drawn(2, 3, 4),
    "lopsided": drawn(3, 12, 200),
    "overconfident": drawn(4, 60, 40, shift=1.0, spread=6.0),
    "useless": drawn(5, 30, 30, shift=0.0),
    "tied": drawn(6, 40, 25, step=1.0),
    "one each": (np.array([1.0]), np.array([-2.0])),
    "far": drawn(7, 30, 30, shift=12.0, spread=9.0),
}


def llr_data(one, other):
    from lir.data.models import LLRData

    llrs = np.concatenate([one, other]) / np.log(10)
    labels = np.concatenate([np.ones(len(one)), np.zeros(len(other))]).astype(int)
    return LLRData(features=llrs, labels=labels)


@pytest.mark.parametrize("name", SETS)
def test_the_costs_agree_with_lir(name):
    from lir import metrics

    one, other = SETS[name]
    data = llr_data(one, other)
    assert ratios.cllr(one, other) == pytest.approx(metrics.cllr(data), abs=1e-10)
    assert ratios.least_cllr(one, other) == pytest.approx(metrics.cllr_min(data), abs=1e-10)
    assert ratios.calibration_loss(one, other) == pytest.approx(metrics.cllr_cal(data), abs=1e-10)


@pytest.mark.parametrize("name", SETS)
def test_the_cross_entropy_agrees_with_lir(name):
    from lir.plotting.expected_calibration_error import calculate_ece

    one, other = SETS[name]
    bans = np.linspace(-2, 2, 9)
    found = ratios.cross_entropy(one, other, bans.tolist())
    labels = np.concatenate([np.ones(len(one)), np.zeros(len(other))])
    prior = 1 / (1 + 10**-bans)
    given_ = calculate_ece(np.exp(np.concatenate([one, other])), labels, prior)
    neutral = calculate_ece(np.ones(len(labels)), labels, prior)
    # lir subtracts from 1, which costs it digits where the posterior is nearly 1.
    tolerance = 1e-10 if name != "far" else 1e-4
    assert [e.given for e in found] == pytest.approx(given_, abs=tolerance)
    assert [e.neutral for e in found] == pytest.approx(neutral, abs=1e-10)
    best = np.exp(np.concatenate(ratios.best_calibrated(one, other)))
    finite = np.minimum(best, 1e300)
    assert [e.best for e in found] == pytest.approx(
        calculate_ece(finite, labels, prior), abs=tolerance
    )


@pytest.mark.parametrize("name", SETS)
def test_the_empirical_bounds_agree_with_lir(name):
    from lir.algorithms.bayeserror import elub

    one, other = SETS[name]
    data = llr_data(one, other)
    low, high = elub(data.llrs.copy(), np.asarray(data.labels))
    found = empirical(one, other)
    assert (found.least_bans, found.most_bans) == pytest.approx((low, high), abs=1e-10)


def test_the_best_calibration_agrees_with_isotonic_regression_of_scikit_learn():
    from sklearn.isotonic import IsotonicRegression

    one, other = SETS["tied"]
    llr = np.concatenate([one, other])
    labels = np.concatenate([np.ones(len(one)), np.zeros(len(other))])
    share = IsotonicRegression().fit(llr, labels).predict(llr)
    with np.errstate(divide="ignore"):
        expected = np.log(share) - np.log(1 - share) - np.log(len(one) / len(other))
    assert np.concatenate(ratios.best_calibrated(one, other)) == pytest.approx(expected, abs=1e-10)


@given(st.integers(0, 10_000), st.integers(1, 30), st.integers(1, 30))
@settings(max_examples=40, deadline=None)
def test_calibration_never_costs_and_no_order_is_worse_than_none(seed, n, m):
    one, other = drawn(seed, n, m, shift=0.5, spread=3.0)
    assert ratios.least_cllr(one, other) <= min(ratios.cllr(one, other), 1.0) + 1e-12


def test_the_cost_at_even_odds_is_the_cllr():
    one, other = SETS["lopsided"]
    (found,) = ratios.cross_entropy(one, other, [0.0])
    assert found.given == pytest.approx(ratios.cllr(one, other), abs=1e-12)
    assert found.best == pytest.approx(ratios.least_cllr(one, other), abs=1e-12)
    assert found.neutral == pytest.approx(1.0)


def test_an_lr_without_limit_costs_nothing_on_its_side_and_everything_on_the_other():
    one, other = np.array([np.inf, 2.0]), np.array([-np.inf, -1.0])
    assert np.isfinite(ratios.cllr(one, other))
    assert ratios.cllr(one, np.array([np.inf, -1.0])) == np.inf
    assert ratios.least_cllr(one, np.array([np.inf, -1.0])) < 1


def test_sources_bound_by_the_smaller_side():
    found = by_sources(["a", "a", "b"], ["c", "d", "e", "f"])
    assert (found.least_bans, found.most_bans) == pytest.approx((-np.log10(2), np.log10(2)))
    assert by_sources(["a"], ["b", "c"]).most_bans == 0.0


def test_one_misleading_lr_pulls_the_empirical_bound_in():
    one, other = SETS["far"]
    clean, spoilt = empirical(one, other), empirical(one, np.append(other, 8.0))
    assert spoilt.most_bans < clean.most_bans
    assert clean.least_bans <= 0 <= spoilt.most_bans
