"""How large an LR a set of known pieces can support: beyond it the model extrapolates.

LRs are natural logs, of pieces of the first proposition (*one*) and of the second (*other*).

Volumes and pages of sources are from memory.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats
from claywit.learning.ratios import LN10

STEP = 0.01  # bans; how finely the empirical bounds are sought
FARTHEST = 9.0  # bans; an LR without limit counts as this


@dataclass(frozen=True)
class Bounds:
    """The smallest and the largest LR that is supported, as log10."""

    least_bans: float
    most_bans: float


def by_sources(one: Sequence[Hashable], other: Sequence[Hashable]) -> Bounds:
    """Return [1/N, N], N the smaller number of different sources of the two propositions.

    N sources among which no counterexample was met cannot tell a rate of 1 in N from none, so
    an LR beyond N rests on the shape of a table or a curve and not on pieces. The sources are
    the collections where they are given, else the pieces. Practice of LR software, which
    takes the number of sources of both propositions together; the smaller side is stricter.
    """
    fewest = min(len(set(one)), len(set(other)))
    bans = float(np.log10(max(fewest, 1)))
    return Bounds(0.0 - bans, bans)


def empirical(one: Floats, other: Floats) -> Bounds:
    """Return the empirical lower and upper bound (ELUB).

    A decision for the first proposition where the LR passes a threshold t costs 1 for each
    piece of it that is missed and t for each piece of the other that is let through. Beyond
    the bounds, with one misleading LR more on each side, that costs more than to decide
    without any LR. Source: Vergeer, van Es, de Jongh, Alberink & Stoel (2016), Sci. Justice
    56:482; the thresholds reach as far as the number of pieces does, as in LR software.
    """
    sides = [np.sort(np.clip(side / LN10, -FARTHEST, FARTHEST)) for side in (one, other)]
    least = max(min(side[0] for side in sides), -np.log10(len(one) + 1))
    most = min(max(side[-1] for side in sides), np.log10(len(other) + 1))
    first = min(0, int(np.floor(least / STEP)))
    last = max(0, int(np.floor(most / STEP)) + 1)
    at = np.arange(first, last + 1) * STEP
    theta = 10**at
    missed, passed = (np.searchsorted(side, at, side="right") / len(side) for side in sides)
    missed = (missed * len(one) + 1) / (len(one) + 1)
    passed = ((1 - passed) * len(other) + 1) / (len(other) + 1)
    worse = np.minimum(1.0, theta) < missed + theta * passed
    low, high = at[worse & (at <= 0)] + STEP, at[worse & (at >= 0)] - STEP
    return Bounds(
        min(float(low.max(initial=at[0])), 0.0), max(float(high.min(initial=at[-1])), 0.0)
    )
