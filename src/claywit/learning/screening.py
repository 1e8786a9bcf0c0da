"""Measured values that sit oddly among their own kind: slips of the pen, or pieces apart.

Volumes and pages of sources are from memory.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.inference.tree import Bools, Ints
from claywit.learning.scoring import truth_of
from claywit.model.schema import Model, Node

ENOUGH = 5  # values of one kind, below which none of them can be odd
LEVEL = 0.05  # the chance that anything at all is flagged in a file without slips


@dataclass(frozen=True)
class Odd:
    """One value that its kind speaks against.

    row: of the cases. kind: the known states of the node's parents.
    middle, spread: mean and standard deviation of the other values of its kind, *others* many.
    sd_away: how far it lies from the middle, in spreads.
    chance: how often the farthest of all values that were looked at would lie as far.
    """

    row: int
    name: str
    node: str
    measure: str
    value: float
    kind: tuple[tuple[str, str], ...]
    middle: float
    spread: float
    others: int
    sd_away: float
    chance: float


@dataclass(frozen=True)
class _Batch:
    """The values of one measure and one kind, on a log scale if *on_log*."""

    node: Node
    measure: int
    kind: tuple[tuple[str, str], ...]
    rows: Ints
    values: Floats
    fineness: float
    on_log: bool


def screen(cases: Cases, model: Model) -> tuple[Odd, ...]:
    """Return the values that lie too far from the others of their kind, the oddest first.

    Each value is held against all others of its kind, itself left out, by the t of their mean
    and spread (Thompson 1935, Ann. Math. Stat. 6:214), and the chance is that of the farthest
    of all values (Bonferroni). What is flagged is taken out and the rest looked at again, so that
    one slip does not hide another. A value can be odd and right: it is for a person to look.
    """
    batches = [batch for node in model.nodes for batch in _batches(cases, model, node)]
    looked_at = sum(len(batch.rows) for batch in batches)
    found = [odd for batch in batches for odd in _odd_of(batch, cases, looked_at)]
    return tuple(sorted(found, key=lambda odd: (odd.chance, -odd.sd_away, odd.name, odd.measure)))


def _batches(cases: Cases, model: Model, node: Node) -> Iterator[_Batch]:
    """Yield the values of each measure of a node, for each kind of which there are enough."""
    values = cases.values.get(node.name)
    if values is None:
        return
    truths = [truth_of(cases, parent) for parent in node.parents]
    known = np.all([truth >= 0 for truth in truths], axis=0) if truths else np.ones(len(cases))
    on_log = bool(node.rows) and all(row.log_normal for row in node.rows)
    for m in range(len(node.measured)):
        column = values[:, m]
        usable = known.astype(np.bool_) & (column > 0 if on_log else ~np.isnan(column))
        rows = np.flatnonzero(usable)
        kinds, which = np.unique(
            np.stack([*(truth[rows] for truth in truths), np.zeros(len(rows), int)], axis=1),
            axis=0,
            return_inverse=True,
        )
        for k, kind in enumerate(kinds):
            own = rows[which.ravel() == k]
            if len(own) < ENOUGH:
                continue
            said = tuple(
                (parent, model.node(parent).all_states[state])
                for parent, state in zip(node.parents, kind, strict=False)
            )
            taken = np.log(column[own]) if on_log else column[own]
            yield _Batch(node, m, said, own, taken, _fineness(column[usable]), on_log)


def _fineness(values: Floats) -> float:
    """Return the smallest step between different values: how finely they were written down."""
    steps = np.diff(np.unique(values))
    return float(steps.min()) if len(steps) else 0.0


def _odd_of(batch: _Batch, cases: Cases, looked_at: int) -> Iterator[Odd]:
    kept = np.ones(len(batch.rows), dtype=np.bool_)
    while True:
        away, chance = _distances(batch, kept)
        chance = np.minimum(chance * looked_at, 1.0)
        flagged = kept & (chance < LEVEL)
        if not flagged.any():
            return
        for i in np.flatnonzero(flagged):
            others = kept.copy()
            others[i] = False
            yield _said(batch, cases, int(i), others, float(away[i]), float(chance[i]))
        kept &= ~flagged
        if kept.sum() < ENOUGH:
            return


def _distances(batch: _Batch, kept: Bools) -> tuple[Floats, Floats]:
    """Return how far each kept value lies from the other kept ones, in spreads, and its chance."""
    x, n = batch.values, int(kept.sum()) - 1
    # Of the others, each left out in turn: their sum and spread by taking one value away.
    middle = x[kept].mean()
    off = np.where(kept, x - middle, 0.0)
    mean = -off / n
    squares = np.maximum((off**2).sum() - off**2 - n * mean**2, 0.0)
    scale = batch.fineness / (np.exp(middle) if batch.on_log else 1.0)
    spread = np.sqrt(np.maximum(squares / (n - 1), scale**2 / 12))
    with np.errstate(divide="ignore", invalid="ignore"):
        away = np.where(off == mean, 0.0, np.abs(off - mean) / spread)
    return away, 2 * student.sf(away / np.sqrt(1 + 1 / n), n - 1)


def _said(batch: _Batch, cases: Cases, i: int, others: Bools, away: float, chance: float) -> Odd:
    row = int(batch.rows[i])
    held = cases.values[batch.node.name][batch.rows[others], batch.measure]
    return Odd(
        row,
        cases.names[row],
        batch.node.name,
        list(batch.node.measured)[batch.measure],
        float(cases.values[batch.node.name][row, batch.measure]),
        batch.kind,
        float(held.mean()),
        float(held.std(ddof=1)),
        len(held),
        away,
        chance,
    )
