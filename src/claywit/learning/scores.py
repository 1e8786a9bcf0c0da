"""How good probabilities are on pieces whose truth is known: the further from it, the higher.

Every score takes *p*, the probability of each state, shape (pieces, states), and *truth*, the
number of the true state of each piece, shape (pieces,). There must be at least one piece.

Volumes and pages of sources are from memory.
"""

from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import leaders
from claywit.inference.tree import Bools, Ints


def _led(p: Floats) -> Ints:
    with np.errstate(divide="ignore"):
        return leaders(np.log(p).T)


def hits(p: Floats, truth: Ints) -> Bools:
    """Return whether the leading state of each piece is the true one; the first of equals leads."""
    right: Bools = _led(p) == truth
    return right


def log_losses(log_p: Floats, truth: Ints) -> Floats:
    """Return -log P(truth) of each piece, in nats; infinite where the truth was excluded.

    Their mean is the logarithmic score of Good (1952), J. R. Stat. Soc. B 14:107.
    """
    lost: Floats = 0.0 - log_p[np.arange(len(truth)), truth]
    return lost


def brier_losses(p: Floats, truth: Ints) -> Floats:
    """Return the squared distance of each piece's probabilities from the truth, from 0 to 2.

    Their mean is the score of Brier (1950), Mon. Weather Rev. 78:1, which adds up over all
    states; for two states that is twice the score of one of them.
    """
    lost: Floats = ((p - outcomes(truth, p.shape[1])) ** 2).sum(axis=1)
    return lost


def outcomes(truth: Ints, states: int) -> Floats:
    """Return 1 at the true state of each piece and 0 elsewhere, shape (pieces, states)."""
    found: Floats = np.eye(states)[truth]
    return found


def confusion(p: Floats, truth: Ints) -> Ints:
    """Return how many pieces of each true state (rows) were led by each state (columns)."""
    states = p.shape[1]
    cells = np.bincount(truth * states + _led(p), minlength=states * states)
    return cells.reshape(states, states)


@dataclass(frozen=True)
class Murphy:
    """What a Brier score is made of: brier = reliability - resolution + uncertainty + within.

    reliability: how far probabilities lie from what then happened; 0 is best.
    resolution: how far what happened differs from bin to bin; the larger the better.
    uncertainty: what saying the overall shares every time would cost.
    within: what is left because a bin holds unequal probabilities; 0 where they are equal.
    """

    reliability: float
    resolution: float
    uncertainty: float
    within: float

    @property
    def brier(self) -> float:
        """Return the score that the parts add up to."""
        return self.reliability - self.resolution + self.uncertainty + self.within


def murphy(p: Floats, happened: Floats, bins: Ints, weights: Floats | None = None) -> Murphy:
    """Return what the Brier score of one state's probabilities is made of.

    Sources: Murphy (1973), J. Appl. Meteorol. 12:595; the part within bins: Stephenson, Coelho
    & Jolliffe (2008), Weather Forecast. 23:752.

    Args:
        p: the probabilities given, shape (pieces,).
        happened: 1 where the state was the true one, else 0; or the share of the times it was.
        bins: the bin of each piece.
        weights: how much each piece counts; equally if left out.
    """
    w = np.ones(len(p)) if weights is None else weights
    w = w / w.sum()
    _, where = np.unique(bins, return_inverse=True)
    size = np.bincount(where, w)
    said, seen = np.bincount(where, w * p) / size, np.bincount(where, w * happened) / size
    overall = float((w * happened).sum())
    off = p - said[where]
    return Murphy(
        reliability=float((size * (said - seen) ** 2).sum()),
        resolution=float((size * (seen - overall) ** 2).sum()),
        uncertainty=overall * (1 - overall),
        within=float((w * (off**2 - 2 * off * (happened - seen[where]))).sum()),
    )


def murphy_of_all(p: Floats, truth: Ints, bins: int = 10) -> Murphy:
    """Return what the Brier score over all states is made of, the parts of each state added up."""
    happened = outcomes(truth, p.shape[1])
    parts = [murphy(p[:, k], happened[:, k], bin_of(p[:, k], bins)) for k in range(p.shape[1])]
    return Murphy(
        sum(part.reliability for part in parts),
        sum(part.resolution for part in parts),
        sum(part.uncertainty for part in parts),
        sum(part.within for part in parts),
    )


def bin_of(p: Floats, bins: int = 10) -> Ints:
    """Return the bin of each probability, of *bins* equally wide ones; 1 is in the last."""
    found: Ints = np.minimum((p * bins).astype(np.intp), bins - 1)
    return found
