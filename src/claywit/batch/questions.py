"""The question asked of many pieces: its states, and which two of them lead."""

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.sheet import Laid
from claywit.inference.tree import Ints


def question_logs(laid: Laid, picks: Ints, rows: Ints) -> Floats:
    """Return log P(state of the question, findings), shape (states of the question, columns)."""
    tree = laid.sheet.tree
    states = len(laid.sheet.network.states[tree.roots[0]])
    logs = np.full((states, picks.shape[1]), -np.inf)
    logs[tree.root_states[:, 0]] = laid.log_joint(picks, rows)
    return logs


def leading_two(logs: Floats, before: Floats) -> tuple[Ints, Ints]:
    """Return the two likeliest states of each piece as `leading_pair` does, the prior for ties.

    Args:
        logs: log P(state, findings), shape (states, pieces).
        before: log P(state), shape (states,); two at least are possible.
    """
    ranks = np.lexsort((np.broadcast_to(-before[:, np.newaxis], logs.shape), -logs), axis=0)
    possible = before[ranks] > -np.inf
    order = np.argsort(~possible, axis=0, kind="stable")[:2]
    best = np.take_along_axis(ranks, order, axis=0)
    return best[0], best[1]
