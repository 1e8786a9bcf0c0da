"""The tables of several evidence slots over the same variables, multiplied beforehand.

What is picked from each of a few slots becomes one number, a code, and the product of the
tables for every code is worked out once: many columns then look up one row in place of
several. Tables of a slot that are equal share a code; all the states in which a trait was seen
say the same of what lay over it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.inference.tree import Floats, Ints

MOST = 4_096  # codes of one combination
ROOM = 65_536  # numbers in one combination: what stays in the cache
FEW = 256  # tables of a slot up to which equal ones are looked for


@dataclass(frozen=True)
class Combined:
    """Some slots' tables combined.

    rows: the product for each code, shape (codes, states).
    slots: the slots. shares: for each of them what each of its tables adds to the code.
    """

    rows: Floats
    slots: tuple[int, ...]
    shares: tuple[Ints, ...]

    def codes(self, picks: Ints) -> Ints:
        """Return the code of every column of *picks*, shape (slots, columns)."""
        code: Ints = self.shares[0][picks[self.slots[0]]]
        for slot, share in zip(self.slots[1:], self.shares[1:], strict=True):
            code += share[picks[slot]]
        return code


def combine(tables: Sequence[Floats], slots: Sequence[int]) -> tuple[Combined, ...]:
    """Return the *tables* of *slots*, combined into as few as will stay small.

    Args:
        tables: of all slots, each of shape (states, tables to pick from), to be multiplied.
        slots: those to combine, of one scope.
    """
    found: list[Combined] = []
    for slot in slots:
        own = _alone(tables[slot], slot)
        last = found[-1] if found else None
        codes = len(own.rows) * len(last.rows) if last else 0
        if last and codes <= MOST and codes * own.rows.shape[1] <= ROOM:
            found[-1] = _together(last, own)
        else:
            found.append(own)
    return tuple(found)


def _alone(table: Floats, slot: int) -> Combined:
    rows = np.ascontiguousarray(table.T)
    if len(rows) > FEW:
        return Combined(rows, (slot,), (np.arange(len(rows)),))
    seen: dict[bytes, int] = {}
    codes = np.array([seen.setdefault(row.tobytes(), len(seen)) for row in rows])
    first = np.unique(codes, return_index=True)[1]
    return Combined(rows[first], (slot,), (codes,))


def _together(one: Combined, other: Combined) -> Combined:
    states = one.rows.shape[1]
    rows = (one.rows * other.rows[:, np.newaxis]).reshape(-1, states)
    return Combined(
        rows, (*one.slots, *other.slots), (*one.shares, other.shares[0] * len(one.rows))
    )
