"""Everything that a set of pieces of known truth says of a model, as plain values."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.tree import Ints
from claywit.learning import bounds, calibration, ratios, scores
from claywit.learning.bounds import Bounds
from claywit.learning.calibration import Answered, Bin
from claywit.learning.ratios import Entropy, Misleading
from claywit.learning.resampling import DRAWS, Statistic, band, band_of_share, units
from claywit.learning.scores import Murphy
from claywit.learning.scoring import Scored

MANY = 20_000  # pieces beyond which fewer sets are drawn
PRIORS = tuple(k / 20 for k in range(-60, 61))  # bans, at which the entropy is drawn


@dataclass(frozen=True)
class Figure:
    """A figure, infinite where it has no limit, and its band over other sets like this one.

    What was fitted to the very pieces (best calibration, distances by bin) has no band: on a
    set drawn again it is worse by the drawing alone, so the band would lie beside the figure.
    """

    value: float
    band: tuple[float, float] | None


@dataclass(frozen=True)
class Answers:
    """How good the answers to the question are.

    by_prior: the log score of the model's priors alone, before any trait is weighed.
    """

    pieces: int
    sources: int
    accuracy: Figure
    log_score: Figure
    by_prior: float
    brier: Figure
    murphy: Murphy
    calibration_error: float
    error_by_chance: float
    reliability: tuple[Bin, ...]
    abstention: tuple[Answered, ...]
    confusion: Ints
    excluded: tuple[str, ...]


@dataclass(frozen=True)
class Ratios:
    """How good the LRs of the first proposition against the second are.

    one, other: the natural log LRs of each side, rising.
    sources: how many different sources each side has.
    undefined: pieces whose findings neither proposition can explain, so that there is no LR.
    """

    one: Floats
    other: Floats
    sources: tuple[int, int]
    undefined: int
    cllr: Figure
    least: float
    loss: float
    misleading: Misleading
    entropy: tuple[Entropy, ...]
    by_sources: Bounds
    empirical: Bounds


def answers(scored: Scored, rng: np.random.Generator) -> Answers | None:
    """Return how good the answers are on pieces whose truth is known; None if there are none."""
    known = scored.take(np.flatnonzero(scored.truth >= 0))
    if not known.names:
        return None
    p, truth = np.exp(known.log_p), known.truth
    losses = scores.log_losses(known.log_p, truth)
    unit = units(known.groups, known.names)
    figure = _figures(unit, rng)
    bins = calibration.reliability(p, truth)
    return Answers(
        pieces=len(truth),
        sources=int(unit.max()) + 1,
        accuracy=_of_share(figure(_mean(scores.hits(p, truth).astype(np.float64))), unit),
        log_score=figure(_mean(losses)),
        by_prior=float(scores.log_losses(known.log_prior, truth).mean()),
        brier=figure(_mean(scores.brier_losses(p, truth))),
        murphy=scores.murphy_of_all(p, truth),
        calibration_error=calibration.expected_calibration_error(bins),
        error_by_chance=calibration.error_by_chance(bins),
        reliability=bins,
        abstention=calibration.abstention(p, truth),
        confusion=scores.confusion(p, truth),
        excluded=tuple(known.names[i] for i in np.flatnonzero(np.isinf(losses))),
    )


def likelihood_ratios(scored: Scored, rng: np.random.Generator) -> Ratios | None:
    """Return how good the LRs are; None if a proposition is true of no piece."""
    told = ~np.isnan(scored.log_lr)
    rows = [np.flatnonzero((scored.side == side) & told) for side in (1, 2)]
    if not all(len(own) for own in rows):
        return None
    one, other = (scored.log_lr[own] for own in rows)
    kept = scored.take(np.concatenate(rows))
    unit, n = units(kept.groups, kept.names), len(one)
    figure = _figures(unit, rng)
    return Ratios(
        one=np.sort(one),
        other=np.sort(other),
        sources=(len(set(unit[:n])), len(set(unit[n:]))),
        undefined=int(((scored.side > 0) & ~told).sum()),
        cllr=figure(_half_and_half(ratios.bits_lost(-one), ratios.bits_lost(other))),
        least=ratios.least_cllr(one, other),
        loss=ratios.calibration_loss(one, other),
        misleading=ratios.misleading(one, other),
        entropy=ratios.cross_entropy(one, other, PRIORS),
        by_sources=bounds.by_sources(list(unit[:n]), list(unit[n:])),
        empirical=bounds.empirical(one, other),
    )


def state_cllr(scored: Scored, state: int) -> float | None:
    """Return the `cllr` of one state against all others; None where either has no piece.

    The LR is what the findings did to the odds of the state, whatever its prior was.
    """
    known = np.flatnonzero(scored.truth >= 0)
    own = scored.truth[known] == state
    if own.all() or not own.any():
        return None
    log_lr = _log_odds(scored.log_p[known], state) - _log_odds(scored.log_prior[known], state)
    return ratios.cllr(log_lr[own], log_lr[~own])


def _log_odds(log_p: Floats, state: int) -> Floats:
    """Return the log odds of a state; the others are added up, so no digit is lost near 1."""
    others: Floats = np.logaddexp.reduce(np.delete(log_p, state, axis=1), axis=1)
    return log_p[:, state] - others


def _figures(unit: Ints, rng: np.random.Generator) -> Callable[[Statistic], Figure]:
    draws = DRAWS if len(unit) <= MANY else DRAWS // 5

    def figure(statistic: Statistic) -> Figure:
        value = float(statistic(np.ones((1, len(unit))))[0])
        return Figure(value, band(statistic, unit, rng, draws) if np.isfinite(value) else None)

    return figure


def _of_share(figure: Figure, unit: Ints) -> Figure:
    sources = len(np.unique(unit))
    return Figure(figure.value, band_of_share(figure.value, figure.band, sources))


def _mean(losses: Floats) -> Statistic:
    def statistic(times: Floats) -> Floats:
        if np.isinf(losses).any():
            return np.full(len(times), np.inf)
        found: Floats = times @ losses / times.sum(axis=1)
        return found

    return statistic


def _half_and_half(one: Floats, other: Floats) -> Statistic:
    """Return the mean of the two sides' mean losses; nan where one side was not drawn."""
    mine, theirs = _mean(one), _mean(other)

    def statistic(times: Floats) -> Floats:
        with np.errstate(invalid="ignore"):
            found: Floats = (mine(times[:, : len(one)]) + theirs(times[:, len(one) :])) / 2
        return found

    return statistic
