"""Exact propagation of many columns of evidence at once through one compiled tree.

A column says for each evidence slot which of its tables to use. Columns that agree on
everything below a bucket share the work there, so leaving each finding out in turn, adding
findings one by one, or scoring pieces that look alike costs little more than one piece.

Two kernels give the same numbers. The linear one multiplies probabilities and is used when
the tables' own extremes prove that no product can leave the range of a double; the other
works on logarithms throughout, so 200 findings of 1e-12 keep their ratios.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from claywit.inference.routes import distinct
from claywit.inference.totals import Factor, linear_total, logarithmic_total
from claywit.inference.tree import Bucket, Floats, Ints, Tree

if TYPE_CHECKING:
    from claywit.inference.combined import Combined

SAFE = 680.0  # nats; a double holds exp(-708) to exp(709) at full precision
MAX_BLOCK = 6_000_000  # states of all messages times columns held at once
PORTION = 2_000  # columns of which each finding is left out at once
MANY = 1_000  # columns from which it pays to plan how they are worked


@dataclass(frozen=True)
class _Kernel:
    """How tables of one scope are joined, and how a bucket sums its variable out."""

    join: np.ufunc
    total: Callable[[Bucket, Sequence[Factor], int], Floats]


@dataclass(frozen=True)
class Loaded:
    """A tree with the tables of its evidence slots, ready for any number of columns.

    values: the tables of each slot as the kernel joins them, shape (states, m).
    """

    tree: Tree
    values: tuple[Floats, ...]
    kernel: _Kernel

    @cached_property
    def groups(self) -> tuple[tuple[Floats, ...], ...]:
        """Return for each bucket the tables of its groups of slots, shape (slots, states, m)."""
        return tuple(
            tuple(_stack([self.values[slot] for slot in members]) for members, _ in bucket.slots)
            for bucket in self.tree.buckets
        )

    @cached_property
    def combined(self) -> "tuple[tuple[tuple[Combined, ...], ...], ...]":
        """Return for each bucket the combined tables of its groups of slots."""
        from claywit.inference.combined import combine

        return tuple(
            tuple(combine(self.values, members) for members, _ in bucket.slots)
            for bucket in self.tree.buckets
        )


def load(tree: Tree, tables: Sequence[Floats]) -> Loaded:
    """Return *tree* loaded with the logarithms of each slot's tables.

    Args:
        tree: the compiled tree.
        tables: for each slot, shape (states of its scope, m): m tables to pick from.
    """
    linear = _stays_in_range(tree, tables)
    values = tuple(np.exp(table) for table in tables) if linear else tuple(tables)
    return Loaded(tree, values, _LINEAR if linear else _LOGARITHMIC)


def _stays_in_range(tree: Tree, tables: Sequence[Floats]) -> bool:
    low, high = tree.log_least, 0.0
    for table in tables:
        finite = table[table > -np.inf]
        if finite.size:
            low += min(float(finite.min()), 0.0)
            high += max(float(finite.max()), 0.0)
    return low > -SAFE and high < SAFE


def _stack(tables: Sequence[Floats]) -> Floats:
    """Return tables of one scope in one array; the shorter are filled up, never picked."""
    stack = np.zeros((len(tables), len(tables[0]), max(table.shape[1] for table in tables)))
    for room, table in zip(stack, tables, strict=True):
        room[:, : table.shape[1]] = table
    return stack


def propagate(loaded: Loaded, picks: Ints) -> Floats:
    """Return log P(root state, evidence) for every column of evidence.

    Args:
        loaded: the tree with its tables.
        picks: which of a slot's tables each column uses, shape (slots, columns).

    Returns:
        Shape (root states, columns); -inf where the evidence excludes the root state.
    """
    columns = picks.shape[1]
    if columns >= MANY and loaded.kernel is _LINEAR:
        alone = np.empty((len(loaded.tree.buckets[-1].weights), 1, columns))
        _work(loaded, picks, alone)
        return alone[:, 0]
    block = max(1, MAX_BLOCK // loaded.tree.separators)
    if columns > block:
        parts = [propagate(loaded, picks[:, i : i + block]) for i in range(0, columns, block)]
        return np.concatenate(parts, axis=1)
    joint = _pass(loaded, picks)
    if loaded.kernel is _LINEAR:
        with np.errstate(divide="ignore"):
            return np.log(joint)
    return joint


def leave_each_out(loaded: Loaded, picks: Ints, owner: Ints) -> Floats:
    """Return log P(root state, evidence) of every column, whole and with each finding left out.

    Args:
        loaded: the tree with its tables; the first table of every slot is silent.
        picks: which of a slot's tables each column uses, shape (slots, columns).
        owner: the number of the finding that each slot belongs to; some number for every slot.

    Returns:
        Shape (root states, 1 + findings, columns), the whole first.
    """
    findings, columns = int(owner.max(initial=-1)) + 1, picks.shape[1]
    joint = np.empty((len(loaded.tree.buckets[-1].weights), 1 + findings, columns))
    for start in range(0, columns, PORTION):
        part = slice(start, start + PORTION)
        own = picks[:, part]
        if loaded.kernel is _LINEAR and (1 + findings) * own.shape[1] >= MANY:
            _work(loaded, own, joint[:, :, part], owner)
            continue
        for finding in range(-1, findings):
            kept = np.where((owner == finding)[:, np.newaxis], 0, own)
            joint[:, 1 + finding, part] = propagate(loaded, kept)
    return joint


def _work(loaded: Loaded, picks: Ints, into: Floats, owner: Ints | None = None) -> None:
    from claywit.inference.many import Columns, work  # one piece need not wait for it

    work(Columns(loaded.tree, loaded.combined, picks, owner), into)


def _pass(loaded: Loaded, picks: Ints) -> Floats:
    """Work the buckets in order; a message is kept with the message column of each column."""
    columns = picks.shape[1]
    messages: list[tuple[Floats, Ints]] = []
    for bucket, stacks in zip(loaded.tree.buckets, loaded.groups, strict=True):
        entering: list[tuple[Floats, Ints]] = []
        for (members, _), stack in zip(bucket.slots, stacks, strict=True):
            chosen = picks[np.array(members)]
            first, own = distinct(list(chosen), columns)
            entering.append((_joined(loaded.kernel, stack, chosen[:, first]), own))
        entering += [messages[child] for child, _ in bucket.children]
        # The largest table counts first, so that its columns are then read one after the other.
        by_size = sorted(entering, key=lambda factor: -factor[0].size)
        first, column_of = distinct([own for _, own in by_size], columns)
        factors = [Factor(table, own[first]) for table, own in entering]
        messages.append((loaded.kernel.total(bucket, factors, len(first)), column_of))
    joint, column_of = messages[-1]
    return joint[:, column_of]


def _joined(kernel: _Kernel, stack: Floats, chosen: Ints) -> Floats:
    """Return the tables that each column chose from each slot, joined; (states, columns)."""
    if len(stack) == 1:
        only: Floats = stack[0][:, chosen[0]]
        return only
    picked = stack[np.arange(len(stack))[:, np.newaxis], :, chosen]
    joined: Floats = kernel.join.reduce(picked, axis=0).T
    return joined


_LINEAR = _Kernel(np.multiply, linear_total)
_LOGARITHMIC = _Kernel(np.add, logarithmic_total)
