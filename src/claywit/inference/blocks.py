"""Buckets of a tree worked together over blocks of columns, so that all stays in the cache."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from claywit.inference.products import Product, products, spread
from claywit.inference.tree import Floats, Ints, Tree

BLOCK = 250_000  # numbers of one bucket that are worked at once
MOST = 512  # columns of a block

# What is left out in each variant of a column; nothing in the first.
Variants = tuple[int, ...]
WHOLE = -1


@dataclass(frozen=True)
class Source:
    """Rows to look up, shape (rows, states); which to take, shape (variants, columns)."""

    rows: Floats
    which: Ints


@dataclass(frozen=True)
class Turn:
    """Variants that stand for the states of a variable, turned into the findings on it.

    kept: the places of the other variants, which come first. units: of those that are turned.
    shares: what each sum takes of each of them, shape (units, sums, columns).
    """

    kept: Ints
    units: Ints
    shares: Floats


@dataclass(frozen=True)
class Factor:
    """What enters a bucket: rows to look up, multiplied, or what a bucket of the block handed on.

    turns: what is made of its variants as it enters.
    """

    variants: Variants
    states: int
    sources: tuple[Source, ...] = ()
    child: int | None = None
    turns: tuple[Turn, ...] = ()

    @property
    def is_fixed(self) -> bool:
        """Return whether it is the same in all columns."""
        return not self.differs and all(len(source.rows) == 1 for source in self.sources)

    @property
    def differs(self) -> bool:
        """Return whether it is taken to differ from column to column."""
        return self.child is not None or bool(self.turns)


@dataclass(frozen=True)
class Step:
    """One bucket, made ready.

    factors: those that differ between columns. products: which of them to multiply, in turn; the
    registers are first the factors, then the products, each a row for every state and variant.
    plain: the same without variants. matrix: adds up what the last one makes.
    """

    number: int
    factors: tuple[Factor, ...]
    products: tuple[Product, ...]
    plain: tuple[Product, ...]
    matrix: Any
    variants: Variants

    @property
    def room(self) -> int:
        """Return how many numbers of a column the registers hold, with one to spare."""
        counts = [product.count for product in self.products]
        entering = [factor.states * len(factor.variants) for factor in self.factors]
        return sum(entering) + sum(counts) + max([*entering, *counts], default=0)


def among(variants: Variants, held: Variants) -> Ints:
    """Return for each variant its place among those *held*, or that of the whole."""
    places = {variant: i for i, variant in enumerate(held)}
    return np.array([places.get(variant, 0) for variant in variants], dtype=np.intp)


def make_step(tree: Tree, number: int, factors: Sequence[Factor]) -> Step:
    """Return a bucket made ready; what is the same in all columns goes into its constants."""
    from scipy.sparse import csr_matrix  # only thousands of columns are worth its import

    bucket = tree.buckets[number]
    indexes = [*(index for _, index in bucket.slots), *(index for _, index in bucket.children)]
    weights = bucket.weights.ravel()[bucket.live]
    varying = [i for i, factor in enumerate(factors) if not factor.is_fixed]
    for i in set(range(len(factors))) - set(varying):
        for source in factors[i].sources:
            weights = weights * source.rows[0, indexes[i][bucket.live]]
    chosen = tuple(factors[i] for i in varying)
    meeting = products(bucket, varying, [factor.states for factor in chosen])
    registers = [factor.variants for factor in chosen]
    spreads = []
    for product in meeting.products:
        pair = [registers[r] for r in product.registers]
        both = (*pair[1], *(variant for variant in pair[0] if variant not in pair[1]))
        spreads.append(spread(product, [(among(both, own), len(own)) for own in pair]))
        registers.append(both)
    height, width = bucket.weights.shape
    ends = np.searchsorted(bucket.live // width, np.arange(height + 1))
    matrix = csr_matrix((weights, meeting.of, ends), shape=(height, meeting.count))
    variants = registers[-1] if registers else (WHOLE,)
    return Step(number, chosen, tuple(spreads), meeting.products, matrix, variants)


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

    def spare(self, rows: int, columns: int) -> Floats:
        """Return room for an array that the next one may overwrite."""
        return self.numbers[self.used : self.used + rows * columns].reshape(rows, columns)

    def lend(self, rows: int, columns: int) -> Floats:
        """Return room for an array that stays until the bucket is done."""
        lent = self.spare(rows, columns)
        self.used += lent.size
        return lent


def _total(step: Step, part: slice, messages: dict[int, Floats], room: _Room) -> Floats:
    """Return the sum of a bucket over its variable for a block of columns."""
    columns, room.used = part.stop - part.start, 0
    registers = [_entering(factor, part, messages, room) for factor in step.factors]
    for product in step.products:
        (one, other), (at, other_at) = (registers[r] for r in product.registers), product.places
        if other_at is not None:
            lent = room.lend(product.count, columns)
            other = other.take(other_at, axis=0, out=lent, mode="clip")
        if at is not None:
            one = one.take(at, axis=0, out=room.spare(product.count, columns), mode="clip")
        registers.append(np.multiply(other, one, out=other))
    last = registers[-1].reshape(step.matrix.shape[1], -1)
    total: Floats = (step.matrix @ last).reshape(-1, columns)
    return total


def _entering(factor: Factor, part: slice, messages: dict[int, Floats], room: _Room) -> Floats:
    """Return a factor in a block of columns, a row for each state and variant."""
    columns = part.stop - part.start
    if factor.child is not None:
        rows = messages.pop(factor.child)
    elif factor.turns:
        rows = looked_up(factor.sources, part).T.reshape(-1, columns)
    else:
        rows = room.lend(factor.states * len(factor.variants), columns)
        rows.reshape(factor.states, -1)[:] = looked_up(factor.sources, part).T
    for turn in factor.turns:
        rows = _turned(turn, rows.reshape(factor.states, -1, columns), part, room)
    return rows


def _turned(turn: Turn, rows: Floats, part: slice, room: _Room) -> Floats:
    """Return *rows*, shape (states, variants, columns), with the variants that a turn makes."""
    states, _, columns = rows.shape
    units, made, _ = turn.shares.shape
    shares = turn.shares[:, :, part].reshape(units, -1)
    kept = len(turn.kept) * columns
    turned = room.lend(states * (len(turn.kept) + made), columns)
    every = turned.reshape(states, -1)
    every[:, :kept] = rows.take(turn.kept, axis=1).reshape(states, -1)
    more = room.spare(states * made, columns).reshape(states, made, columns)
    total, same = every[:, kept:], more.reshape(states, -1)
    for i, (share, unit) in enumerate(zip(shares, turn.units, strict=True)):
        np.take(rows, np.repeat(unit, made), axis=1, out=more, mode="clip")
        if i == 0:
            np.multiply(same, share, out=total)
        else:
            np.multiply(same, share, out=same)
            total += same
    return turned


def looked_up(sources: Sequence[Source], part: slice) -> Floats:
    """Return the product of what the sources say, shape (variants x columns, states)."""
    first, *others = sources
    rows: Floats = first.rows.take(first.which[:, part].ravel(), axis=0)
    for source in others:
        rows *= source.rows.take(source.which[:, part].ravel(), axis=0)
    return rows
