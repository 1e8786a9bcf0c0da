"""Published values of the scores that `claywit evaluate` prints.

- Cllr: Brummer & du Preez (2006), Computer Speech and Language 20:230; the rows are those of
  the public test suite of the library lir.
- Brier: the docstring of scikit-learn's brier_score_loss; Wilks (1995), Statistical Methods in
  the Atmospheric Sciences, Table 7.3, p. 246, as quoted in the R package verification with two
  cells corrected; the parts were recomputed from its rows.
- Isotonic regression: rows of scikit-learn's and of R's isoreg examples.
"""

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from claywit.learning import ratios, scores

CLLR = [
    (1, [1, 1], [1, 1]),
    (2, [3, 3], [1 / 3, 1 / 3]),
    (0.4150374992788437, [1 / 3, 1 / 3], [3, 3]),
    (0.7075187496394219, [1 / 3, 1 / 3], [1]),
    (0.507177646488535, [0.01] * 100, [1]),
    (0.5400680236656377, [0.01] * 100 + [100], [1]),
]


@pytest.mark.parametrize(("expected", "lr_other", "lr_one"), CLLR)
def test_cllr_is_as_published(expected, lr_other, lr_one):
    assert ratios.cllr(np.log(lr_one), np.log(lr_other)) == pytest.approx(expected, abs=1e-10)


def test_the_brier_score_is_as_published():
    p = np.array([0.1, 0.9, 0.8, 0.3])
    lost = scores.brier_losses(np.stack([1 - p, p], axis=1), np.array([0, 1, 1, 0]))
    assert lost.mean() / 2 == pytest.approx(0.0375, abs=1e-12)  # theirs counts one of two states


SAID = [0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
SEEN = [0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933]
WEIGHT = [
    0.4112,
    0.0671,
    0.1833,
    0.0986,
    0.0616,
    0.0366,
    0.0303,
    0.0275,
    0.0245,
    0.022,
    0.017,
    0.0203,
]


def test_the_parts_of_the_brier_score_are_as_in_wilks():
    found = scores.murphy(np.array(SAID), np.array(SEEN), np.arange(12), np.array(WEIGHT))
    assert found.reliability == pytest.approx(0.00082762, abs=1e-8)
    assert found.resolution == pytest.approx(0.06278663, abs=1e-8)
    assert found.uncertainty == pytest.approx(0.13542005, abs=1e-8)
    assert found.brier == pytest.approx(0.07346104, abs=1e-8)
    assert found.within == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize(
    ("y", "fit"), [([3, 7, 5, 9, 8, 7, 10], [3, 6, 6, 8, 8, 8, 10]), ([10, 0, 2], [4, 4, 4])]
)
def test_pools_of_violators_are_as_published(y, fit):
    assert isotonic_regression(np.array(y, dtype=float)).x == pytest.approx(fit)
