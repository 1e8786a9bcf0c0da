"""Columns of evidence, and which of them a bucket can work as one.

Worked out once, and run as often as the numbers change: it depends on what was read alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.tree import Ints, Tree

BLOCK = 500  # columns run at once
MOST_ENTRIES = 10_000_000  # of all buckets times the columns held at once


@dataclass(frozen=True)
class Stop:
    """What one bucket does with the columns of a block.

    chosen: for each group of slots the table that each distinct column picks from each slot.
    taken: for each child the column of its message that each distinct column takes.
    own: for each column its distinct column.
    """

    chosen: tuple[Ints, ...]
    taken: tuple[Ints, ...]
    own: Ints
    count: int


@dataclass(frozen=True)
class Route:
    """Columns of evidence, made ready to be run many times.

    picks: which of a slot's tables each column uses, shape (slots, columns).
    weights: how many pieces each column stands for.
    """

    start: int
    picks: Ints
    weights: Floats
    stops: tuple[Stop, ...]


def routed(tree: Tree, picks: Ints, weights: Floats, *, shared: bool) -> list[Route]:
    """Return columns in blocks.

    Args:
        tree: the tree that they will run through.
        picks: which of a slot's tables each column uses, shape (slots, columns).
        weights: how many pieces each column stands for.
        shared: whether columns that agree below a bucket are worked as one there.
    """
    size = max(1, min(BLOCK, MOST_ENTRIES // max(tree.entries, 1)))
    found = []
    for start in range(0, picks.shape[1], size):
        block = picks[:, start : start + size]
        stops = _stops(tree, block, shared=shared)
        found.append(Route(start, block, weights[start : start + size], stops))
    return found


def _stops(tree: Tree, picks: Ints, *, shared: bool) -> tuple[Stop, ...]:
    stops: list[Stop] = []
    columns = np.arange(picks.shape[1])
    for bucket in tree.buckets:
        entering = [picks[slot] for members, _ in bucket.slots for slot in members]
        entering += [stops[child].own for child, _ in bucket.children]
        first, own = _distinct(entering) if shared else (columns, columns)
        stops.append(
            Stop(
                tuple(picks[np.array(members)][:, first] for members, _ in bucket.slots),
                tuple(stops[child].own[first] for child, _ in bucket.children),
                own,
                len(first),
            )
        )
    return tuple(stops)


def _distinct(entering: Sequence[Ints]) -> tuple[Ints, Ints]:
    """Return one column of each distinct combination, and for each column its combination."""
    varied = [one for one in entering if (one != one[0]).any()]
    if not varied:
        return np.zeros(1, np.intp), np.zeros(len(entering[0]) if entering else 1, np.intp)
    _, first, own = np.unique(np.stack(varied), axis=1, return_index=True, return_inverse=True)
    return first, own.ravel()
