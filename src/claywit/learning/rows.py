"""Rows of shares learned: Dirichlet counts on top of what was elicited.

A row with shares p, worth n pieces, and expected counts N becomes (n p + N) / (n + sum N). On
complete data that is the posterior mean under a Dirichlet density of parameters n p; it is also
the mode under n p + 1, which is what the rounds of the fit climb to. So one rule serves both, a
state that can occur is never counted down to 0, and a structural zero stays 0.
"""

from collections.abc import Sequence

import numpy as np

from claywit.inference.network import Floats, Network, gate_level
from claywit.learning.slots import ReadSlot
from claywit.model.schema import Node


def updated(shares: Floats, worth: Sequence[float | None], counts: Floats) -> Floats:
    """Return rows of *shares* with *counts* added; a row without an n is exact and stays.

    Args:
        shares: the elicited shares, shape (rows, states).
        worth: the n of each row.
        counts: expected counts, as *shares*; 0 where the share is 0.
    """
    n = np.array([size or 0.0 for size in worth])[:, np.newaxis]
    moved = (n * shares + counts) / np.maximum(n + counts.sum(axis=1, keepdims=True), 1e-300)
    return np.where(n > 0, moved, shares)


def log_prior(elicited: Floats, worth: Sequence[float | None], shares: Floats) -> float:
    """Return the log prior density of *shares*, up to a constant: sum of n p log share."""
    n = np.array([size or 0.0 for size in worth])[:, np.newaxis]
    possible = elicited > 0
    return float((n * elicited * np.log(np.where(possible, shares, 1.0))).sum())


def read_by_parents(network: Network, slot: ReadSlot, mass: Floats) -> Floats:
    """Return how often a leaf was in each state, shape (*cards of parents, visible states).

    Args:
        network: the numbers under which the mass was found.
        slot: what was read.
        mass: expected counts of parents by form, shape (configurations, forms).
    """
    rows = network.rows[slot.node.name]
    flat = rows.reshape(-1, rows.shape[-1])
    chance = flat @ slot.seen.T
    ratio = np.divide(mass[:, :-1], chance, out=np.zeros_like(chance), where=chance > 0)
    return (flat * (ratio @ slot.seen)).reshape(rows.shape)


def seen_of_family(node: Node, family: Floats) -> tuple[Floats, Floats | None]:
    """Return the part of a node's family that could be seen, and how often it was hidden.

    The part has one axis for each parent, then the visible states. The other has shape
    (states of the obstruction, 2), hidden first; None where the node has no visibility.
    """
    if not node.visibility:
        return family, None
    axis = len(node.parents)
    hidden = family[..., -1].sum(axis=tuple(range(axis)))
    visible = family[..., :-1]
    shown = visible.sum(axis=(*range(axis), axis + 1))
    return visible.sum(axis=axis), np.stack([hidden, shown], axis=1)


def by_row(network: Network, node: Node, counts: Floats) -> Floats:
    """Return counts by parents as counts by row, shape (rows, states)."""
    index = network.row_index[node.name].ravel()
    flat = counts.reshape(len(index), -1)
    found = np.zeros((len(node.rows), flat.shape[1]))
    np.add.at(found, index, flat)
    return found


def gate_counts(
    cards: Sequence[int], proposed: Sequence[Floats], counts: Floats
) -> tuple[list[Floats], list[Floats]]:
    """Return how often each part of a noisy gate proposed each level, and how surely.

    Exact: given the parents and the level of the node, each part's proposal is either that
    level, or below it while another part reached it.

    Args:
        cards: the numbers of states of the parents.
        proposed: what the parts propose, as `network.proposals` gives it.
        counts: how often the node was at each level, shape (*cards, levels).

    Returns:
        For the leak, shape (1, levels), and each parent, shape (states, levels), the expected
        counts; and the same of the squares of each chance, for what is not known of it.
    """
    levels = counts.shape[-1]
    table = np.stack([gate_level(proposed, k) for k in range(levels)], axis=-1)
    weight = np.divide(counts, table, out=np.zeros_like(counts), where=table > 0)
    found, squares = [], []
    for i, own in enumerate(proposed):
        silent = np.zeros_like(own)
        silent[..., 0] = 1.0
        rest = [silent if j == i else other for j, other in enumerate(proposed)]
        others = np.stack([gate_level(rest, k) for k in range(levels)], axis=-1)
        at_most = np.cumsum(others, axis=-1)
        shape = [1] * len(cards)
        if i:
            shape[i - 1] = cards[i - 1]
        total = np.zeros((own.size // levels, levels))
        square = np.zeros_like(total)
        kept = tuple(axis for axis in range(len(cards)) if axis != i - 1)
        for z in range(levels):
            chance = own[..., z].reshape(shape)
            for x in range(z, levels):
                joint = chance * (at_most[..., x] if z == x else others[..., x])
                total[:, z] += (weight[..., x] * joint).sum(axis=kept).ravel()
                surely = joint / np.where(table[..., x] > 0, table[..., x], 1.0)
                square[:, z] += (counts[..., x] * surely**2).sum(axis=kept).ravel()
        found.append(total)
        squares.append(square)
    return found, squares
