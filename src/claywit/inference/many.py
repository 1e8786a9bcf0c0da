"""Thousands of columns of evidence through a tree.

Buckets below which few columns differ are worked first, once for each different column. All
others are worked together, block after block: what was worked out below is looked up row by
row, and what one bucket hands to the next never leaves the cache.

A column can be worked in variants, each with one finding left out. A bucket has only the
variants whose finding lies below it, so that a finding is left out along its own path alone, and
of those only what `variants` cannot put off.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from claywit.inference.blocks import Factor, Source, Step, blocks, looked_up, make_step
from claywit.inference.combined import Combined
from claywit.inference.routes import distinct
from claywit.inference.tree import Floats, Ints, Tree
from claywit.inference.units import Unit, units
from claywit.inference.variants import WHOLE, Held, Open, Variants, among

HELD = 12_000_000  # numbers that are worked out below and held at once


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


@dataclass
class _Plan:
    """Buckets as they are made ready: what each says, and those that are worked by the block."""

    steps: list[Step] = field(default_factory=list)
    said: list[Factor] = field(default_factory=list)
    room: int = HELD


def work(columns: Columns, into: Floats) -> None:
    """Write log P(root state, evidence), shape (root states, variants, columns)."""
    plan, count = _planned(columns), columns.picks.shape[1]
    onto = among(columns.variants, plan.said[-1].held.variants)
    with np.errstate(divide="ignore"):
        if not plan.steps:
            (last,) = plan.said[-1].sources
            into[:] = np.log(last.rows).T[:, last.which[onto]]
            return
        for part, message in blocks(plan.steps, count):
            # While they are in the cache; of a great array it takes twice as long.
            np.log(message, out=message)
            into[:, :, part] = message.reshape(len(into), -1, message.shape[1])[:, onto]


def _planned(columns: Columns) -> _Plan:
    tree, owner, count = columns.tree, columns.owner, columns.picks.shape[1]
    sizes = [[group[0].rows.shape[1] for group in groups] for groups in columns.combined]
    by_state = {} if owner is None else units(tree, owner, sizes)
    plan = _Plan()
    for number, bucket in enumerate(tree.buckets):
        factors = [
            _by_state(group, columns, by_state[number, place])
            if (number, place) in by_state
            else _of_slots(group, columns)
            for place, group in enumerate(columns.combined[number])
        ]
        factors += [plan.said[child] for child, _ in bucket.children]
        _add(plan, tree, make_step(tree, number, factors), count)
    return plan


def _add(plan: _Plan, tree: Tree, step: Step, columns: int) -> None:
    """Work a bucket for the different columns if these are few, or leave it for the blocks."""
    states, variants = len(tree.buckets[step.number].weights), step.plan.held.variants
    first, own = _different(step, columns)
    if 2 * len(first) <= len(own) and len(first) * states <= plan.room:
        plan.room -= len(first) * states
        source = _source(_alone(step, first), own.reshape(len(variants), -1))
        plan.said.append(Factor(step.plan.held, states, (source,)))
    else:
        _append(plan.steps, step)
        plan.said.append(Factor(step.plan.held, states, child=step.number))


def _append(steps: list[Step], step: Step) -> None:
    """Add a bucket, or let the one before sum for it too where nothing else enters it."""
    if steps and not step.plan.turns and [f.child for f in step.factors] == [steps[-1].number]:
        both = step.matrix @ steps[-1].matrix
        if both.nnz <= step.matrix.nnz + steps[-1].matrix.nnz:
            steps[-1] = replace(steps[-1], number=step.number, matrix=both)
            return
    steps.append(step)


def _of_slots(group: Sequence[Combined], columns: Columns) -> Factor:
    """Return what a group of slots says of each column, with a variant for each of its findings."""
    owner, picks = columns.owner, columns.picks
    slots = [slot for each in group for slot in each.slots]
    findings = () if owner is None else sorted({int(owner[slot]) for slot in slots})
    variants, sources = (WHOLE, *findings), []
    for each in group:
        which = np.tile(each.codes(picks), (len(variants), 1))
        for slot, share in zip(each.slots, each.shares, strict=True):
            if owner is not None:
                which[variants.index(int(owner[slot]))] += share[0] - share[picks[slot]]
        sources.append(_source(each.rows, which))
    return Factor(Held(variants), group[0].rows.shape[1], tuple(sources))


def _source(rows: Floats, which: Ints) -> Source:
    """Return a source that has one row if all columns take the same."""
    if len(rows) > 1 and which.size and which.min() == which.max():
        return Source(rows[which[0, :1]], np.zeros_like(which))
    return Source(rows, which)


def _by_state(group: Sequence[Combined], columns: Columns, unit: Unit) -> Factor:
    """Return what a group of slots says, with variants in which one state alone is possible."""
    plain, sources = _of_slots(group, columns), []
    states, size = plain.states, columns.picks.shape[1]
    for i, source in enumerate(plain.sources):
        said = np.eye(states) if i == 0 else np.ones((states, states))
        each = np.arange(len(source.rows), len(source.rows) + states)
        which = np.concatenate([source.which[:1], np.tile(each[:, np.newaxis], (1, size))])
        sources.append(Source(np.concatenate([source.rows, said]), which))
    without = [Source(source.rows, source.which[1:]) for source in plain.sources]
    shares = np.ascontiguousarray(looked_up(without, slice(None)).T)
    open_ = Open(unit.states, unit.findings, shares.reshape(states, len(unit.findings), size))
    return Factor(Held((WHOLE, *unit.states), (open_,)), states, tuple(sources))


def _different(step: Step, columns: int) -> tuple[Ints, Ints]:
    """Return one of each different column and variant, and for each of all which it is like.

    They are numbered variant by variant. Each counts as different if a bucket below is worked
    by the block.
    """
    variants = step.plan.held.variants
    every = len(variants) * columns
    if step.differs:
        return np.arange(every), np.arange(every)
    codes = [
        source.which[among(variants, factor.held.variants)].ravel()
        for factor in step.factors
        for source in factor.sources
        if len(source.rows) > 1
    ]
    return distinct(codes, every)


def _alone(step: Step, columns: Ints) -> Floats:
    """Return what a bucket that rests on rows alone hands on, shape (columns, states).

    Args:
        step: the bucket.
        columns: which to work, numbered variant by variant.
    """
    if not step.factors:
        sums: Floats = np.asarray(step.matrix.sum(axis=1)).reshape(1, -1)
        return sums
    factors = [_at(factor, step.plan.held.variants, columns) for factor in step.factors]
    rows = np.empty((len(columns), step.matrix.shape[0]))
    for part, message in blocks([step.of(factors)], len(columns)):
        rows[part] = message.T
    return rows


def _at(factor: Factor, variants: Variants, columns: Ints) -> Factor:
    """Return a factor in some columns of some variants only."""
    taken = among(variants, factor.held.variants)
    sources = tuple(
        Source(source.rows, source.which[taken].ravel()[columns][np.newaxis])
        for source in factor.sources
    )
    return Factor(Held((WHOLE,)), factor.states, sources)
