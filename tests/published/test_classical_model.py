"""Cooke's classical model against general libraries, and one published example.

Goulet, Jacques & Pigeon (2009), expert: Modeling Without Data Using Expert Opinion, The R Journal
1/1, 31-36: three experts, two seeds, 10 %, 50 % and 90 % quantiles. Their pool of the question
has the quantiles 512,931, 563,423 and 628,864 and the ends 305,000 and 845,000 (from memory, C).
It averages quantiles, where we pool distributions, and its calibration uses other degrees of
freedom; so the check is on what both share: the ends of the background, and the ratio of the
information of experts 1 and 3, whose calibration is the same and so does not enter.
"""

import numpy as np
import pytest
from scipy import stats

from claywit.learning.cooke import Seeds, background, calibration, information, score

SEEDS = Seeds(
    quantiles=np.array(
        [
            [[0.14, 0.22, 0.28], [130_000, 150_000, 200_000]],
            [[0.20, 0.30, 0.40], [165_000, 205_000, 250_000]],
            [[0.20, 0.40, 0.52], [200_000, 400_000, 500_000]],
        ]
    ),
    truths=np.array([0.27, 210_000.0]),
    levels=np.array([0.1, 0.5, 0.9]),
)
QUESTION = np.array([[350, 400, 525], [550, 600, 650], [625, 700, 800]]) * 1000.0
POOLED = np.array([512_931, 563_423, 628_864])


def test_the_background_reaches_a_tenth_past_everything_said():
    low, high = background(QUESTION[:, np.newaxis, :])
    assert (low[0], high[0]) == pytest.approx((305_000, 845_000))


def test_information_has_the_ratio_that_follows_from_the_published_pool():
    """Their pool is w . quantiles with sum 1: three equations give w; w3 / w1 = I3 / I1."""
    weights, *_ = np.linalg.lstsq(
        np.vstack([QUESTION.T / 1e5, np.ones(3)]), np.append(POOLED / 1e5, 1.0), rcond=None
    )
    found = score(SEEDS)
    assert found.calibration[0] == found.calibration[2]
    assert found.information[2] / found.information[0] == pytest.approx(
        weights[2] / weights[0], rel=1e-3
    )


@pytest.mark.parametrize("hits", [[1, 9, 9, 1], [0, 10, 10, 0], [6, 4, 5, 5], [3, 0, 0, 0]])
def test_calibration_is_the_p_value_of_scipys_g_test(hits):
    levels = np.array([0.05, 0.5, 0.95])
    truths = np.repeat([0.0, 1.0, 2.0, 3.0], hits)
    quantiles = np.tile([0.5, 1.5, 2.5], (len(truths), 1))
    expected = len(truths) * np.array([0.05, 0.45, 0.45, 0.05])
    test = stats.power_divergence(hits, expected, lambda_="log-likelihood")
    assert calibration(quantiles, truths, levels) == pytest.approx(test.pvalue, rel=1e-9)


def test_information_is_scipys_relative_entropy_to_an_even_density():
    levels, quantiles = np.array([0.05, 0.5, 0.95]), np.array([[10.0, 22.0, 40.0]])
    widths = np.array([10.0, 12.0, 18.0, 60.0])
    found = information(quantiles, levels, np.array([0.0]), np.array([100.0]))
    assert found[0] == pytest.approx(stats.entropy([0.05, 0.45, 0.45, 0.05], widths / 100))


def test_a_truth_on_a_quantile_counts_below_it():
    levels, truths = np.array([0.05, 0.5, 0.95]), np.array([20.0])
    on = calibration(np.array([[10.0, 20.0, 40.0]]), truths, levels)
    assert on == calibration(np.array([[10.0, 21.0, 40.0]]), truths, levels)
