"""The pool of several experts, and what their seeds are worth."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from claywit.learning.cooke import Seeds, pooled, shares_between, weigh_experts, weights_without_one

LEVELS = np.array([0.05, 0.5, 0.95])


def seeds(*factors, count=12, seed=1):
    """Experts who all know each truth to 10 %, and give ranges that are so many times as wide."""
    rng = np.random.default_rng(seed)
    truths = rng.uniform(50, 150, count)
    near = truths * rng.normal(1, 0.1, count)
    half = 0.1 * 1.645 * near
    said = [[near - f * half, near, near + f * half] for f in factors]
    return Seeds(np.array(said).transpose(0, 2, 1), truths, LEVELS)


def test_ranges_of_the_right_width_outweigh_narrow_and_wide_ones():
    found = weigh_experts(seeds(0.2, 1.0, 5.0))
    assert found.weights.argmax() == 1
    assert found.weights.sum() == pytest.approx(1)


def test_the_optimal_cutoff_never_makes_a_pool_worse_than_no_cutoff():
    asked = seeds(0.3, 1.0, 3.0, seed=4)
    best, none = weigh_experts(asked), weigh_experts(asked, 0.0)
    worth = [float(w.pool.calibration[0] * w.pool.information[0]) for w in (best, none)]
    assert worth[0] >= worth[1]


def test_below_the_cutoff_an_expert_has_no_weight():
    found = weigh_experts(seeds(0.2, 1.0), 0.05)
    assert found.scores.calibration[0] < 0.05
    assert found.weights.tolist() == [0.0, 1.0]


def test_a_cutoff_that_nobody_reaches_is_refused_with_the_best_that_was_reached():
    with pytest.raises(ValueError, match=r"no expert reaches a calibration of 0\.9"):
        weigh_experts(seeds(0.2, 0.3), 0.9)


def test_experts_of_whom_nothing_is_calibrated_weigh_the_same():
    """Ranges a hundred thousand times too narrow: calibration underflows for both."""
    asked = seeds(1e-5, 1e-5, count=60)
    far = Seeds(asked.quantiles, asked.truths + 1000, LEVELS)
    narrow = Seeds(np.repeat(far.quantiles, 10, axis=1), np.repeat(far.truths, 10), LEVELS)
    assert weigh_experts(narrow).weights.tolist() == pytest.approx([0.5, 0.5])


def test_weights_are_given_with_each_seed_left_out():
    left = weights_without_one(seeds(0.5, 1.0, 2.0, count=5))
    assert np.array(left).shape == (5, 3)
    assert np.array(left).sum(axis=1) == pytest.approx(np.ones(5))


steps = st.lists(st.floats(0.5, 30), min_size=3, max_size=3)


@settings(max_examples=60, deadline=None)
@given(a=steps, b=steps, weight=st.floats(0.05, 0.95))
def test_the_pool_has_the_stated_levels_below_its_quantiles_as_scipy_histograms_say(a, b, weight):
    said = np.cumsum([a, b], axis=1)
    low, high = -1.0, float(said.max()) + 1
    at = pooled(said, np.tile(LEVELS, (2, 1)), np.array([weight, 1 - weight]), (low, high), LEVELS)
    p = shares_between(LEVELS)
    one, two = (stats.rv_histogram((p, np.array([low, *own, high])), density=False) for own in said)
    assert weight * one.cdf(at) + (1 - weight) * two.cdf(at) == pytest.approx(LEVELS, abs=1e-9)


def test_two_experts_who_agree_pool_to_what_they_said():
    said = np.array([[10.0, 20.0, 40.0]] * 2)
    found = pooled(said, np.tile(LEVELS, (2, 1)), np.array([0.3, 0.7]), (0.0, 60.0), LEVELS)
    assert found == pytest.approx(said[0])


def test_an_expert_who_was_less_sure_is_pooled_at_his_own_levels():
    """10 to 40 with 90 of 100 and with 50 of 100 sure: the pool's range is wider than 10 to 40."""
    said, levels = np.array([[10.0, 20.0, 40.0]] * 2), np.array([LEVELS, [0.25, 0.5, 0.75]])
    low, _, high = pooled(said, levels, np.array([0.5, 0.5]), (0.0, 60.0), LEVELS)
    assert low < 10
    assert high > 40
