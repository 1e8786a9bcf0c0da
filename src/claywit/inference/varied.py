"""Findings compiled so that every table of the network can be varied, one by one or all at once.

Each table that the answer rests on has an evidence slot of its own. What enters there is the
ratio of the table as varied to the table as it stands, so one compiled tree serves drawn
tables, contaminated ones, and the share of a single number in the answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.errors import ModelError
from claywit.evidence.findings import Finding
from claywit.inference.likelihood import LogTable
from claywit.inference.network import Floats, Network
from claywit.inference.piece import evidence_tables, holds, log_total, tables_of
from claywit.inference.propagation import Factor, linear_total, load, propagate
from claywit.inference.tree import Bools, Ints, Tree, compile_tree
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
    constants = [network.table(name) for name in needed]
    scopes = [*[scope for scope, _ in constants], *[table.scope for table in tables]]
    cards = {name: len(network.states[name]) for name in needed}
    tree = compile_tree(cards, constants, scopes, roots)
    return Varied(network, tuple(findings), tree, tuple(needed), owner, tuple(tables))


@dataclass(frozen=True)
class Slots:
    """What enters a tree with a slot on every table: ratios of inner tables, then log tables.

    Each has shape (entries, columns), or (entries, 1) for all columns.
    """

    ratios: tuple[Floats, ...]
    logs: tuple[Floats, ...]


def inner_ratio(varied: Varied, name: str, table: Floats) -> Floats:
    """Return *table* / the table of an inner node, shape (entries, columns).

    Args:
        varied: the compiled findings.
        name: the node.
        table: P(node | parents) as varied, with or without a last axis of columns; 0 where the
            model has 0.
    """
    _, stands = varied.network.table(name)
    # The tree never looks where the model has 0.
    safe = np.where(stands > 0, stands, 1.0)
    ratio: Floats = table.reshape(stands.size, -1) / safe.reshape(-1, 1)
    return ratio


def varied_tables(varied: Varied, drawn: Network) -> Slots:
    """Return what enters all slots under the draws of *drawn*."""
    ratios = (inner_ratio(varied, name, drawn.table(name)[1]) for name in varied.nodes)
    return Slots(tuple(ratios), _finding_tables(varied, drawn))


def _finding_tables(varied: Varied, drawn: Network) -> tuple[Floats, ...]:
    found: list[Floats] = []
    for finding in varied.findings:
        for table in tables_of(drawn, finding, varied.tree.roots):
            size = int(np.prod([len(drawn.states[name]) for name in table.scope]))
            found.append(table.values.reshape(size, -1))
    return tuple(found)


def run(tree: Tree, slots: Slots, sides: Sequence[Bools] = ()) -> Floats:
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
    every = (*slots.ratios, *slots.logs)
    columns = max((table.shape[1] for table in every), default=1)
    parts = []
    size = max(1, min(BLOCK, MOST_ENTRIES // tree.widest))
    for start in range(0, columns, size):
        block = Slots(
            *(
                tuple(t if t.shape[1] == 1 else t[:, start : start + size] for t in kind)
                for kind in (slots.ratios, slots.logs)
            )
        )
        joint, lowest = _run_block(tree, block, sides, min(size, columns - start))
        lost = np.flatnonzero(lowest < -SAFE)
        if lost.size:
            joint[:, lost] = _in_logarithms(tree, block, lost)
        parts.append(joint)
    return np.concatenate(parts, axis=1)


def _run_block(
    tree: Tree, slots: Slots, sides: Sequence[Bools], columns: int
) -> tuple[Floats, Floats]:
    """Return the log joint, and the least log total of a side by the product of all tops."""
    high = [table.max(axis=0) for table in slots.ratios]
    values = [
        table / np.where(top > 0, top, 1) for table, top in zip(slots.ratios, high, strict=True)
    ]
    tops = [np.log(np.where(top > 0, top, 1)) for top in high]
    for table in slots.logs:
        top = table.max(axis=0)
        tops.append(np.where(top > -np.inf, top, 0.0))
        values.append(np.exp(table - tops[-1]))
    scale = np.zeros(columns)
    messages: list[Floats] = []
    for bucket in tree.buckets:
        factors: list[Factor] = []
        for members, index in bucket.slots:
            table = values[members[0]]
            for slot in members[1:]:
                table = table * values[slot]
            factors.append((table, index, None))
        factors += [(messages[child], index, None) for child, index in bucket.children]
        total = linear_total(bucket, factors, columns)
        top = total.max(axis=0)
        top = np.where(top > 0, top, 1.0)
        messages.append(total / top)
        scale = scale + np.log(top)
    with np.errstate(divide="ignore"):
        joint = np.broadcast_to(np.log(messages[-1]), (len(messages[-1]), columns)) + scale
    lowest = np.min([log_total(joint, side) for side in sides or (None,)], axis=0)
    return joint + sum(tops), lowest


def _in_logarithms(tree: Tree, slots: Slots, columns: Ints) -> Floats:
    with np.errstate(divide="ignore"):
        tables = [*(np.log(ratio) for ratio in slots.ratios), *slots.logs]
    chosen = [t if t.shape[1] == 1 else t[:, columns] for t in tables]
    picks = np.array(
        [np.zeros(len(columns), dtype=np.intp) if t.shape[1] == 1 else np.arange(len(columns))
         for t in chosen]
    )  # fmt: skip
    return propagate(load(tree, chosen), picks)
