"""Buckets of a tree worked together over blocks of columns, so that all stays in the cache."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from claywit.inference.meeting import Left, Part, Plan, Whole, plan
from claywit.inference.products import Product, products
from claywit.inference.tree import Floats, Ints, Tree
from claywit.inference.variants import Held

BLOCK = 250_000  # numbers of one bucket that are worked at once
MOST = 512  # columns of a block


@dataclass(frozen=True)
class Source:
    """Rows to look up, shape (rows, states); which to take, shape (variants, columns)."""

    rows: Floats
    which: Ints


@dataclass(frozen=True)
class Factor:
    """What enters a bucket: rows to look up, multiplied, or what one of the block handed on."""

    held: Held
    states: int
    sources: tuple[Source, ...] = ()
    child: int | None = None

    @property
    def is_fixed(self) -> bool:
        """Return whether it is the same in all columns."""
        return self.child is None and all(len(source.rows) == 1 for source in self.sources)


@dataclass(frozen=True)
class Step:
    """One bucket, made ready.

    factors: those that differ between columns. products: how they meet, without variants.
    plan: what to work out. matrix: adds up what is worked out last.
    """

    number: int
    factors: tuple[Factor, ...]
    products: tuple[Product, ...]
    plan: Plan
    matrix: Any

    @property
    def room(self) -> int:
        """Return how many numbers of a column are held here."""
        looked_up = [f.states * len(f.held.variants) for f in self.factors if f.child is None]
        return sum(looked_up) + max(self.plan.room, 2 * max(looked_up, default=0))

    @property
    def differs(self) -> bool:
        """Return whether it is taken to differ from column to column."""
        return self.plan.turns or any(factor.child is not None for factor in self.factors)

    def of(self, factors: Sequence[Factor]) -> "Step":
        """Return the same for other factors of as many states."""
        held = [(factor.held, factor.states) for factor in factors]
        return replace(self, factors=tuple(factors), plan=plan(self.products, held))


def make_step(tree: Tree, number: int, factors: Sequence[Factor]) -> Step:
    """Return a bucket made ready; what is the same in all columns goes into its constants."""
    from scipy.sparse import csr_matrix  # only thousands of columns are worth its import

    bucket = tree.buckets[number]
    weights = bucket.weights.ravel()[bucket.live]
    varying = [i for i, factor in enumerate(factors) if not factor.is_fixed]
    for i in set(range(len(factors))) - set(varying):
        for source in factors[i].sources:
            weights = weights * source.rows[0, bucket.indexes[i][bucket.live]]
    chosen = tuple(factors[i] for i in varying)
    meeting = products(bucket, varying, [factor.states for factor in chosen])
    held = [(factor.held, factor.states) for factor in chosen]
    planned = plan(meeting.products, held, final=bucket is tree.buckets[-1])
    height, width = bucket.weights.shape
    ends = np.searchsorted(bucket.live // width, np.arange(height + 1))
    matrix = csr_matrix((weights, meeting.of, ends), shape=(height, meeting.count))
    return Step(number, chosen, meeting.products, planned, matrix)


def blocks(steps: Sequence[Step], columns: int) -> Iterator[tuple[slice, Floats]]:
    """Yield each block of columns with what the last of *steps* hands on.

    That has a row for each state and variant, the variants of a state together.
    """
    largest = max(step.room for step in steps)
    size = min(max(BLOCK // largest, 1), MOST, columns)
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

    def lend(self, rows: int, columns: int) -> Floats:
        """Return room for an array that stays until the bucket is done."""
        lent = self._behind(0, rows, columns)
        self.used += lent.size
        return lent

    def pair(self, rows: int, columns: int) -> tuple[Floats, Floats]:
        """Return room for two arrays that the next ones may overwrite."""
        return self._behind(0, rows, columns), self._behind(rows * columns, rows, columns)

    def _behind(self, numbers: int, rows: int, columns: int) -> Floats:
        start = self.used + numbers
        return self.numbers[start : start + rows * columns].reshape(rows, columns)


def _total(step: Step, part: slice, messages: dict[int, Floats], room: _Room) -> Floats:
    """Return the sum of a bucket over its variable for a block of columns."""
    columns, room.used = part.stop - part.start, 0
    registers = [_entering(factor, part, messages, room) for factor in step.factors]
    for each in step.plan.work:
        rows = room.lend(each.count, columns)
        if isinstance(each, Left):
            _leave_out(each, registers[each.register], part, rows, room)
        else:
            _multiply_all(each, registers, columns, rows, room)
        registers.append(rows)
    if len(step.plan.last) == 1:
        return _summed(step, step.plan.last[0], registers, columns, room)
    total = np.empty((step.matrix.shape[0] * len(step.plan.held.variants), columns))
    every = total.reshape(-1, len(step.plan.held.variants), columns)
    for one in step.plan.last:
        every[:, one.span] = _variants(_summed(step, one, registers, columns, room), one, columns)
    return total


def _multiply_all(
    whole: Whole, registers: Sequence[Floats], columns: int, into: Floats, room: _Room
) -> None:
    """Write all parts of a product."""
    for one in whole.parts:
        if len(whole.parts) == 1:
            _multiplied(one, registers, (into, room.pair(one.count, columns)[0]))
            return
        made = _multiplied(one, registers, room.pair(one.count, columns))
        into.reshape(-1, whole.variants, columns)[:, one.span] = _variants(made, one, columns)


def _variants(rows: Floats, part: Part, columns: int) -> Floats:
    return rows.reshape(-1, part.variants, columns)


def _summed(
    step: Step, part: Part, registers: Sequence[Floats], columns: int, room: _Room
) -> Floats:
    made = _multiplied(part, registers, room.pair(part.count, columns))
    last = made.reshape(step.matrix.shape[1], -1)
    total: Floats = (step.matrix @ last).reshape(-1, columns)
    return total


def _entering(factor: Factor, part: slice, messages: dict[int, Floats], room: _Room) -> Floats:
    """Return a factor in a block of columns, a row for each state and variant."""
    if factor.child is not None:
        return messages.pop(factor.child)
    columns = part.stop - part.start
    rows = room.lend(factor.states * len(factor.held.variants), columns)
    wide = rows.reshape(factor.states, -1)
    found, spare = room.pair(*wide.shape[::-1])
    first, *others = (source.which[:, part].ravel() for source in factor.sources)
    factor.sources[0].rows.take(first, axis=0, out=found, mode="clip")
    for source, which in zip(factor.sources[1:], others, strict=True):
        found *= source.rows.take(which, axis=0, out=spare, mode="clip")
    wide[:] = found.T
    return rows


def _multiplied(part: Part, registers: Sequence[Floats], into: tuple[Floats, Floats]) -> Floats:
    """Return a part of a product, in the first of two arrays that there is room for."""
    if len(part.registers) == 1:
        rows, at = registers[part.registers[0]], part.places[0]
        return rows if at is None else rows.take(at, axis=0)
    (one, other), (at, other_at) = (registers[r] for r in part.registers), part.places
    found, spare = into
    if other_at is not None:
        other = other.take(other_at, axis=0, out=found, mode="clip")
    if at is not None:
        one = one.take(at, axis=0, out=spare, mode="clip")
    return np.multiply(other, one, out=found)


def _leave_out(left: Left, rows: Floats, part: slice, into: Floats, room: _Room) -> None:
    """Write what a register says with findings left out."""
    columns, shares = part.stop - part.start, left.shares[:, :, part]
    before = rows.reshape(-1, left.before, columns)
    total = into.reshape(-1, shares.shape[1], columns)
    more = room.pair(left.count, columns)[0].reshape(total.shape)
    for i, (share, state) in enumerate(zip(shares, left.states, strict=True)):
        alone = before[:, state, np.newaxis]
        if i == 0:
            np.multiply(alone, share, out=total)
        else:
            total += np.multiply(alone, share, out=more)


def looked_up(sources: Sequence[Source], part: slice) -> Floats:
    """Return the product of what the sources say, shape (variants x columns, states)."""
    first, *others = sources
    rows: Floats = first.rows.take(first.which[:, part].ravel(), axis=0)
    for source in others:
        rows *= source.rows.take(source.which[:, part].ravel(), axis=0)
    return rows
