"""Published figures of agreement, each beside its source."""

import numpy as np
import pytest

from claywit.learning.kappa import alpha, cohen, coincidences, fleiss


@pytest.mark.parametrize(
    ("table", "kappa"),
    [
        # Artstein & Poesio (2008), Computational Linguistics 34(4), 555-596, Table 1: 0.348
        ([[20, 20], [10, 50]], 0.348),
        # A worked example of the web (easycalculation.com): 0.21
        ([[12, 2], [4, 2]], 0.21),
        # SAS output reproduced in statsmodels, test_inter_rater.py: 0.4842
        ([[0, 4, 1], [0, 8, 0], [0, 1, 5]], 0.4842),
    ],
)
def test_cohens_kappa_is_the_published_one(table, kappa):
    decimals = len(str(kappa)) - 2
    assert round(float(cohen(np.array(table, dtype=float))), decimals) == kappa


# Krippendorff, K. (2011), Computing Krippendorff's Alpha-Reliability: four observers, twelve
# units, gaps; nominal .743, interval .849 (data and values from memory, C; recomputed here).
FOUR_OBSERVERS = """
1 2 3 3 2 1 4 1 2 . . .
1 2 3 3 2 2 4 1 2 5 . 3
. 3 3 3 2 3 4 2 2 5 1 .
1 2 3 3 2 4 4 1 2 5 1 .
"""


def units():
    rows = [line.split() for line in FOUR_OBSERVERS.split("\n") if line]
    counts = np.zeros((12, 5))
    for row in rows:
        for unit, value in enumerate(row):
            if value != ".":
                counts[unit, int(value) - 1] += 1
    return coincidences(counts).sum(axis=0)


def test_krippendorffs_alpha_is_the_published_one_with_gaps():
    assert round(float(alpha(units())), 3) == 0.743
    assert round(float(alpha(units(), power=2)), 3) == 0.849


# Fourteen raters, ten subjects, five categories: the worked example of the Wikipedia article
# "Fleiss' kappa", 0.210 (from memory, C; recomputed here).
FOURTEEN_RATERS = [
    [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
]  # fmt: skip


def test_fleiss_kappa_is_the_published_one():
    found = fleiss(coincidences(np.array(FOURTEEN_RATERS, dtype=float)).sum(axis=0))
    assert round(float(found), 3) == 0.210
