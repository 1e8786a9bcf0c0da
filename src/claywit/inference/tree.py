"""A bucket tree over the joint states that can happen, compiled once and used often.

One bucket for each variable summed out, and a root that holds the joint of the variables
asked for, so that their posteriors need no second pass. Each bucket holds only states to
which the constant tables give positive probability, after the zeros of its neighbours have
been passed up and down the tree; on a model with structural zeros that is a small part of
the dense table. Method: bucket elimination (Dechter 1999), semi-joins (Yannakakis 1981),
both from memory.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.inference.elimination import (
    Changes,
    Elimination,
    changes,
    eliminate,
    eliminate_for_columns,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
Constant = tuple[tuple[str, ...], Floats]


@dataclass(frozen=True)
class Bucket:
    """One step: multiply what meets here, sum one variable out, hand the rest on.

    weights: the constant tables' product, shape (separator states, states summed over);
        0 where a row is padded.
    slots: the groups of evidence slots of one scope that enter here, with the flat
        index into their table for each entry of *weights*.
    children: the buckets whose messages enter here, with the index into each message.
    products: how its factors meet where many columns are worked, kept for the next time.
    """

    weights: Floats
    slots: tuple[tuple[tuple[int, ...], Ints], ...]
    children: tuple[tuple[int, Ints], ...]
    products: dict[tuple[int, ...], Any] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def indexes(self) -> tuple[Ints, ...]:
        """Return the index into each of its factors, the groups of slots first."""
        return (*(index for _, index in self.slots), *(index for _, index in self.children))

    @cached_property
    def live(self) -> Ints:
        """Return the places of the entries that count, in the flattened weights."""
        return np.flatnonzero(self.weights)


@dataclass(frozen=True)
class Tree:
    """Buckets in the order to work them, the root last.

    roots and root_states name the joint states of the root: root_states has shape
    (joint states, roots) and holds state numbers.
    log_least bounds from below the logarithm of any product of constants.
    """

    buckets: tuple[Bucket, ...]
    roots: tuple[str, ...]
    root_states: Ints
    log_least: float

    @cached_property
    def widest(self) -> int:
        """Return the number of entries of the largest bucket."""
        return max(bucket.weights.size for bucket in self.buckets)

    @cached_property
    def separators(self) -> int:
        """Return how many states all messages have together."""
        return sum(len(bucket.weights) for bucket in self.buckets)

    @property
    def entries(self) -> int:
        """Return how many joint states the tree holds."""
        return sum(bucket.weights.size for bucket in self.buckets)


@dataclass
class _Draft:
    """A bucket while it is being built; the variable summed out is last in *scope*."""

    scope: tuple[str, ...]
    constants: list[Constant]
    slots: list[int]
    children: list[int]
    parent: int
    mask: Bools
    separators: Ints | None = None  # position of each dense separator state in the message


def compile_tree(
    cards: Mapping[str, int],
    constants: Sequence[Constant],
    slots: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
    versions: Sequence[int] | Changes | None = None,
) -> Tree:
    """Return the tree for *constants*, with room for an evidence table on each slot's scope.

    Args:
        cards: the number of states of each variable.
        constants: the tables that stay, each with its scope.
        slots: the scopes of the evidence tables.
        roots: the variables asked for.
        versions: how many tables each slot has, where thousands of columns are to be run, or that
            these are changes of one piece.

    Raises:
        ModelError: the largest table would not fit; the message names its nodes.
    """
    plan = _planned(cards, [scope for scope, _ in constants], slots, roots, versions)
    drafts = _assign(cards, constants, slots, (*plan.cliques, roots), plan.order)
    _pass_zeros(drafts)
    return _finish(cards, drafts, slots, roots)


def _planned(
    cards: Mapping[str, int],
    constants: Sequence[tuple[str, ...]],
    slots: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
    versions: Sequence[int] | Changes | None,
) -> Elimination:
    if versions is None:
        return eliminate(cards, [*constants, *slots], roots)
    fixed = [(scope, 1) for scope in constants]
    if isinstance(versions, Changes):
        return eliminate_for_columns(cards, [*fixed, *((s, 2) for s in slots)], roots, changes)
    counted = zip(slots, versions, strict=True)
    return eliminate_for_columns(cards, [*fixed, *counted], roots)


def _assign(
    cards: Mapping[str, int],
    constants: Sequence[Constant],
    slots: Sequence[tuple[str, ...]],
    cliques: Sequence[tuple[str, ...]],
    order: Sequence[str],
) -> list[_Draft]:
    """Put each table in the bucket of the first of its variables to be summed out."""
    turn = {name: i for i, name in enumerate(order)}
    last = len(order)

    def home(scope: Sequence[str]) -> int:
        return min((turn.get(name, last) for name in scope), default=last)

    drafts = [
        _Draft(
            scope,
            [],
            [],
            [],
            last if i == last else home(scope[:-1]),
            np.ones([cards[n] for n in scope], dtype=np.bool_),
        )
        for i, scope in enumerate(cliques)
    ]
    for constant in constants:
        drafts[home(constant[0])].constants.append(constant)
    for i, scope in enumerate(slots):
        drafts[home(scope)].slots.append(i)
    for i, draft in enumerate(drafts[:-1]):
        drafts[draft.parent].children.append(i)
    return drafts


def _aligned(table: Bools, scope: Sequence[str], onto: Sequence[str]) -> Bools:
    """Return *table* with its axes in the order of *onto*, length 1 where it has none."""
    moved = np.transpose(table, [scope.index(name) for name in onto if name in scope])
    sizes = iter(moved.shape)
    return moved.reshape([next(sizes) if name in scope else 1 for name in onto])


def _pass_zeros(drafts: list[_Draft]) -> None:
    """Strike out every joint state that the constant tables exclude, anywhere in the tree."""
    for draft in drafts:
        for scope, table in draft.constants:
            draft.mask &= _aligned(table > 0, scope, draft.scope)
        for child in draft.children:
            below = drafts[child]
            draft.mask &= _aligned(np.any(below.mask, axis=-1), below.scope[:-1], draft.scope)
    for draft in reversed(drafts[:-1]):
        above = drafts[draft.parent]
        gone = tuple(i for i, name in enumerate(above.scope) if name not in draft.scope)
        held = tuple(name for name in above.scope if name in draft.scope)
        draft.mask &= _aligned(np.any(above.mask, axis=gone), held, draft.scope)


def _finish(
    cards: Mapping[str, int],
    drafts: list[_Draft],
    slots: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
) -> Tree:
    buckets: list[Bucket] = []
    place: dict[int, int] = {}  # of a draft among the buckets
    settled: dict[int, Floats] = {}  # messages that no evidence can change
    for i, draft in enumerate(drafts):
        is_root = i == len(drafts) - 1
        coordinates, held = _layout(draft, is_root=is_root)
        at = dict(zip(draft.scope, coordinates, strict=True))
        weights = np.where(held, 1.0, 0.0)
        for scope, table in draft.constants:
            weights = weights * table[tuple(at[name] for name in scope)]
        children = {c: _into_message(cards, drafts[c], at, held.shape) for c in draft.children}
        for child in [c for c in draft.children if c in settled]:
            weights = weights * settled[child][children.pop(child)].reshape(held.shape)
        if not draft.slots and not children and not is_root:
            settled[i] = weights.sum(axis=1)
            continue
        groups: dict[tuple[str, ...], list[int]] = {}
        for slot in draft.slots:
            groups.setdefault(slots[slot], []).append(slot)
        entering = tuple(
            (tuple(members), _flat(cards, scope, at, held.shape))
            for scope, members in groups.items()
        )
        place[i] = len(buckets)
        below = tuple((place[child], index) for child, index in children.items())
        buckets.append(Bucket(weights, entering, below))
    root_states = np.argwhere(drafts[-1].mask) if roots else np.zeros((1, 0), dtype=np.intp)
    return Tree(tuple(buckets), roots, root_states, _log_least(buckets))


def _log_least(buckets: Sequence[Bucket]) -> float:
    least = [bucket.weights[bucket.weights > 0].min(initial=1.0) for bucket in buckets]
    return float(np.log(least).sum())


def _layout(draft: _Draft, *, is_root: bool) -> tuple[list[Ints], Bools]:
    """Return the coordinates of a bucket's entries, one row a separator state, and which count.

    Rows are padded to the longest with states that do not count.
    """
    mask = draft.mask[..., np.newaxis] if is_root else draft.mask
    flat = mask.reshape(-1, mask.shape[-1])
    supported = flat.any(axis=1)
    draft.separators = np.where(supported, np.cumsum(supported) - 1, 0).astype(np.intp)
    rows = flat[supported]
    width = max(int(rows.sum(axis=1).max(initial=1)), 1)
    # A stable sort by "does not count" brings the states that count to the front of each row.
    summed = np.argsort(~rows, axis=1, kind="stable")[:, :width]
    held = np.take_along_axis(rows, summed, axis=1)
    where = np.unravel_index(np.flatnonzero(supported), mask.shape[:-1]) if mask.ndim > 1 else ()
    wide = [np.broadcast_to(axis[:, np.newaxis], summed.shape) for axis in where]
    return (wide if is_root else [*wide, summed]), held


def _flat(
    cards: Mapping[str, int],
    scope: Sequence[str],
    at: Mapping[str, Ints],
    shape: tuple[int, ...],
) -> Ints:
    """Return for each entry its place in a flattened table over *scope*."""
    place = np.zeros(shape, dtype=np.intp)
    for name in scope:
        place = place * cards[name] + at[name]
    return place.ravel()


def _into_message(
    cards: Mapping[str, int], below: _Draft, at: Mapping[str, Ints], shape: tuple[int, ...]
) -> Ints:
    assert below.separators is not None  # noqa: S101 - children come first
    return below.separators[_flat(cards, below.scope[:-1], at, shape)]
