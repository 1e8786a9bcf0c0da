"""Whether probabilities mean what they say: of pieces called at 80 %, are four in five right?

Volumes and pages of sources are from memory.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, xlog1py, xlogy
from scipy.stats import binom

from claywit.inference.network import Floats
from claywit.inference.tree import Ints
from claywit.learning.scores import bin_of, hits


@dataclass(frozen=True)
class Bin:
    """Pieces whose leading state was given a probability between *low* and *high*.

    said: its mean probability. right: for how many pieces it was the true state.
    least, most: how many would have been right, nine times in ten, had *said* been true.
    """

    low: float
    high: float
    pieces: int
    said: float
    right: int
    least: int
    most: int


def reliability(p: Floats, truth: Ints, bins: int = 10) -> tuple[Bin, ...]:
    """Return the reliability diagram of the leading state, without the bins that are empty.

    The band is the binomial's, a little wider than that of pieces with unequal probabilities
    (Hoeffding 1956, Ann. Math. Stat. 27:713); bands around what is expected, not around what
    was seen: Brocker & Smith (2007), Weather Forecast. 22:651.
    """
    led, right = p.max(axis=1), hits(p, truth)
    where = bin_of(led, bins)
    found = []
    for b in np.unique(where):
        here = where == b
        count, said = int(here.sum()), float(led[here].mean())
        least, most = binom.ppf([0.05, 0.95], count, min(said, 1.0))
        found.append(
            Bin(
                float(b) / bins,
                float(b + 1) / bins,
                count,
                said,
                int(right[here].sum()),
                int(least),
                int(most),
            )
        )
    return tuple(found)


def expected_calibration_error(bins: tuple[Bin, ...]) -> float:
    """Return the mean distance, over the pieces, between what a bin said and what was right.

    Source: Naeini, Cooper & Hauskrecht (2015), AAAI 29:2901, for the leading state.
    """
    pieces = sum(b.pieces for b in bins)
    return sum(abs(b.right - b.pieces * b.said) for b in bins) / pieces


def error_by_chance(bins: tuple[Bin, ...]) -> float:
    """Return the calibration error that faultless probabilities would show on so few pieces.

    The mean distance of a binomial count from its mean: De Moivre, as in Diaconis & Zabell
    (1991), Stat. Sci. 6:284.
    """
    pieces = sum(b.pieces for b in bins)
    return sum(_mean_distance(b.pieces, b.said) for b in bins) / pieces


def _mean_distance(count: int, share: float) -> float:
    p = min(max(share, 0.0), 1.0)
    k = min(int(np.floor(count * p)) + 1, count)
    choose = gammaln(count + 1) - gammaln(k + 1) - gammaln(count - k + 1)
    return float(2 * k * np.exp(choose + xlogy(k, p) + xlog1py(count - k + 1, -p)))


@dataclass(frozen=True)
class Answered:
    """What is right if an answer is given only where the leading state has at least *least*."""

    least: float
    answered: int
    right: int


def abstention(p: Floats, truth: Ints) -> tuple[Answered, ...]:
    """Return how many answers are right, the surest piece alone first, all pieces last.

    Pieces that are equally sure come together, so their order does not matter.
    """
    led, right = p.max(axis=1), hits(p, truth)
    values, where = np.unique(np.round(led, 12), return_inverse=True)
    answered = np.bincount(where)[::-1].cumsum()
    correct = np.bincount(where, right)[::-1].cumsum()
    return tuple(
        Answered(float(v), int(n), int(k))
        for v, n, k in zip(values[::-1], answered, correct, strict=True)
    )
