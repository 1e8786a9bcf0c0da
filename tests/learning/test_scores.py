"""Scores of probabilities, against scikit-learn and by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.metrics import brier_score_loss, confusion_matrix, log_loss

from claywit.learning import calibration, scores


def made(seed, pieces, states, noise=1.0):
    """Return probabilities and truths of pieces drawn with *seed*."""
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, states, pieces)
    logits = noise * rng.standard_normal((pieces, states)) + 2 * np.eye(states)[truth]
    p = np.exp(logits)
    return p / p.sum(axis=1, keepdims=True), truth


@pytest.mark.parametrize(("seed", "pieces", "states"), [(1, 40, 2), (2, 91, 5), (3, 300, 3)])
def test_scores_agree_with_scikit_learn(seed, pieces, states):
    p, truth = made(seed, pieces, states)
    labels = list(range(states))
    assert scores.log_losses(np.log(p), truth).mean() == pytest.approx(
        log_loss(truth, p, labels=labels), abs=1e-10
    )
    assert scores.hits(p, truth).sum() == (p.argmax(axis=1) == truth).sum()
    assert (
        scores.confusion(p, truth) == confusion_matrix(truth, p.argmax(axis=1), labels=labels)
    ).all()
    each = sum(brier_score_loss(truth == k, p[:, k]) for k in labels)
    assert scores.brier_losses(p, truth).mean() == pytest.approx(each, abs=1e-10)


def test_a_truth_that_was_excluded_costs_without_limit():
    log_p = np.log(np.array([[0.5, 0.5], [1.0, 1e-300]]))
    log_p[1, 1] = -np.inf
    assert scores.log_losses(log_p, np.array([0, 1])).tolist() == [pytest.approx(np.log(2)), np.inf]


def test_the_log_score_of_a_certain_truth_is_plain_zero():
    lost = scores.log_losses(np.array([[0.0, -np.inf]]), np.array([0]))
    assert str(lost[0]) == "0.0"


@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(1, 60), st.integers(1, 12))
@settings(max_examples=40, deadline=None)
def test_the_parts_of_the_brier_score_add_up_to_it(seed, states, pieces, bins):
    p, truth = made(seed, pieces, states, noise=3.0)
    found = scores.murphy_of_all(p, truth, bins)
    assert found.brier == pytest.approx(scores.brier_losses(p, truth).mean(), abs=1e-12)
    assert found.reliability >= 0
    assert found.resolution >= 0


def test_equal_probabilities_leave_nothing_within_a_bin():
    p = np.array([0.2, 0.2, 0.2, 0.2, 0.8, 0.8])
    happened = np.array([0, 0, 0, 1, 1, 1.0])
    found = scores.murphy(p, happened, scores.bin_of(p))
    assert found.within == pytest.approx(0, abs=1e-15)
    assert found.reliability == pytest.approx(
        (4 * 0.05**2 + 2 * 0.2**2) / 6
    )  # .2 said, .25 seen; .8 said, 1 seen
    assert found.uncertainty == pytest.approx(0.25)


def test_the_last_bin_holds_certainty():
    assert scores.bin_of(np.array([0.0, 0.0999, 0.1, 0.95, 1.0])).tolist() == [0, 0, 1, 9, 9]


def test_the_calibration_error_is_the_mean_distance_by_bin():
    p = np.array([[0.9, 0.1], [0.9, 0.1], [0.6, 0.4], [0.6, 0.4]])
    truth = np.array([0, 1, 0, 0])
    bins = calibration.reliability(p, truth)
    assert [(b.pieces, b.right) for b in bins] == [(2, 2), (2, 1)]
    assert calibration.expected_calibration_error(bins) == pytest.approx((2 * 0.4 + 2 * 0.4) / 4)


def test_the_reliability_diagram_agrees_with_scikit_learn():
    from sklearn.calibration import calibration_curve

    p, truth = made(5, 400, 4)
    led, right = p.max(axis=1), p.argmax(axis=1) == truth
    seen, said = calibration_curve(right, led, n_bins=10)
    bins = calibration.reliability(p, truth)
    assert [b.right / b.pieces for b in bins] == pytest.approx(seen, abs=1e-10)
    assert [b.said for b in bins] == pytest.approx(said, abs=1e-10)


def test_the_error_by_chance_is_what_faultless_probabilities_show():
    """Simulated: what is true is drawn with the very probabilities that were said."""
    p, _ = made(7, 60, 3)
    rng = np.random.default_rng(8)
    errors, by_chance = [], []
    for _ in range(600):
        truth = (p.cumsum(axis=1) > rng.random((60, 1))).argmax(axis=1)
        bins = calibration.reliability(p, truth)
        errors.append(calibration.expected_calibration_error(bins))
        by_chance.append(calibration.error_by_chance(bins))
    assert np.mean(errors) == pytest.approx(by_chance[0], rel=0.06)


@pytest.mark.parametrize(
    ("count", "share"), [(1, 0.5), (7, 0.31), (12, 1.0), (5, 0.0), (40, 0.975), (6, 0.5)]
)
def test_the_mean_distance_of_a_count_is_that_of_the_binomial(count, share):
    from scipy.stats import binom

    k = np.arange(count + 1)
    expected = (binom.pmf(k, count, share) * np.abs(k - count * share)).sum()
    assert calibration._mean_distance(count, share) == pytest.approx(expected, abs=1e-12)


def test_abstention_ends_with_all_pieces_and_does_not_mind_their_order():
    p, truth = made(9, 50, 3)
    p[10:20] = p[0]  # ten pieces as sure as another
    curve = calibration.abstention(p, truth)
    assert (curve[-1].answered, curve[-1].right) == (50, scores.hits(p, truth).sum())
    order = np.random.default_rng(1).permutation(50)
    assert calibration.abstention(p[order], truth[order]) == curve
