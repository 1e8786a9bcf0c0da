"""Two opinions made one, linearly and in logarithms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from claywit.reasoning.pooling import normal, pool

opinions = st.lists(st.floats(0.01, 1), min_size=4, max_size=4).map(
    lambda p: np.log(np.array(p) / sum(p))
)
weights = st.floats(0.05, 0.95)


def p(logs):
    return np.exp(logs).tolist()


def test_by_hand():
    """Nine to one and one to one: the mean is 7 to 3, the mean of the log odds is 3 to 1."""
    found = pool(np.log([0.9, 0.1]), np.log([0.5, 0.5]), 0.5)
    assert p(found.linear) == pytest.approx([0.7, 0.3])
    assert p(found.logarithmic) == pytest.approx([0.75, 0.25])


def test_a_weight_leans_to_its_side():
    """A weight of 2/3 on nine to one against one to one: odds of 9^(2/3)."""
    found = pool(np.log([0.9, 0.1]), np.log([0.5, 0.5]), 2 / 3)
    assert np.exp(found.logarithmic[0] - found.logarithmic[1]) == pytest.approx(9 ** (2 / 3))
    assert p(found.linear)[0] == pytest.approx(0.9 * 2 / 3 + 0.5 / 3)


@given(opinions, opinions, weights)
def test_they_are_the_weighted_arithmetic_and_geometric_means_of_scipy(a, b, weight):
    found, both = pool(a, b, weight), np.exp([a, b])
    parts = np.outer([weight, 1 - weight], np.ones(4))
    assert p(found.linear) == pytest.approx(stats.pmean(both, 1, axis=0, weights=parts).tolist())
    means = stats.gmean(both, axis=0, weights=parts)
    assert p(found.logarithmic) == pytest.approx((means / means.sum()).tolist())


@given(opinions, opinions, opinions, weights)
def test_the_logarithmic_pool_does_not_care_when_shared_evidence_is_weighed(a, b, seen, weight):
    """External Bayesianity: pool then update, or update both then pool."""
    before = normal(pool(a, b, weight).logarithmic + seen)
    after = pool(normal(a + seen), normal(b + seen), weight).logarithmic
    assert p(before) == pytest.approx(p(after))


def test_the_linear_pool_does_care():
    a, b, seen = np.log([0.9, 0.1]), np.log([0.5, 0.5]), np.log([0.1, 0.9])
    before = normal(pool(a, b, 0.5).linear + seen)
    after = pool(normal(a + seen), normal(b + seen), 0.5).linear
    assert p(before)[0] == pytest.approx(0.07 / 0.34)
    assert p(after)[0] == pytest.approx((0.5 + 0.1) / 2)


@given(opinions, opinions, weights)
def test_the_linear_pool_does_not_care_when_states_are_joined(a, b, weight):
    def joined(logs):
        return np.array([np.logaddexp(logs[0], logs[1]), *logs[2:]])

    assert p(joined(pool(a, b, weight).linear)) == pytest.approx(
        p(pool(joined(a), joined(b), weight).linear)
    )


@given(opinions, weights)
def test_two_of_one_mind_keep_their_opinion(a, weight):
    found = pool(a, a, weight)
    assert p(found.linear) == pytest.approx(p(a))
    assert p(found.logarithmic) == pytest.approx(p(a))


def test_one_side_can_rule_a_state_out_of_the_logarithmic_pool_only():
    found = pool(np.array([0, -np.inf]), np.log([0.2, 0.8]), 0.5)
    assert p(found.linear) == pytest.approx([0.6, 0.4])
    assert p(found.logarithmic) == [1, 0]


def test_two_that_rule_each_other_out_have_no_logarithmic_pool():
    found = pool(np.array([0, -np.inf]), np.array([-np.inf, 0]), 0.5)
    assert np.isnan(found.logarithmic).all()
    assert p(found.linear) == [0.5, 0.5]


def test_all_weight_on_one_is_that_one():
    found = pool(np.array([0, -np.inf]), np.log([0.2, 0.8]), 0.0)
    assert p(found.logarithmic) == pytest.approx([0.2, 0.8])
