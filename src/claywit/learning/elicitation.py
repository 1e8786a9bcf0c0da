"""From lowest, best and highest of a hundred pieces to the Dirichlet of a row.

The rule, the same for one expert and for a pool of several: *lowest* and *highest* are the ends
of the range that holds the true number with the confidence stated, in the middle; *best* is as
likely too high as too low. So each state has three quantiles. The row is the Dirichlet whose
Beta margins come closest to all of them at once. A margin misses a quantile by the difference of
two normal scores: of the share that it leaves below the stated number, and of the level for which
that number was stated. The sum of squares is least. The means add to one by the form of the
Dirichlet, and one n stands for the whole row.

Why normal scores and not the shares themselves, which is usual for one quantity: a margin much
too narrow misses a 5 % quantile by at most 0.05, so one state with a narrow range would make the
whole row surer than its other ranges allow. On normal scores too narrow costs more than too wide.

Source for Beta margins of one Dirichlet: R. E. Zapata-Vazquez, A. O'Hagan and L. S. Bastos (2014),
Eliciting expert judgements about a set of proportions, Journal of Applied Statistics 41 (from
memory); the rule above is ours.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import betainc, betaincinv, log_softmax, ndtri

Floats = NDArray[np.float64]

LEAST_N, MOST_N = 1.0, 1000.0
HALF_A_PIECE = 0.005
TINY = 1e-300
LEAST_SHARE = 1e-12  # a Beta of less is a point to doubles, and its quantiles are no numbers
MOST_STATES = 100  # of one question: the fit takes the cube of them, and nobody counts so many
_LOG_N = (np.log(LEAST_N), np.log(MOST_N))
_STARTS = (0.25, 1.0, 4.0)


class IncoherentError(ValueError):
    """Numbers of one question that cannot all hold; the message does not name the question."""


@dataclass(frozen=True)
class Counts:
    """Lowest, best and highest of a hundred pieces for one state."""

    lowest: float
    best: float
    highest: float

    @property
    def all_equal(self) -> bool:
        """Return whether no room for doubt was left."""
        return self.lowest == self.best == self.highest


@dataclass(frozen=True)
class Answer:
    """One expert's answer to one question, as quantiles of each state's share.

    states: the possible ones, as they stand in the model, the rest among them.
    quantiles: shape (states, levels), from 0 to 1, nan for an end that bounds nothing
        and for all of the rest.
    levels: shape (levels,), the probability below each quantile.
    best_sum: what the best guesses add to, of 100.
    rest: the state that was left open and takes what the others leave, "" if none.
    """

    states: tuple[str, ...]
    quantiles: Floats
    levels: Floats
    best_sum: float
    rest: str


@dataclass(frozen=True)
class Dirichlet:
    """The shares of some states, and how many pieces they are worth.

    margins: the n of the Beta that fits each state's range alone, nan for the rest.
    fitted: shape (states, levels), the quantiles that the row gives, beside those stated.
    """

    shares: Floats
    n: float
    margins: Floats
    fitted: Floats


def levels_of(confidence: float) -> Floats:
    """Return the levels of lowest, best and highest, stated with so many in 100 sure."""
    tail = (1 - confidence / 100) / 2
    return np.array([tail, 0.5, 1 - tail])


def answer_of(
    states: Sequence[str], counts: Mapping[str, Counts], confidence: float, rest: str = ""
) -> Answer:
    """Return the quantiles that the *counts* of one question state.

    Args:
        states: all that the question is about.
        counts: what was filled in; one state may be left open and takes the rest.
        confidence: of 100 ranges like these, how many hold the true number.
        rest: the state that always takes the rest, "" where the expert may choose.

    Raises:
        IncoherentError: the numbers cannot all hold, or too few or too many were filled in.
    """
    if len(states) > MOST_STATES:
        raise IncoherentError(f"{len(states):,} states; at most {MOST_STATES} are fitted at once")
    left = [state for state in states if state not in counts]
    if len(left) > 1:
        raise IncoherentError(f"no numbers for {' and '.join(left)}; one may be left open, no more")
    for state, count in counts.items():
        _refuse_impossible(state, count)
    _refuse_sums(counts, open_rest=bool(left))
    possible = [s for s in states if s in left or counts[s].highest > 0]
    if len(possible) < 2:
        raise IncoherentError(
            f"only {possible[0]} is left possible; give another a highest above 0"
        )
    quantiles = np.array(
        [[np.nan] * 3 if s in left else _quantiles(counts[s]) for s in possible], dtype=np.float64
    )
    total = sum(count.best for count in counts.values())
    return Answer(
        tuple(possible), quantiles, levels_of(confidence), total, rest or (left[0] if left else "")
    )


def _refuse_impossible(state: str, count: Counts) -> None:
    if not 0 <= count.lowest <= count.highest <= 100:
        outside = count.lowest if count.lowest < 0 else count.highest
        raise IncoherentError(f"{state}: {outside:g} of 100; write a number from 0 to 100")
    if count.all_equal and count.best > 0:
        raise IncoherentError(
            f"{state}: lowest, best and highest are all {count.best:g}, which leaves no doubt;"
            " widen the range"
        )
    for name, other in (("lowest", count.lowest), ("highest", count.highest)):
        if other == count.best and 0 < other < 100:
            raise IncoherentError(
                f"{state}: {name} and best are both {other:g}, but the truth may lie on either"
                f" side of the best guess; move {name}"
            )


def _refuse_sums(counts: Mapping[str, Counts], *, open_rest: bool) -> None:
    lowest = sum(count.lowest for count in counts.values())
    best = sum(count.best for count in counts.values())
    highest = sum(count.highest for count in counts.values())
    if lowest > 100:
        raise IncoherentError(f"the lowest numbers alone add to {lowest:g} of 100; lower some")
    if highest < 100 and not open_rest:
        raise IncoherentError(f"the highest numbers add to only {highest:g} of 100; raise some")
    if open_rest and best >= 100:
        raise IncoherentError(
            f"the best guesses add to {best:g} of 100, which leaves nothing for the state left open"
        )


def _quantiles(count: Counts) -> list[float]:
    """Return three increasing shares; nan for an end that bounds nothing.

    A best guess of none is read as half a piece of the hundred, or as half of the highest where
    that is less. A lowest of none leaves open how much lies near none, so it is no quantile,
    unless the highest is all: then nothing else would say how wide the range is.
    """
    low, best, high = count.lowest / 100, count.best / 100, count.highest / 100
    best = best or min(HALF_A_PIECE, high / 2)
    if best == 1:
        best = 1 - min(HALF_A_PIECE, (1 - low) / 2)
    if low == 0 and high == 1:
        return [min(HALF_A_PIECE, best / 2), best, 1 - min(HALF_A_PIECE, (1 - best) / 2)]
    return [low or np.nan, best, np.nan if high == 1 else high]


def filled(quantiles: Floats) -> Floats:
    """Return the quantiles with ends that bound nothing put half a piece from none or all."""
    low, best, high = quantiles.T
    low = np.where(np.isnan(low), np.minimum(HALF_A_PIECE, best / 2), low)
    high = np.where(np.isnan(high), 1 - np.minimum(HALF_A_PIECE, (1 - best) / 2), high)
    return np.column_stack([low, best, high])


def nearly_never(levels: Floats) -> Floats:
    """Return the quantiles of a state that one expert rules out and another does not."""
    return HALF_A_PIECE * levels


def fit_dirichlet(quantiles: Floats, levels: Floats) -> Dirichlet:
    """Return the Dirichlet whose margins come closest to the *quantiles* of all states at once.

    Args:
        quantiles: shape (states, levels), nan in the line of a state without any.
        levels: shape (levels,).
    """
    stated = ~np.isnan(quantiles[:, 1])
    middle = np.where(stated, quantiles[:, 1], 0.0)
    if not stated.all():
        middle[~stated] = max(1 - middle.sum(), HALF_A_PIECE)
    start = middle / middle.sum()
    margins = np.full(len(quantiles), np.nan)
    margins[stated] = [_margin(own, levels) for own in quantiles[stated]]
    roots = 1 / np.sqrt(margins[stated])
    # What least squares would give if the shares were known and all margins normal.
    first = float((roots.sum() / (roots**2).sum()) ** 2)
    tried = [
        _descend(quantiles[stated], levels, stated, start, min(max(first * f, LEAST_N), MOST_N))
        for f in (_STARTS if stated.sum() > 1 else (1.0,))
    ]
    _, shares, n = min(tried, key=lambda found: found[0])
    return Dirichlet(shares, n, margins, margins_at(shares, n, levels))


def margins_at(shares: Floats, n: float, levels: Floats) -> Floats:
    """Return the quantiles of each state's share under a Dirichlet, shape (states, levels)."""
    own = np.clip(shares[:, np.newaxis], LEAST_SHARE, 1 - LEAST_SHARE)
    found: Floats = betaincinv(n * own, n * (1 - own), levels)
    return found


def _descend(
    quantiles: Floats, levels: Floats, stated: NDArray[np.bool_], start: Floats, n: float
) -> tuple[float, Floats, float]:
    """Return the sum of squares reached from one start, with the shares and n there."""

    def unpack(x: Floats) -> tuple[Floats, float]:
        logits = np.append(x[:-1], 0.0)
        return np.exp(log_softmax(logits)), float(np.exp(np.clip(x[-1], *_LOG_N)))

    def misses(x: Floats) -> Floats:
        shares, size = unpack(x)
        own = np.clip(shares[stated, np.newaxis], LEAST_SHARE, 1 - LEAST_SHARE)
        below = np.clip(betainc(size * own, size * (1 - own), quantiles), 1e-15, 1 - 1e-15)
        score: Floats = ndtri(below) - wanted
        return score[known]

    known, wanted = ~np.isnan(quantiles), ndtri(levels)
    at = np.append(np.log(start[:-1] / start[-1]), np.log(n))
    found = least_squares(misses, at, method="lm", xtol=1e-10, ftol=1e-10, gtol=1e-10)
    return (float(found.cost), *unpack(found.x))


def _margin(quantiles: Floats, levels: Floats) -> float:
    """Return the n of the Beta that comes closest to three quantiles."""
    whole = filled(quantiles[np.newaxis])[0]
    spread = max((whole[-1] - whole[0]) / (ndtri(levels[-1]) - ndtri(levels[0])), TINY)
    # Divided twice: the square of a range of a hair is 0.
    guess = quantiles[1] / spread * ((1 - quantiles[1]) / spread)
    start = np.array([quantiles[1], 1 - quantiles[1]])
    only = np.array([True, False])
    n = min(max(guess, LEAST_N), MOST_N)
    return _descend(quantiles[np.newaxis], levels, only, start, n)[2]


def completed(answer: Answer, fit: Dirichlet) -> Floats:
    """Return the quantiles of all states: those stated, and what the fit gives the rest."""
    open_line = np.isnan(answer.quantiles[:, 1:2])
    return np.where(open_line, fit.fitted, answer.quantiles)


def rounded(states: Sequence[str], shares: Floats, decimals: int = 4) -> dict[str, float]:
    """Return shares of so many decimals that add to exactly one, none of them 0.

    What rounding takes or adds goes to the largest, where it is noticed least.
    """
    unit = 10**decimals
    whole = np.maximum(np.rint(shares * unit), 1).astype(int)
    whole[np.argmax(whole)] += unit - whole.sum()
    return {
        state: round(int(part) / unit, decimals) for state, part in zip(states, whole, strict=True)
    }


def round_n(n: float) -> float:
    """Return an n at two digits: no judgement is known better."""
    return float(f"{n:.2g}")


def apart(ranges: Sequence[tuple[float, float]]) -> bool:
    """Return whether two of the ranges do not meet at all."""
    return any(before[1] < after[0] for before, after in pairwise(sorted(ranges)))
