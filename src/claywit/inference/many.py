"""Thousands of columns of evidence through a tree, by the block, so that all stays in the cache.

Buckets below which few columns differ are worked first, once for each different column. All
others are worked together, block after block: what was worked out below is looked up row by
row, and what one bucket hands to the next never leaves the cache.

A column can be worked in variants, each with one finding left out. A bucket has only the
variants whose finding lies below it, so that a finding is left out along its own path alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from claywit.inference.combined import Combined
from claywit.inference.joining import Join, joining, spread
from claywit.inference.routes import distinct
from claywit.inference.tree import Floats, Ints, Tree

BLOCK = 160_000  # numbers of one bucket that are worked at once
LEAST, MOST = 1, 512  # columns of a block
HELD = 12_000_000  # numbers that are worked out below and held at once

# What is left out in each variant of a column, in ascending order; nothing in the first.
Variants = tuple[int, ...]
WHOLE = -1


@dataclass(frozen=True)
class _Source:
    """Rows to look up, shape (rows, states); which to take, shape (variants, columns)."""

    rows: Floats
    which: Ints


@dataclass(frozen=True)
class _Factor:
    """What enters a bucket: rows to look up, multiplied, or what a bucket of the block handed on."""

    variants: Variants
    states: int
    sources: tuple[_Source, ...] = ()
    child: int | None = None

    @property
    def is_fixed(self) -> bool:
        """Return whether it is the same in all columns."""
        return self.child is None and all(len(source.rows) == 1 for source in self.sources)


@dataclass(frozen=True)
class _Step:
    """One bucket, made ready.

    factors: those that differ between columns. joins: which of them to multiply, in turn; the
    registers are first the factors, then the joins, each a row for every state and variant.
    matrix: adds up what the last one makes.
    """

    number: int
    factors: tuple[_Factor, ...]
    joins: tuple[Join, ...]
    matrix: Any
    variants: Variants

    @property
    def room(self) -> int:
        """Return how many numbers of a column the registers hold, with one to spare."""
        counts = [join.count for join in self.joins]
        entering = sum(factor.states * len(factor.variants) for factor in self.factors)
        return entering + sum(counts) + max(counts, default=0)


@dataclass(frozen=True)
class Columns:
    """Columns of evidence for a tree.

    combined: for each bucket and each of its groups of slots its combined tables.
    picks: which of a slot's tables each column uses, shape (slots, columns).
    owner: if findings are to be left out, the number of the finding that each slot belongs to.
    """

    tree: Tree
    combined: Sequence[Sequence[Sequence[Combined]]]
    picks: Ints
    owner: Ints | None = None

    @property
    def variants(self) -> Variants:
        """Return the variants that are asked for."""
        findings = 0 if self.owner is None else int(self.owner.max(initial=-1)) + 1
        return (WHOLE, *range(findings))


def work(columns: Columns) -> Floats:
    """Return P(root state, evidence), shape (root states, variants, columns)."""
    tree, count, variants = columns.tree, columns.picks.shape[1], columns.variants
    steps, last = _planned(columns)
    joint = np.empty((len(tree.buckets[-1].weights), len(variants), count))
    if last is not None:
        joint[:] = (
            last.sources[0]
            .rows[last.sources[0].which[_among(variants, last.variants)]]
            .transpose(2, 0, 1)
        )
        return joint
    onto = _among(variants, steps[-1].variants)
    for part, message in _blocks(steps, count):
        joint[:, :, part] = message.reshape(len(joint), -1, message.shape[1])[:, onto]
    return joint


def _planned(columns: Columns) -> tuple[list[_Step], _Factor | None]:
    """Return the buckets to be worked by the block, or what the last says if there are none."""
    tree, picks = columns.tree, columns.picks
    done: dict[int, _Factor] = {}
    steps: list[_Step] = []
    room = HELD
    for number, bucket in enumerate(tree.buckets):
        factors = [_of_slots(group, columns) for group in columns.combined[number]]
        factors += [done[child] for child, _ in bucket.children]
        step = _step(tree, number, factors)
        states, every = len(bucket.weights), len(step.variants) * picks.shape[1]
        first, own = _different(step, picks.shape[1])
        if 2 * len(first) <= every and len(first) * states <= room:
            room -= len(first) * states
            source = _source(_alone(tree, step, first), own.reshape(len(step.variants), -1))
            done[number] = _Factor(step.variants, states, (source,))
        else:
            steps.append(step)
            done[number] = _Factor(step.variants, states, child=number)
    return steps, None if steps else done[len(tree.buckets) - 1]


def _of_slots(group: Sequence[Combined], columns: Columns) -> _Factor:
    """Return what a group of slots says of each column, and of its variants."""
    owner = columns.owner
    own = set() if owner is None else {int(owner[slot]) for each in group for slot in each.slots}
    variants = (WHOLE, *sorted(own))
    sources = []
    for each in group:
        which = np.tile(each.codes(columns.picks), (len(variants), 1))
        for slot, share in zip(each.slots, each.shares, strict=True) if owner is not None else ():
            which[variants.index(int(owner[slot]))] += share[0] - share[columns.picks[slot]]
        sources.append(_source(each.rows, which))
    return _Factor(variants, group[0].rows.shape[1], tuple(sources))


def _source(rows: Floats, which: Ints) -> _Source:
    """Return a source that has one row if all columns take the same."""
    if len(rows) > 1 and which.size and which.min() == which.max():
        return _Source(rows[which[0, :1]], np.zeros_like(which))
    return _Source(rows, which)


def _among(variants: Variants, held: Variants) -> Ints:
    """Return for each of *variants* its place among those *held*, that of the whole if not there."""
    places = {variant: i for i, variant in enumerate(held)}
    return np.array([places.get(variant, 0) for variant in variants], dtype=np.intp)


def _step(tree: Tree, number: int, factors: Sequence[_Factor]) -> _Step:
    """Return a bucket made ready; what is the same in all columns goes into its constants."""
    from scipy.sparse import csr_matrix  # only thousands of columns are worth its import

    bucket = tree.buckets[number]
    indexes = [*(index for _, index in bucket.slots), *(index for _, index in bucket.children)]
    weights = bucket.weights.ravel()[bucket.live]
    varying = [i for i, factor in enumerate(factors) if not factor.is_fixed]
    for i in set(range(len(factors))) - set(varying):
        for source in factors[i].sources:
            weights = weights * source.rows[0, indexes[i][bucket.live]]
    chosen = [factors[i] for i in varying]
    meeting = joining(bucket, varying, [factor.states for factor in chosen])
    registers = [factor.variants for factor in chosen]
    joins = []
    for join in meeting.joins:
        pair = [registers[r] for r in join.registers]
        both = tuple(sorted(set(pair[0]) | set(pair[1])))
        joins.append(spread(join, [(_among(both, own), len(own)) for own in pair]))
        registers.append(both)
    height, width = bucket.weights.shape
    ends = np.searchsorted(bucket.live // width, np.arange(height + 1))
    matrix = csr_matrix((weights, meeting.of, ends), shape=(height, meeting.count))
    return _Step(
        number, tuple(chosen), tuple(joins), matrix, registers[-1] if registers else (WHOLE,)
    )


def _different(step: _Step, columns: int) -> tuple[Ints, Ints]:
    """Return one of each different column and variant, and for each of all which it is like.

    They are numbered variant by variant. Each is different if a bucket below is worked so.
    """
    every = len(step.variants) * columns
    codes = []
    for factor in step.factors:
        if factor.child is not None:
            return np.arange(every), np.arange(every)
        at = _among(step.variants, factor.variants)
        codes += [source.which[at].ravel() for source in factor.sources if len(source.rows) > 1]
    return distinct(codes, every)


def _alone(tree: Tree, step: _Step, columns: Ints) -> Floats:
    """Return what a bucket that rests on rows alone hands on, shape (columns, states).

    Args:
        tree: whose bucket it is.
        step: the bucket.
        columns: which to work, numbered variant by variant.
    """
    if not step.factors:
        sums: Floats = np.asarray(step.matrix.sum(axis=1)).reshape(1, -1)
        return sums
    factors = [
        _Factor(
            (WHOLE,),
            f.states,
            tuple(
                _Source(
                    s.rows, s.which[_among(step.variants, f.variants)].ravel()[columns][np.newaxis]
                )
                for s in f.sources
            ),
        )
        for f in step.factors
    ]
    alone = _step(tree, step.number, factors)
    rows = np.empty((len(columns), step.matrix.shape[0]))
    for part, message in _blocks([alone], len(columns)):
        rows[part] = message.T
    return rows


def _blocks(steps: Sequence[_Step], columns: int) -> Iterator[tuple[slice, Floats]]:
    """Yield each block of columns with what the last of *steps* hands on.

    That has a row for each state and variant, the variants of a state together.
    """
    largest = max(step.room for step in steps)
    size = min(max(BLOCK // largest, LEAST), MOST, columns)
    room = _Room(np.empty(size * largest))
    for start in range(0, columns, size):
        part = slice(start, min(start + size, columns))
        messages: dict[int, Floats] = {}
        for step in steps:
            messages[step.number] = _total(step, part, messages, room)
        yield part, messages[steps[-1].number]


@dataclass
class _Room:
    """Memory that is used again for each bucket: fresh memory would cost more than the work."""

    numbers: Floats
    used: int = 0

    def spare(self, rows: int, columns: int) -> Floats:
        """Return room for an array that the next one may overwrite."""
        return self.numbers[self.used : self.used + rows * columns].reshape(rows, columns)

    def lend(self, rows: int, columns: int) -> Floats:
        """Return room for an array that stays until the bucket is done."""
        lent = self.spare(rows, columns)
        self.used += lent.size
        return lent


def _total(step: _Step, part: slice, messages: dict[int, Floats], room: _Room) -> Floats:
    """Return the sum of a bucket over its variable for a block of columns."""
    columns, room.used = part.stop - part.start, 0
    registers = []
    for factor in step.factors:
        if factor.child is not None:
            registers.append(messages.pop(factor.child))
        else:
            rows = room.lend(factor.states * len(factor.variants), columns)
            rows.reshape(factor.states, -1)[:] = _looked_up(factor.sources, part).T
            registers.append(rows)
    for join in step.joins:
        (one, other), (at, other_at) = (registers[r] for r in join.registers), join.places
        if other_at is not None:
            lent = room.lend(join.count, columns)
            other = np.take(other, other_at, axis=0, out=lent, mode="clip")
        if at is not None:
            one = np.take(one, at, axis=0, out=room.spare(join.count, columns), mode="clip")
        registers.append(np.multiply(other, one, out=other))
    last = registers[-1].reshape(step.matrix.shape[1], -1)
    total: Floats = (step.matrix @ last).reshape(-1, columns)
    return total


def _looked_up(sources: Sequence[_Source], part: slice) -> Floats:
    """Return the product of what the sources say, shape (variants x columns, states)."""
    first, *others = sources
    rows: Floats = first.rows.take(first.which[:, part].ravel(), axis=0)
    for source in others:
        rows *= source.rows.take(source.which[:, part].ravel(), axis=0)
    return rows
