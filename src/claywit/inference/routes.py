"""Columns of evidence, and which of them a bucket can work as one.

Worked out once, and run as often as the numbers change: it depends on what was read alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.tree import Ints, Tree

BLOCK = 500  # columns run at once
SPARSE = 8  # keys for each column, up to which a table of them is quicker than sorting
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
        stops = stops_of(tree, block, shared=shared)
        found.append(Route(start, block, weights[start : start + size], stops))
    return found


def stops_of(tree: Tree, picks: Ints, *, shared: bool) -> tuple[Stop, ...]:
    """Return what each bucket does with all columns; arguments as of `routed`."""
    stops: list[Stop] = []
    columns = np.arange(picks.shape[1])
    for bucket in tree.buckets:
        # The largest message counts first, so that its columns are then read one after the other.
        below = sorted(bucket.children, key=lambda each: -len(tree.buckets[each[0]].weights))
        entering = [stops[child].own for child, _ in below]
        entering += [picks[slot] for members, _ in bucket.slots for slot in members]
        first, own = distinct(entering, len(columns)) if shared else (columns, columns)
        stops.append(
            Stop(
                tuple(picks[np.array(members)][:, first] for members, _ in bucket.slots),
                tuple(stops[child].own[first] for child, _ in bucket.children),
                own,
                len(first),
            )
        )
    return tuple(stops)


def distinct(entering: Sequence[Ints], columns: int) -> tuple[Ints, Ints]:
    """Return one column of each distinct combination, and for each column its combination.

    Args:
        entering: numbers from 0 on, of each column.
        columns: how many there are.
    """
    if not entering or columns < 2:
        return np.zeros(min(columns, 1), dtype=np.intp), np.zeros(columns, dtype=np.intp)
    key, radix = entering[0].astype(np.int64), int(entering[0].max()) + 1
    for more in entering[1:]:
        size = int(more.max()) + 1
        if radix * size > 2**62:
            _, key = np.unique(key, return_inverse=True)
            radix = int(key.max()) + 1
        key, radix = key * size + more, radix * size
    if radix <= SPARSE * columns:
        return _looked_up(key, radix)
    _, first, column_of = np.unique(key, return_index=True, return_inverse=True)
    return first, column_of.ravel()


def _looked_up(key: Ints, radix: int) -> tuple[Ints, Ints]:
    """Return the same as by sorting, through a table of all keys."""
    first_of = np.full(radix, -1, dtype=np.intp)
    first_of[key[::-1]] = np.arange(len(key) - 1, -1, -1)  # the last one written is the first
    present = first_of >= 0
    return first_of[present], (np.cumsum(present) - 1)[key]
