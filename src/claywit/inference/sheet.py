"""Many pieces on one compiled tree: what was found on each as a choice among tables.

The tree has a slot for every table that a finding on one of its traits may need, and every slot
has a silent table, so pieces with other traits, and all subsets of their findings, are columns of
one pass.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod

import numpy as np

from claywit.errors import ModelError
from claywit.evidence.cases import Cases
from claywit.inference.elimination import Changes
from claywit.inference.likelihood import LogTable
from claywit.inference.measured import alike, log_measures
from claywit.inference.network import Floats, Network
from claywit.inference.piece import compile_scopes, tables_of
from claywit.inference.propagation import Loaded, leave_each_out, load, propagate
from claywit.inference.tree import Bools, Ints, Tree
from claywit.model.schema import Node

WILD = 60.0  # nats between the states of one measured value, from which it is worked apart
_MEASURED = 10_000  # different values that a measure may have in one pass
Reading = tuple[LogTable, ...]


@dataclass(frozen=True)
class Sheet:
    """A tree with room for any findings on some traits.

    nodes: the traits, in the order of the model.
    slots: the slots of each trait. scopes: of each slot.
    tables: for each slot the tables of the plain readings, the first of them silent; shape
        (states of the scope, 1 + readings).
    readings: how many plain readings of each trait there are.
    """

    network: Network
    tree: Tree
    nodes: tuple[str, ...]
    slots: Mapping[str, tuple[int, ...]]
    scopes: tuple[tuple[str, ...], ...]
    tables: tuple[Floats, ...]
    readings: Mapping[str, int]


def compile_sheet(
    network: Network,
    readings: Mapping[str, Sequence[Reading]],
    roots: Sequence[str],
    *,
    made_for: Changes | None = None,
) -> Sheet:
    """Return the tree for findings on the nodes of *readings*, to ask for the joint of *roots*.

    Args:
        network: the model.
        readings: for each trait its plain readings, as tables, which come to have numbers
            from 1; of a discrete node in the order of all its states.
        roots: what is asked for.
        made_for: that each piece is to be asked about again and again, with findings changed.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    slots: dict[str, tuple[int, ...]] = {}
    scopes: list[tuple[str, ...]] = []
    tables: list[Floats] = []
    for name, every in readings.items():
        asked = frozenset(roots)
        own = sorted(
            {t.scope for reading in every for t in reading} | _scopes(network, name, asked)
        )
        slots[name] = tuple(range(len(scopes), len(scopes) + len(own)))
        scopes += own
        tables += [columns_of(network, scope, every) for scope in own]
    versions = [
        _MEASURED if network.model.node(name).measured else len(readings[name]) + 1
        for name, own in slots.items()
        for _ in own
    ]
    tree = _tree(network, scopes, tuple(roots), made_for or versions)
    counts = {name: len(every) for name, every in readings.items()}
    return Sheet(network, tree, tuple(readings), slots, tuple(scopes), tuple(tables), counts)


def _tree(
    network: Network,
    scopes: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
    versions: Sequence[int] | Changes,
) -> Tree:
    """Return a tree made for many columns, or a smaller one where that would be too large."""
    try:
        return compile_scopes(network, scopes, roots, versions)
    except ModelError:
        return compile_scopes(network, scopes, roots)


def _scopes(network: Network, name: str, asked: frozenset[str]) -> set[tuple[str, ...]]:
    """Return the scopes that a finding on a node may need."""
    node = network.model.node(name)
    if name in asked or name not in network.leaves:
        return {(name,)}
    hiding = {(node.visibility.parent,)} if node.visibility else set()
    return {node.parents, *hiding}


def columns_of(network: Network, scope: tuple[str, ...], readings: Sequence[Reading]) -> Floats:
    """Return the tables of one slot: not read, then each reading; zeros where it is silent."""
    silent = np.zeros(prod(len(network.states[name]) for name in scope))
    columns = [silent]
    for reading in readings:
        own = [np.ravel(table.values) for table in reading if table.scope == scope]
        columns.append(own[0] if own else silent)
    return np.stack(columns, axis=1)


@dataclass(frozen=True)
class Laid:
    """Pieces laid out on a sheet.

    picks: the table of each slot that each piece uses, 0 where it says nothing; (slots, pieces).
    wild: pieces with a value so far out that probabilities might leave the range of a double.
    offsets: what was taken off the logarithms of each slot's table of a piece, to keep them near
        0; shape (slots, pieces).
    """

    sheet: Sheet
    picks: Ints
    wild: Bools
    offsets: Floats
    tame_tables: Loaded
    all_tables: Loaded

    def log_joint(self, picks: Ints, rows: Ints) -> Floats:
        """Return log P(joint state of the roots, findings), offsets left out; (states, columns).

        Args:
            picks: the tables of each column, shape (slots, columns): of piece *rows* or silent.
            rows: which piece each column is of.
        """
        found = np.empty((len(self.sheet.tree.root_states), len(rows)))
        # A long pass is worked in parts; what the columns of one piece share stays in one part.
        order = np.argsort(rows, kind="stable")
        wild = self.wild[rows[order]]
        for loaded, chosen in ((self.tame_tables, order[~wild]), (self.all_tables, order[wild])):
            if chosen.size:
                found[:, chosen] = propagate(loaded, picks[:, chosen])
        return found

    def log_left_out(self, picks: Ints, rows: Ints, owner: Ints) -> Floats:
        """Return the same with nothing and with each part of the evidence left out.

        Args:
            picks: as for `log_joint`.
            rows: as for `log_joint`.
            owner: the number of the part that each slot belongs to.

        Returns:
            Shape (states, 1 + parts, columns).
        """
        found = np.empty((len(self.sheet.tree.root_states), int(owner.max()) + 2, len(rows)))
        wild = self.wild[rows]
        for loaded, chosen in ((self.tame_tables, ~wild), (self.all_tables, wild)):
            if chosen.any():
                found[:, :, chosen] = leave_each_out(loaded, picks[:, chosen], owner)
        return found

    def take(self, rows: Ints) -> "Laid":
        """Return the pieces *rows*, in that order."""
        return replace(
            self, picks=self.picks[:, rows], wild=self.wild[rows], offsets=self.offsets[:, rows]
        )

    def found(self, name: str) -> Bools:
        """Return on which pieces there is a finding on a trait."""
        some: Bools = np.any(self.picks[list(self.sheet.slots[name])] > 0, axis=0)
        return some


@dataclass
class _Laying:
    """Picks and tables while they are being laid out; further tables are appended."""

    picks: Ints
    offsets: Floats
    tables: list[list[Floats]]
    sizes: list[int]
    wild: Bools

    def append(self, slot: int, table: Floats, rows: Ints, which: Ints) -> None:
        """Let the pieces *rows* use the columns *which* of *table* in a slot."""
        offset = table.max(axis=0)
        offset = np.where(np.isfinite(offset), offset, 0.0)
        self.tables[slot].append(table - offset)
        self.picks[slot, rows] = self.sizes[slot] + which
        self.offsets[slot, rows] = offset[which]
        self.sizes[slot] += table.shape[1]


def lay(sheet: Sheet, cases: Cases) -> Laid:
    """Return the findings of *cases* on the traits of a sheet; all others are left aside."""
    count = len(cases)
    shape = (len(sheet.scopes), count)
    laying = _Laying(
        np.zeros(shape, dtype=np.intp),
        np.zeros(shape),
        [[table] for table in sheet.tables],
        [table.shape[1] for table in sheet.tables],
        np.zeros(count, dtype=np.bool_),
    )
    for name in sheet.nodes:
        if name in cases.codes:
            laying.picks[list(sheet.slots[name])] = cases.codes[name] + 1
        elif name in cases.values:
            _lay_measures(sheet, sheet.network.model.node(name), cases, laying)
    for row, special in cases.special.items():
        for name in special.keys() & sheet.slots.keys():
            _lay_special(sheet, tables_of(sheet.network, special[name], sheet.tree.roots),
                         sheet.slots[name], row, laying)  # fmt: skip
    tables = [np.concatenate(parts, axis=1) for parts in laying.tables]
    loaded = tame = load(sheet.tree, tables)
    if laying.wild.any():
        for slot, table in enumerate(tables):
            far = np.setdiff1d(laying.picks[slot, laying.wild], laying.picks[slot, ~laying.wild])
            far = far[far >= sheet.tables[slot].shape[1]]
            tables[slot] = table.copy()
            tables[slot][:, far] = 0.0
        tame = load(sheet.tree, tables)
    return Laid(sheet, laying.picks, laying.wild, laying.offsets, tame, loaded)


def _lay_measures(sheet: Sheet, node: Node, cases: Cases, laying: _Laying) -> None:
    values, doubts = cases.values[node.name], cases.doubts[node.name]
    rows = np.flatnonzero(~np.isnan(values).all(axis=1))
    if not rows.size:
        return
    both = np.concatenate([values[rows], doubts[rows]], axis=1)
    first, which = alike(list(both.T))
    different, k = both[first], values.shape[1]
    table = log_measures(sheet.network, node, different[:, :k], different[:, k:])
    finite = np.where(np.isfinite(table), table, table.max(axis=0))
    laying.wild[rows] |= (np.ptp(finite, axis=0) > WILD)[which]
    for slot in sheet.slots[node.name]:
        if sheet.scopes[slot] == node.parents:
            laying.append(slot, table, rows, which)
        else:
            hiding = sheet.network.hiding[node.name]
            with np.errstate(divide="ignore"):
                seen = np.log(1 - hiding)[:, np.newaxis]
            laying.append(slot, seen, rows, np.zeros_like(which))


def _lay_special(
    sheet: Sheet, reading: Reading, slots: Sequence[int], row: int, laying: _Laying
) -> None:
    said = {table.scope: np.ravel(table.values)[:, np.newaxis] for table in reading}
    for slot in slots:
        own = said.get(sheet.scopes[slot])
        if own is not None:
            laying.append(slot, own, np.array([row]), np.zeros(1, dtype=np.intp))
            finite = own[np.isfinite(own)]
            laying.wild[row] |= bool(finite.size and np.ptp(finite) > WILD)
