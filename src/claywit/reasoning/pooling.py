"""Two opinions made one, in two ways.

The linear pool is the weighted mean of the probabilities: it keeps a minority's opinion and
does not care whether states are joined before or after (Stone 1961, The Opinion Pool). The
logarithmic pool is their weighted geometric mean, made to sum to 1: it does not care whether
evidence that both share is weighed before or after (Genest 1984, external Bayesianity); one
side's 0 rules a state out. Both citations from memory. Where the two differ much, no average
is an answer.
"""

from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats


@dataclass(frozen=True)
class Pooled:
    """Two opinions pooled, as log probabilities of the states; nan where nothing is left."""

    linear: Floats
    logarithmic: Floats


def pool(log_a: Floats, log_b: Floats, weight: float) -> Pooled:
    """Return the pools of two opinions on one question, the first with *weight*, from 0 to 1.

    Args:
        log_a: normal logs of the first opinion's probabilities, shape (states,).
        log_b: of the second's.
        weight: of the first; the second has the rest.
    """
    parts = [(w, log_p) for w, log_p in ((weight, log_a), (1 - weight, log_b)) if w > 0]
    linear = np.logaddexp.reduce([np.log(w) + log_p for w, log_p in parts], axis=0)
    product = np.sum([w * log_p for w, log_p in parts], axis=0)
    return Pooled(normal(linear), normal(product))


def normal(logs: Floats) -> Floats:
    """Return *logs* made to sum to 1; nan where all are -inf."""
    greatest = logs.max()
    if greatest == -np.inf:
        return np.full_like(logs, np.nan)
    found: Floats = logs - greatest - np.log(np.exp(logs - greatest).sum())
    return found
