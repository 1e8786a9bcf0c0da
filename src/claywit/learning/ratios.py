"""How good likelihood ratios are: log LRs of pieces of one proposition, and of the other.

*one* and *other* are natural log LRs, for the first proposition against the second, of pieces
for which the first or the second is known to be true; at least one piece each. An LR of 0 or
without limit is allowed. The two sides weigh the same, however many pieces each has.

Volumes and pages of sources are from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from scipy.optimize import isotonic_regression

from claywit.inference.network import Floats

LN2 = log(2)
LN10 = log(10)


def cllr(one: Floats, other: Floats) -> float:
    """Return the log-likelihood-ratio cost in bits: 0 faultless, 1 as good as no LR at all.

    Source: Brummer & du Preez (2006), Comput. Speech Lang. 20:230.
    """
    return float((bits_lost(-one).mean() + bits_lost(other).mean()) / 2)


def bits_lost(against: Floats) -> Floats:
    """Return log2(1 + exp(against)), what an LR costs a piece at even odds."""
    lost: Floats = np.logaddexp(0.0, against) / LN2
    return lost


def best_calibrated(one: Floats, other: Floats) -> tuple[Floats, Floats]:
    """Return the log LRs that keep the order of the given ones and have the least `cllr`.

    Isotonic regression of the truth by pool-adjacent-violators, then the odds of each pool
    over the overall odds. Source: Brummer & du Preez (2006), section 6.
    """
    values, where = np.unique(np.concatenate([one, other]), return_inverse=True)
    count = np.bincount(where)  # equal LRs are one pool from the start
    held = np.bincount(where[: len(one)], minlength=len(values))
    fit = isotonic_regression(held / count, weights=count).x
    with np.errstate(divide="ignore"):
        best = np.log(fit) - np.log1p(-fit) - np.log(len(one) / len(other))
    return best[where[: len(one)]], best[where[len(one) :]]


def least_cllr(one: Floats, other: Floats) -> float:
    """Return the `cllr` that the best calibration could bring, which is the cost of the order."""
    return cllr(*best_calibrated(one, other))


def calibration_loss(one: Floats, other: Floats) -> float:
    """Return by how much `cllr` passes the least it could be with the LRs in this order."""
    return cllr(one, other) - least_cllr(one, other)


@dataclass(frozen=True)
class Entropy:
    """The empirical cross-entropy in bits at one prior, as given and at best; and with LR = 1."""

    prior_bans: float
    given: float
    best: float
    neutral: float


def cross_entropy(one: Floats, other: Floats, prior_bans: Sequence[float]) -> tuple[Entropy, ...]:
    """Return the empirical cross-entropy at each of the prior log10 odds.

    Source: Ramos & Gonzalez-Rodriguez (2013), Forensic Sci. Int. 230:156.
    """
    best = best_calibrated(one, other)
    neutral = (np.zeros(1), np.zeros(1))
    return tuple(
        Entropy(b, _entropy((one, other), b), _entropy(best, b), _entropy(neutral, b))
        for b in prior_bans
    )


def _entropy(sides: tuple[Floats, Floats], prior_bans: float) -> float:
    odds = prior_bans * LN10
    share = float(np.exp(-np.logaddexp(0.0, -odds)))
    one, other = sides
    return share * float(bits_lost(-one - odds).mean()) + (1 - share) * float(
        bits_lost(other + odds).mean()
    )


@dataclass(frozen=True)
class Misleading:
    """How many LRs of each side point the wrong way."""

    one: int
    other: int


def misleading(one: Floats, other: Floats) -> Misleading:
    """Return how often LRs, as natural logs, speak for what is not so."""
    return Misleading(int((one < 0).sum()), int((other > 0).sum()))
