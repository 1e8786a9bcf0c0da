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

import numpy as np

from claywit.inference.tree import Bucket, Floats, Ints, Tree

SAFE = 680.0  # nats; a double holds exp(-708) to exp(709) at full precision
MAX_BLOCK = 4_000_000  # entries of a bucket times columns held at once


@dataclass(frozen=True)
class _Kernel:
    """How tables of one scope are joined, and how a bucket sums its variable out."""

    join: np.ufunc
    total: Callable[[Bucket, Sequence[Floats]], Floats]


@dataclass(frozen=True)
class Loaded:
    """A tree with the tables of its evidence slots, ready for any number of columns.

    groups: for each bucket, the tables of its slot groups, shape (slots, states, m).
    """

    tree: Tree
    groups: tuple[tuple[Floats, ...], ...]
    kernel: _Kernel


def load(tree: Tree, tables: Sequence[Floats]) -> Loaded:
    """Return *tree* loaded with the logarithms of each slot's tables.

    Args:
        tree: the compiled tree.
        tables: for each slot, shape (states of its scope, m): m tables to pick from.
    """
    linear = _stays_in_range(tree, tables)
    values = [np.exp(table) for table in tables] if linear else list(tables)
    groups = tuple(
        tuple(_stack([values[slot] for slot in members]) for members, _ in bucket.slots)
        for bucket in tree.buckets
    )
    return Loaded(tree, groups, _LINEAR if linear else _LOGARITHMIC)


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
    width = max(table.shape[1] for table in tables)
    return np.stack([np.pad(t, ((0, 0), (0, width - t.shape[1])), "edge") for t in tables])


def propagate(loaded: Loaded, picks: Ints) -> Floats:
    """Return log P(root state, evidence) for every column of evidence.

    Args:
        loaded: the tree with its tables.
        picks: which of a slot's tables each column uses, shape (slots, columns).

    Returns:
        Shape (root states, columns); -inf where the evidence excludes the root state.
    """
    columns = picks.shape[1]
    block = max(1, MAX_BLOCK // loaded.tree.widest)
    if columns > block:
        parts = [propagate(loaded, picks[:, i : i + block]) for i in range(0, columns, block)]
        return np.concatenate(parts, axis=1)
    joint = _pass(loaded, picks)
    if loaded.kernel is _LOGARITHMIC:
        return joint
    with np.errstate(divide="ignore"):
        logs: Floats = np.log(joint)
    return logs


def _pass(loaded: Loaded, picks: Ints) -> Floats:
    """Work the buckets in order; a message is kept with the message column of each column."""
    columns = picks.shape[1]
    messages: list[tuple[Floats, Ints]] = []
    for bucket, stacks in zip(loaded.tree.buckets, loaded.groups, strict=True):
        entering = [picks[slot] for members, _ in bucket.slots for slot in members]
        entering += [messages[child][1] for child, _ in bucket.children]
        first, column_of = _distinct(entering, columns)
        factors = []
        for (members, index), stack in zip(bucket.slots, stacks, strict=True):
            table = _joined(loaded.kernel, stack, picks[np.array(members)][:, first])
            factors.append(table[index])
        for child, index in bucket.children:
            message, child_column = messages[child]
            factors.append(_columns(message, child_column[first])[index])
        messages.append((loaded.kernel.total(bucket, factors), column_of))
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


def _columns(table: Floats, chosen: Ints) -> Floats:
    return table if table.shape[1] == 1 else table[:, chosen]


def _distinct(entering: Sequence[Ints], columns: int) -> tuple[Ints, Ints]:
    """Return one column of each distinct combination, and for each column its combination."""
    if not entering or columns == 1:
        return np.zeros(1, dtype=np.intp), np.zeros(columns, dtype=np.intp)
    key, radix = entering[0].astype(np.int64), int(entering[0].max()) + 1
    for more in entering[1:]:
        size = int(more.max()) + 1
        if radix * size > 2**62:
            _, key = np.unique(key, return_inverse=True)
            radix = int(key.max()) + 1
        key, radix = key * size + more, radix * size
    _, first, column_of = np.unique(key, return_index=True, return_inverse=True)
    return first, column_of


def _linear_total(bucket: Bucket, factors: Sequence[Floats]) -> Floats:
    if not factors:
        alone: Floats = bucket.weights.sum(axis=1, keepdims=True)
        return alone
    product = factors[0]
    for factor in factors[1:]:
        product = product * factor
    shaped = product.reshape(*bucket.weights.shape, -1)
    total: Floats = np.einsum("sk,skc->sc", bucket.weights, shaped)
    return total


def _logarithmic_total(bucket: Bucket, factors: Sequence[Floats]) -> Floats:
    with np.errstate(divide="ignore"):
        logs = np.log(bucket.weights)[:, :, np.newaxis]
    for factor in factors:
        logs = logs + factor.reshape(*bucket.weights.shape, -1)
    greatest = logs.max(axis=1, keepdims=True)
    greatest[greatest == -np.inf] = 0.0  # an excluded row stays excluded, without nan
    with np.errstate(divide="ignore"):
        total: Floats = np.log(np.exp(logs - greatest).sum(axis=1)) + greatest[:, 0]
    return total


_LINEAR = _Kernel(np.multiply, _linear_total)
_LOGARITHMIC = _Kernel(np.add, _logarithmic_total)
