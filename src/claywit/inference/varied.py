"""Findings compiled so that every table of the network can be varied, one by one or all at once.

Each table that the answer rests on has an evidence slot of its own. What enters there is the
ratio of the table as varied to the table as it stands, so one compiled tree serves drawn
tables, contaminated ones, and the share of a single number in the answer.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from claywit.errors import ModelError
from claywit.evidence.findings import Finding
from claywit.inference.drawing import Drawn
from claywit.inference.likelihood import LogTable
from claywit.inference.network import Floats, Network
from claywit.inference.piece import compile_scopes, evidence_tables, holds, log_total, tables_of
from claywit.inference.propagation import load, propagate
from claywit.inference.totals import Factor, linear_total
from claywit.inference.tree import Bools, Ints, Tree
from claywit.model.propositions import Proposition

BLOCK = 250  # columns run at once: what fits into the cache
ROOM = 50_000  # joint states up to which all targets are asked for at once
MOST_ENTRIES = 4_000_000  # of the widest bucket times the columns held at once
SAFE = 500.0  # nats below the product of the largest entries, up to which nothing is lost


@dataclass(frozen=True)
class Varied:
    """A compiled tree with a slot for each inner table, then the slots of the findings.

    nodes: whose table each of the first slots varies. owner: the number of the finding that
    each of the other slots belongs to. tables: what the findings say as the model stands.
    """

    network: Network
    findings: tuple[Finding, ...]
    tree: Tree
    nodes: tuple[str, ...]
    owner: Ints
    tables: tuple[LogTable, ...]

    def holds(self, proposition: Proposition) -> Bools:
        """Return which joint states of the roots satisfy *proposition*, about roots only."""
        return holds(self.network, self.tree, proposition)

    def marginal(self, log_joint: Floats, name: str) -> Floats:
        """Return the shares of a root's states in each column, shape (states, columns)."""
        column = self.tree.root_states[:, self.tree.roots.index(name)]
        weights = np.exp(log_joint - log_joint.max(axis=0))
        shares = np.zeros((len(self.network.states[name]), log_joint.shape[1]))
        np.add.at(shares, column, weights)
        shares /= shares.sum(axis=0)
        return shares


def compile_varied(
    network: Network, findings: Sequence[Finding], roots: Sequence[str], more: Sequence[str] = ()
) -> Varied:
    """Compile *findings* with a slot on every table that the *roots* rest on.

    The roots *more* are joined to them if the joint stays small.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    if set(more) - set(roots):
        try:
            wide = _compile(network, findings, tuple(dict.fromkeys([*roots, *more])))
        except ModelError:
            wide = None
        if wide and wide.tree.entries <= ROOM:
            return wide
    return _compile(network, findings, tuple(dict.fromkeys(roots)))


def _compile(network: Network, findings: Sequence[Finding], roots: tuple[str, ...]) -> Varied:
    tables, owner = evidence_tables(network, findings, frozenset(roots))
    asked = frozenset(name for table in tables for name in table.scope) | frozenset(roots)
    needed = sorted(network.ancestors(asked))
    scopes = [*(network.table(name)[0] for name in needed), *(table.scope for table in tables)]
    tree = compile_scopes(network, scopes, roots)
    return Varied(network, tuple(findings), tree, tuple(needed), owner, tuple(tables))


@dataclass(frozen=True)
class Entering:
    """What enters one slot of a tree.

    values: shape (rows, columns), or (rows, 1) for all columns.
    of: for each entry of the slot's table its row; None where each entry is a row.
    is_log: the values are logarithms.
    """

    values: Floats
    of: Ints | None = None
    is_log: bool = False

    def part(self, columns: slice | Ints) -> "Entering":
        """Return what enters some of the columns."""
        if self.values.shape[1] == 1:
            return self
        return replace(self, values=self.values[:, columns])

    def scaled(self) -> tuple[Floats, Floats | float]:
        """Return the values without logarithms, and the logarithm of what they were divided by."""
        if not self.is_log:
            return self.values, 0.0
        top = self.values.max(axis=0)
        top = np.where(top > -np.inf, top, 0.0)
        return np.exp(self.values - top), top

    @property
    def table(self) -> Floats:
        """Return the logarithms of every entry of the slot's table."""
        with np.errstate(divide="ignore"):
            logs = self.values if self.is_log else np.log(self.values)
        return logs if self.of is None else logs[self.of]


def inner_ratio(varied: Varied, name: str, table: Floats) -> Floats:
    """Return *table* / the table of an inner node, shape (entries, columns).

    Args:
        varied: the compiled findings.
        name: the node.
        table: P(node | parents) as varied, with or without a last axis of columns; 0 where the
            model has 0.
    """
    return _ratio(table, varied.network.table(name)[1])


def _ratio(varied: Floats, stands: Floats) -> Floats:
    # The tree never looks where the model has 0.
    safe = np.where(stands > 0, stands, 1.0)
    ratio: Floats = varied.reshape(stands.size, -1) / safe.reshape(-1, 1)
    return ratio


def entering(varied: Varied, drawn: Drawn) -> tuple[Entering, ...]:
    """Return what enters all slots under *drawn*."""
    inner = [_of_inner(varied, name, drawn) for name in varied.nodes]
    return (*inner, *(each for f in varied.findings for each in _of_finding(varied, f, drawn)))


def _of_inner(varied: Varied, name: str, drawn: Drawn) -> Entering:
    network = varied.network
    if name not in drawn.rows or name in network.hiding:
        return Entering(inner_ratio(varied, name, drawn.whole(name).table(name)[1]))
    rows, states = drawn.rows[name], len(network.states[name])
    places = network.row_index[name].reshape(-1, 1) * states + np.arange(states)
    return Entering(_ratio(rows, network.shares[name]), places.ravel())


def _of_finding(varied: Varied, finding: Finding, drawn: Drawn) -> Iterator[Entering]:
    said, roots = drawn.said.get(finding.node), varied.tree.roots
    tables = tables_of(drawn.whole(finding.node), finding, roots)
    if said is not None:
        yield Entering(said, varied.network.row_index[finding.node].ravel())
        tables = tables[1:]
    for table in tables:
        size = int(np.prod([len(varied.network.states[name]) for name in table.scope]))
        yield Entering(table.values.reshape(size, -1), is_log=True)


def run(tree: Tree, slots: Sequence[Entering], sides: Sequence[Bools] = ()) -> Floats:
    """Return log P(root state, evidence), column by column.

    Unlike `propagate` nothing is shared between columns, since every one is another draw.
    Each message is scaled by its largest entry. A product that falls below what a double
    holds is lost; where that could reach a side's total the column is run again in logarithms.

    Args:
        tree: the compiled tree.
        slots: what enters its slots, in their order.
        sides: sets of root states whose totals matter; if none, only the total of all does.

    Returns:
        Shape (root states, columns).
    """
    columns = max((each.values.shape[1] for each in slots), default=1)
    parts = []
    size = max(1, min(BLOCK, MOST_ENTRIES // tree.widest))
    for start in range(0, columns, size):
        block = [each.part(slice(start, start + size)) for each in slots]
        joint, lowest = _run_block(tree, block, sides, min(size, columns - start))
        lost = np.flatnonzero(lowest < -SAFE)
        if lost.size:
            joint[:, lost] = _in_logarithms(tree, block, lost)
        parts.append(joint)
    return np.concatenate(parts, axis=1)


def _run_block(
    tree: Tree, slots: Sequence[Entering], sides: Sequence[Bools], columns: int
) -> tuple[Floats, Floats]:
    """Return the log joint, and the least log total of a side by the product of all tops."""
    values, tops = zip(*(each.scaled() for each in slots), strict=True) if slots else ((), ())
    scale = np.zeros(columns)
    messages: list[Floats] = []
    for bucket in tree.buckets:
        factors: list[Factor] = []
        for members, _ in bucket.slots:
            factors.append(_met([Factor(values[slot], of=slots[slot].of) for slot in members]))
        factors += [Factor(messages[child]) for child, _ in bucket.children]
        total = linear_total(bucket, factors, columns)
        top = total.max(axis=0)
        top = np.where(top > 0, top, 1.0)
        total /= top
        messages.append(total)
        scale = scale + np.log(top)
    with np.errstate(divide="ignore"):
        joint = np.broadcast_to(np.log(messages[-1]), (len(messages[-1]), columns)) + scale
    lowest = np.min([log_total(joint, side) for side in sides or (None,)], axis=0)
    return joint + sum(tops), lowest


def _met(tables: Sequence[Factor]) -> Factor:
    """Return as one factor the tables that enter a bucket over one scope."""
    if len(tables) == 1:
        return tables[0]
    return Factor(reduce(np.multiply, (table.at(None) for table in tables)))


def _in_logarithms(tree: Tree, slots: Sequence[Entering], columns: Ints) -> Floats:
    chosen = [each.part(columns).table for each in slots]
    picks = [np.arange(len(columns)) % table.shape[1] for table in chosen]
    return propagate(load(tree, chosen), np.array(picks))
