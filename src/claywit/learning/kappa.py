"""How far two or more examiners read alike, beyond what chance would give.

Every coefficient is worked out from tables that add up piece by piece, so a bootstrap over
pieces is a weighted sum of them. Leading axes are kept: one call does many tables.

Sources: Cohen (1960), Cohen (1968) for weights, Fleiss (1971), Krippendorff (2011) for alpha
and its treatment of gaps; all from memory, checked in tests/published.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Statistic = Callable[[Floats], Floats]

DRAWS = 2000
_CELLS = 4_000_000  # of the draws that are held at once


def disagreement(states: int, power: int) -> Floats:
    """Return how much two readings differ, from 0 to 1, shape (states, states).

    power: 0 for all differences alike; 1 for the steps between them in the order of the states
        (linear weights), 2 for the square of the steps (quadratic weights).
    """
    steps = np.abs(np.subtract.outer(np.arange(states), np.arange(states)))
    if power == 0:
        return (steps > 0).astype(np.float64)
    found: Floats = (steps / max(states - 1, 1)) ** power
    return found


def share_agreeing(tables: Floats) -> Floats:
    """Return the share of the diagonal of tables of shape (..., states, states)."""
    return _ratio(np.trace(tables, axis1=-2, axis2=-1), tables.sum(axis=(-2, -1)))


def cohen(tables: Floats, power: int = 0) -> Floats:
    """Return Cohen's kappa of tables of counts, shape (..., states, states).

    kappa = 1 - D_found / D_chance, D the mean disagreement; nan where chance alone agrees
    wholly, as where both examiners gave one state to every piece.
    """
    weight = disagreement(tables.shape[-1], power)
    total = tables.sum(axis=(-2, -1))
    found = (tables * weight).sum(axis=(-2, -1)) * total
    rows, columns = tables.sum(axis=-1), tables.sum(axis=-2)
    chance = np.einsum("...i,ij,...j->...", rows, weight, columns)
    kappa: Floats = 1 - _ratio(found, chance)
    return kappa


def coincidences(counts: Floats) -> Floats:
    """Return for each piece the pairs of its readings by state, shape (pieces, states, states).

    A piece with m readings gives m (m - 1) ordered pairs, each of weight 1 / (m - 1); one with
    a single reading gives none.

    Args:
        counts: how often each piece was read as each state, shape (pieces, states).
    """
    pairs = counts[:, :, np.newaxis] * counts[:, np.newaxis, :]
    own = np.arange(counts.shape[1])
    pairs[:, own, own] -= counts
    readings = counts.sum(axis=1)
    weight = np.where(readings > 1, 1 / np.maximum(readings - 1, 1), 0.0)
    found: Floats = pairs * weight[:, np.newaxis, np.newaxis]
    return found


def alpha(tables: Floats, power: int = 0) -> Floats:
    """Return Krippendorff's alpha of summed coincidences, shape (..., states, states).

    alpha = 1 - (n - 1) D_found / D_chance over the n readings that stand in pairs; *power* 0 is
    its nominal form, 2 its interval form on the numbers of the states.
    """
    weight = disagreement(tables.shape[-1], power)
    each = tables.sum(axis=-1)
    n = each.sum(axis=-1)
    found = (tables * weight).sum(axis=(-2, -1)) * (n - 1)
    chance = np.einsum("...i,ij,...j->...", each, weight, each)
    value: Floats = 1 - _ratio(found, chance)
    return value


def fleiss(tables: Floats) -> Floats:
    """Return Fleiss's kappa of summed coincidences, every piece read equally often.

    The same disagreement as in alpha, against chance drawn with replacement.
    """
    weight = disagreement(tables.shape[-1], 0)
    each = tables.sum(axis=-1)
    found = (tables * weight).sum(axis=(-2, -1)) * each.sum(axis=-1)
    value: Floats = 1 - _ratio(found, np.einsum("...i,ij,...j->...", each, weight, each))
    return value


def resampled(pieces: Floats, rng: np.random.Generator, draws: int = DRAWS) -> Floats:
    """Return summed tables of as many pieces, drawn again with replacement.

    Args:
        pieces: the table of each piece, shape (pieces, states, states).
        rng: what draws.
        draws: how many samples.
    """
    flat = pieces.reshape(len(pieces), -1)
    kinds, count = np.unique(flat, axis=0, return_counts=True)
    size = max(1, _CELLS // len(kinds))
    sums = [
        rng.multinomial(len(pieces), count / count.sum(), size=min(size, draws - first)) @ kinds
        for first in range(0, draws, size)
    ]
    return np.concatenate(sums).reshape(-1, *pieces.shape[1:])


def interval(samples: Floats, statistic: Statistic) -> tuple[float, float] | None:
    """Return the middle 95 % of a *statistic* over resampled tables.

    None where more than a tenth of them leave it without a value: then its spread would be
    that of the samples that happen to have one.
    """
    found = statistic(samples)
    known = found[~np.isnan(found)]
    if len(known) < 0.9 * len(found):
        return None
    low, high = np.quantile(known, [0.025, 0.975])
    return float(low), float(high)


def _ratio(above: Floats, below: Floats) -> Floats:
    """Return the quotient; nan where there is nothing below."""
    above, below = np.broadcast_arrays(above, below)
    found: Floats = np.divide(
        above, below, out=np.full(np.shape(below), np.nan), where=np.asarray(below) > 0
    )
    return found
