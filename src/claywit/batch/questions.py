"""The question asked of many pieces: its states, and which two of them lead."""

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import ranked
from claywit.inference.sheet import Laid, Sheet
from claywit.inference.tree import Ints


def question_logs(laid: Laid, picks: Ints, rows: Ints, question: str) -> Floats:
    """Return log P(state of the question, findings), shape (states of the question, columns)."""
    return log_marginal(laid.sheet, question, laid.log_joint(picks, rows))


def log_marginal(sheet: Sheet, name: str, joint: Floats) -> Floats:
    """Return the log sums of *joint* over all roots but one, shape (states, columns)."""
    tree = sheet.tree
    column = tree.root_states[:, tree.roots.index(name)]
    logs = np.full((len(sheet.network.states[name]), joint.shape[1]), -np.inf)
    for state in np.unique(column).tolist():
        logs[state] = np.logaddexp.reduce(joint[column == state], axis=0)
    return logs


def leading_two(logs: Floats, before: Floats) -> tuple[Ints, Ints]:
    """Return the two likeliest states of each piece as `leading_pair` does, the prior for ties.

    Args:
        logs: log P(state, findings), shape (states, pieces).
        before: log P(state), shape (states,); two at least are possible.
    """
    ranks = ranked(logs, np.broadcast_to(before[:, np.newaxis], logs.shape))
    possible = before[ranks] > -np.inf
    order = np.argsort(~possible, axis=0, kind="stable")[:2]
    best = np.take_along_axis(ranks, order, axis=0)
    return best[0], best[1]
