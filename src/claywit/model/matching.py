"""Which row of a node answers for which states of its parents."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

MAX_CONFIGURATIONS = 4_000_000
COUNTED = 10**30  # beyond it a number of configurations is not worked out


def configurations(sizes: Iterable[int]) -> int:
    """Return how many configurations parents with so many states have.

    Some number above 10^30 where it is larger than that: a file can name a million parents.
    """
    count = 1
    for size in sizes:
        count *= size
        if count > COUNTED:
            break
    return count


def many(count: int) -> str:
    """Return a number of configurations as it is said."""
    return f"{count:,}" if count <= COUNTED else "more than 10^30"


class Conditional(Protocol):
    """Anything that names the parent states for which it holds."""

    @property
    def given(self) -> dict[str, tuple[str, ...]]:
        """Return the states for which it holds, by parent; all states of the others."""


@dataclass(frozen=True)
class Matching:
    """For every parent configuration the row that holds, and what does not fit.

    *rows* has one axis for each parent; -1 where no row holds. *clash* is the first
    configuration that two rows name, with those rows; *gap* the first that none does.
    """

    rows: NDArray[np.intp]
    clash: tuple[dict[str, str], int, int] | None = None
    gap: dict[str, str] | None = None


def match(
    parents: Sequence[str], states: Sequence[Sequence[str]], rows: Sequence[Conditional]
) -> Matching:
    """Match every configuration of *parents* with exactly one of *rows*.

    A row without `given` holds where no other row does. The names in the rows must be
    known to be right: `soundness` looks at them first.

    Raises:
        OverflowError: there are more than four million configurations.
    """
    shape = tuple(len(names) for names in states)
    count = configurations(shape)
    if count > MAX_CONFIGURATIONS:
        raise OverflowError(f"{many(count)} parent configurations")
    index = np.full(shape, -1, dtype=np.intp)
    positions = [{name: i for i, name in enumerate(names)} for names in states]
    default = -1
    for i, row in enumerate(rows):
        if not row.given and parents:
            default = i
            continue
        block = np.ix_(*_chosen(parents, positions, row))
        taken = index[block]
        if (taken >= 0).any():
            spot = np.argwhere(taken >= 0)[0]
            at = [int(axis.ravel()[k]) for axis, k in zip(block, spot, strict=True)]
            clash = (_name(parents, states, at), int(taken[tuple(spot)]), i)
            return Matching(index, clash=clash)
        index[block] = i
    if default >= 0:
        index[index < 0] = default
    gaps = np.argwhere(index < 0)
    gap = _name(parents, states, [int(k) for k in gaps[0]]) if len(gaps) else None
    return Matching(index, gap=gap)


def _chosen(
    parents: Sequence[str], positions: Sequence[dict[str, int]], row: Conditional
) -> list[list[int]]:
    return [
        [where[state] for state in row.given[parent]] if parent in row.given else [*where.values()]
        for parent, where in zip(parents, positions, strict=True)
    ]


def _name(
    parents: Sequence[str], states: Sequence[Sequence[str]], at: Sequence[int]
) -> dict[str, str]:
    return {p: names[k] for p, names, k in zip(parents, states, at, strict=True)}
