"""How each examiner reads each true state, when the truth is known of few pieces or of none.

Source: A. P. Dawid and A. M. Skene (1979), Maximum likelihood estimation of observer
error-rates using the EM algorithm, Applied Statistics 28, 20-28; its 45 patients are checked in
tests/published.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

MOST_STEPS = 2000
STILL = 1e-9  # of the log likelihood: then nothing moves any more


@dataclass(frozen=True)
class Confusion:
    """What the readings say of the examiners and of the pieces.

    matrices: P(read | true), shape (examiners, states, states), rows by the true state.
    shares: of the true states among the pieces, shape (states,).
    pieces: the probability of each state for each piece, shape (pieces, states).
    log_likelihood: in nats, the prior's part left out.
    converged: whether the steps came to rest.
    """

    matrices: Floats
    shares: Floats
    pieces: Floats
    log_likelihood: float
    converged: bool


def estimate(counts: Floats, truth: Ints | None = None, prior: float = 0.0) -> Confusion:
    """Return the confusion matrix of each examiner by EM; the start is the share of the readings.

    Readings are taken to be independent given the true state.

    Args:
        counts: how often each examiner read each piece as each state, shape (pieces, examiners,
            states); repeated readings count each.
        truth: the true state of each piece, -1 where it is not known; shape (pieces,).
        prior: pieces of each true state that every examiner is taken to have read before, evenly
            as each state; 0 is maximum likelihood.
    """
    known = _known(truth, counts.shape)
    start = counts.sum(axis=1) + 1e-12
    pieces = _settle(start / start.sum(axis=1, keepdims=True), known)
    before, moves = -np.inf, True
    for _ in range(MOST_STEPS):
        matrices, shares = _reading(counts, pieces, prior)
        pieces, log_likelihood = _weigh(counts, matrices, shares, known)
        toward = log_likelihood + _log_prior(matrices, prior)
        moves = abs(toward - before) > STILL
        if not moves:
            break
        before = toward
    return Confusion(matrices, shares, pieces, log_likelihood, not moves)


def _known(truth: Ints | None, shape: tuple[int, ...]) -> Floats:
    """Return 1 for each state that a piece may be, 0 for what its known truth rules out."""
    allowed = np.ones((shape[0], shape[2]))
    if truth is not None:
        told = truth >= 0
        allowed[told] = np.eye(shape[2])[truth[told]]
    return allowed


def _settle(pieces: Floats, known: Floats) -> Floats:
    kept = pieces * known
    total = kept.sum(axis=1, keepdims=True)
    found: Floats = np.divide(kept, total, out=known.copy(), where=total > 0)
    return found


def _reading(counts: Floats, pieces: Floats, prior: float) -> tuple[Floats, Floats]:
    """Return each examiner's matrix and the share of each state, given where the pieces stand."""
    states = counts.shape[2]
    cells = np.einsum("ij,iel->ejl", pieces, counts) + prior / states
    total = cells.sum(axis=2, keepdims=True)
    # An examiner who never read a true state has no row; evenly says that nothing is known.
    matrices = np.divide(cells, total, out=np.full(cells.shape, 1 / states), where=total > 0)
    return matrices, pieces.mean(axis=0)


def _weigh(counts: Floats, matrices: Floats, shares: Floats, known: Floats) -> tuple[Floats, float]:
    """Return the probability of each state for each piece, and the log likelihood."""
    with np.errstate(divide="ignore"):
        log_matrices, log_shares = np.log(matrices), np.log(shares * known)
    # A reading that was never made must not meet the logarithm of 0.
    floor = np.maximum(log_matrices, -1e6)
    log_joint = log_shares + np.einsum("iel,ejl->ij", counts, floor)
    top = log_joint.max(axis=1, keepdims=True)
    joint = np.exp(log_joint - top)
    total = joint.sum(axis=1, keepdims=True)
    return joint / total, float((top + np.log(total)).sum())


def _log_prior(matrices: Floats, prior: float) -> float:
    if prior <= 0:
        return 0.0
    return float(prior / matrices.shape[2] * np.log(matrices).sum())
