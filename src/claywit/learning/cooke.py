"""Cooke's classical model: what an expert's ranges are worth, by questions with known answers.

Every expert states the same quantiles (as 5 %, 50 %, 95 %) of every seed quantity. Two scores
are read off: *calibration*, how well the truths fall where the quantiles said they would, and
*information*, how much narrower the ranges are than a background that knows nothing. Neither
is worth anything alone; the weight is their product.

Source: R. M. Cooke (1991), Experts in Uncertainty, Oxford University Press, chapter 12 (from
memory); the worked example in tests/published is from V. Goulet, M. Jacques and M. Pigeon
(2009), The R Journal 1/1.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import rel_entr
from scipy.stats import chi2

Floats = NDArray[np.float64]

OVERSHOOT = 0.1  # how far the background reaches past everything said, in parts of its extent
LEAST_SHARE = 0.01  # a smaller share is none: nobody should speak alone who is hardly believed
POOLED_LEVELS = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Seeds:
    """What the experts said of quantities whose truth is known.

    quantiles: shape (experts, seeds, levels), increasing along the last axis, on the scale on
        which the background is even (logarithms for a seed on a log scale).
    truths: shape (seeds,), on the same scale.
    levels: shape (levels,), the probability below each quantile.
    """

    quantiles: Floats
    truths: Floats
    levels: Floats

    def without(self, seed: int) -> "Seeds":
        """Return the same answers without one seed question."""
        return Seeds(
            np.delete(self.quantiles, seed, axis=1), np.delete(self.truths, seed), self.levels
        )


@dataclass(frozen=True)
class Scores:
    """How well each of several experts did: calibration from 0 to 1, information in nats."""

    calibration: Floats
    information: Floats


@dataclass(frozen=True)
class Weighting:
    """The share of each expert, and how their pool would have done on the same seeds.

    cutoff: the calibration below which an expert has no share.
    """

    scores: Scores
    weights: Floats
    cutoff: float
    pool: Scores
    equal_pool: Scores


def shares_between(levels: Floats) -> Floats:
    """Return the probability that the levels leave to each interval between the quantiles."""
    return np.diff(levels, prepend=0.0, append=1.0)


def calibration(quantiles: Floats, truths: Floats, levels: Floats) -> float:
    """Return the probability of a fit as bad as this one, were the expert's levels right.

    C = 1 - F(2 N I(s, p)), F of chi-square with as many degrees of freedom as there are
    quantiles, s the shares of the N truths in each interval, p what the levels say, and
    I(s, p) = sum of s ln(s / p). A truth on a quantile counts below it.

    Args:
        quantiles: shape (seeds, levels).
        truths: shape (seeds,).
        levels: shape (levels,).
    """
    expected = shares_between(levels)
    interval = (truths[:, np.newaxis] > quantiles).sum(axis=1)
    found = np.bincount(interval, minlength=len(expected)) / len(truths)
    distance = float(rel_entr(found, expected).sum())
    return float(chi2.sf(2 * len(truths) * distance, len(levels)))


def background(quantiles: Floats, truths: Floats | None = None) -> tuple[Floats, Floats]:
    """Return the ends of the even background of each item, 10 % past everything said of it.

    Args:
        quantiles: shape (experts, items, levels).
        truths: shape (items,), where they are known; the background holds them too.
    """
    low, high = quantiles.min(axis=(0, 2)), quantiles.max(axis=(0, 2))
    if truths is not None:
        low, high = np.minimum(low, truths), np.maximum(high, truths)
    reach = OVERSHOOT * (high - low)
    return low - reach, high + reach


def information(quantiles: Floats, levels: Floats, low: Floats, high: Floats) -> Floats:
    """Return for each item how much narrower it is than the background, in nats.

    I = ln(high - low) + sum of p_i ln(p_i / width_i), with p_i the probability and width_i the
    width of the interval between two quantiles, the background's ends outside of them.

    Args:
        quantiles: shape (..., items, levels).
        levels: shape (levels,).
        low: shape (items,).
        high: shape (items,).
    """
    ends = (*quantiles.shape[:-1], 1)
    edges = np.concatenate(
        [
            np.broadcast_to(low[:, np.newaxis], ends),
            quantiles,
            np.broadcast_to(high[:, np.newaxis], ends),
        ],
        axis=-1,
    )
    p = shares_between(levels)
    found: Floats = np.log(high - low) + (p * np.log(p / np.diff(edges))).sum(axis=-1)
    return found


def pooled(
    quantiles: Floats, levels: Floats, weights: Floats, ends: tuple[float, float], at: Floats
) -> Floats:
    """Return the quantiles *at* given levels of the linear pool of several experts on one item.

    Each expert's probability is spread evenly between his quantiles and out to the ends of the
    background; the pool is the weighted sum of these distributions.

    Args:
        quantiles: shape (experts, levels), increasing along the last axis.
        levels: shape (experts, levels): experts may have been sure to different degrees.
        weights: shape (experts,), with sum 1.
        ends: of the background.
        at: levels asked for.
    """
    low, high = ends
    knots = np.unique(np.concatenate([[low, high], quantiles.ravel()]))
    below = np.zeros(len(knots))
    for own, level, weight in zip(quantiles, levels, weights, strict=True):
        if weight > 0:
            below += weight * np.interp(knots, [low, *own, high], [0.0, *level, 1.0])
    found: Floats = np.interp(at, below, knots)
    return found


def score(seeds: Seeds) -> Scores:
    """Return the calibration and the mean information of every expert."""
    low, high = background(seeds.quantiles, seeds.truths)
    known = information(seeds.quantiles, seeds.levels, low, high).mean(axis=1)
    fits = [calibration(own, seeds.truths, seeds.levels) for own in seeds.quantiles]
    return Scores(np.array(fits), known)


def weigh_experts(seeds: Seeds, cutoff: float | None = None) -> Weighting:
    """Return each expert's share: calibration times information, above a cut-off.

    Without a *cutoff* it is the one of the experts' calibrations at which the pool itself has
    the greatest weight; of equal ones, the lowest, which leaves out the fewest.

    Raises:
        ValueError: no expert's calibration reaches the *cutoff*.
    """
    scores = score(seeds)
    if cutoff is not None:
        if scores.calibration.max() < cutoff:
            best = scores.calibration.max()
            raise ValueError(
                f"no expert reaches a calibration of {cutoff:g}; the best has {best:.2g}"
            )
        return _weighting(seeds, scores, cutoff)
    tried = [_weighting(seeds, scores, float(c)) for c in np.unique(scores.calibration)]
    return max(tried, key=lambda w: float(w.pool.calibration[0] * w.pool.information[0]))


def _weighting(seeds: Seeds, scores: Scores, cutoff: float) -> Weighting:
    kept = np.where(scores.calibration >= cutoff, scores.calibration * scores.information, 0.0)
    even = np.full(len(kept), 1 / len(kept))
    # Calibration can underflow to 0 for everyone; then the seeds cannot tell them apart.
    weights = kept / kept.sum() if kept.sum() > 0 else even
    heard = np.where(weights >= LEAST_SHARE, weights, 0.0)
    weights = heard / heard.sum()
    return Weighting(scores, weights, cutoff, _score_pool(seeds, weights), _score_pool(seeds, even))


def _score_pool(seeds: Seeds, weights: Floats) -> Scores:
    low, high = background(seeds.quantiles, seeds.truths)
    levels = np.broadcast_to(seeds.levels, (len(weights), len(seeds.levels)))
    answers = np.array(
        [
            pooled(seeds.quantiles[:, j], levels, weights, (low[j], high[j]), seeds.levels)
            for j in range(len(seeds.truths))
        ]
    )
    fit = calibration(answers, seeds.truths, seeds.levels)
    known = information(answers, seeds.levels, low, high).mean()
    return Scores(np.array([fit]), np.array([known]))


def weights_without_one(seeds: Seeds) -> list[list[float]]:
    """Return the weights that come out when each seed question is left out in turn.

    Of a single seed nothing would be left, so all experts weigh the same.
    """
    if len(seeds.truths) == 1:
        return [[1 / len(seeds.quantiles)] * len(seeds.quantiles)]
    return [weigh_experts(seeds.without(j)).weights.tolist() for j in range(len(seeds.truths))]
