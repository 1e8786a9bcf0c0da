"""What each number of the model contributes to an answer.

P(root state, findings) is linear in the shares of any one row, since no joint state uses two
rows of a node (Castillo, Gutierrez & Hadi 1997; Darwiche 2003; both from memory). The part of
the sum that uses a share is what remains when only its entries are left in the table: one more
column of evidence. So every one-way sensitivity function is exact.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.likelihood import is_bent, parent_tables
from claywit.inference.network import (
    Floats,
    Network,
    gate_table,
    proposals,
    repeated,
    row_shares,
)
from claywit.inference.propagation import load, propagate
from claywit.inference.tree import Ints
from claywit.inference.varied import Varied, inner_ratio
from claywit.model.schema import NOT_VISIBLE, Node
from claywit.model.values import Given

MOST = 5_000_000  # entries of the tables that are made for the shares of one node


@dataclass(frozen=True)
class Family:
    """Shares that sum to 1: a row, a leak, a cause, or a row of the visibility.

    kind: row, leak, cause or visibility. given: for which states of the parents it holds.
    n: the equivalent sample size; None where the shares are taken as exact.
    """

    node: str
    kind: str
    given: Given
    states: tuple[str, ...]
    shares: Floats
    n: float | None


@dataclass(frozen=True)
class Contributions:
    """Every number's part in P(root state, findings), on the scale of *base*.

    base: shape (root states,). families: with, for each, the sum over the joint states that
    use each of its shares, shape (states, root states). cells: for each measured finding what
    each entry of its table contributes, shape (entries, root states).
    left_out: findings whose rows a half-certain reading bends, so that they are not linear, and
    nodes with so many rows that each share cannot be varied.
    """

    base: Floats
    families: tuple[Family, ...]
    parts: tuple[Floats, ...]
    cells: dict[str, Floats]
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class _Columns:
    """Tables for one slot, shape (entries, columns), and the families that they belong to."""

    slot: int
    tables: Floats
    families: tuple[Family, ...] = ()
    cells: str = ""


def contributions(varied: Varied) -> Contributions:
    """Return what every number that the answer rests on contributes to it."""
    gathered = [*_inner(varied), *_findings(varied)]
    tables = [[np.zeros((varied.network.table(n)[1].size, 1))] for n in varied.nodes]
    tables += [[table.values.reshape(-1, 1)] for table in varied.tables]
    where: list[Ints] = []
    chosen: list[tuple[int, Ints]] = []
    at = 1
    for columns in gathered:
        live = np.flatnonzero(columns.tables.max(axis=0) > -np.inf)
        first = sum(t.shape[1] for t in tables[columns.slot])
        tables[columns.slot].append(columns.tables[:, live])
        place = np.full(columns.tables.shape[1], -1)
        place[live] = np.arange(at, at + live.size)
        where.append(place)
        chosen.append((columns.slot, np.arange(first, first + live.size)))
        at += live.size
    picks = np.zeros((len(tables), at), dtype=np.intp)
    for (slot, numbers), place in zip(chosen, where, strict=True):
        picks[slot, place[place >= 0]] = numbers
    logs = propagate(load(varied.tree, [np.concatenate(t, axis=1) for t in tables]), picks)
    joint = np.exp(logs - logs[:, 0].max()).T
    joint = np.concatenate([joint, np.zeros((1, joint.shape[1]))])  # place -1: nothing is left
    return _collected(gathered, [joint[place] for place in where], joint[0], varied)


def _collected(
    gathered: list[_Columns], joints: list[Floats], base: Floats, varied: Varied
) -> Contributions:
    families: list[Family] = []
    parts: list[Floats] = []
    cells: dict[str, Floats] = {}
    for columns, joint in zip(gathered, joints, strict=True):
        if columns.cells:
            cells[columns.cells] = joint
        at = 0
        for family in columns.families:
            families.append(family)
            parts.append(joint[at : at + len(family.states)])
            at += len(family.states)
    bent = [f.node for f in varied.findings if is_bent(varied.network, f)]
    large = [n for n in varied.network.model.by_name if _is_large(varied.network, n)]
    left_out = tuple(dict.fromkeys([*bent, *large]))
    return Contributions(base, tuple(families), tuple(parts), cells, left_out)


def _is_large(network: Network, name: str) -> bool:
    """Return whether a node has too many shares for each to get a table of its own."""
    if name not in network.rows:
        return False
    rows = network.model.node(name).rows
    table = network.rows[name]
    return int(table.size) * len(rows) * int(table.shape[-1]) > MOST


def _inner(varied: Varied) -> Iterator[_Columns]:
    """Yield the columns of the tables that stand in the tree."""
    for slot, name in enumerate(varied.nodes):
        if name not in varied.network.client_priors and not _is_large(varied.network, name):
            network, families = _only(varied.network, varied.network.model.node(name))
            ratio = inner_ratio(varied, name, network.table(name)[1])
            with np.errstate(divide="ignore"):
                yield _Columns(slot, np.log(ratio), families)


def _findings(varied: Varied) -> Iterator[_Columns]:
    """Yield the columns of the findings on leaves; other findings bring no numbers."""
    leaves = varied.network.leaves - set(varied.tree.roots)
    slot = len(varied.nodes)
    for finding in varied.findings:
        if finding.node not in leaves:
            slot += 1
            continue
        node = varied.network.model.node(finding.node)
        own = parent_tables(varied.network, finding)
        if not finding.not_visible:
            yield from _of_reading(varied.network, node, finding, slot)
        if node.visibility:
            last = slot + len(own) - 1
            yield _of_hiding(varied.network, node, finding, last)
        slot += len(own)


def _of_reading(network: Network, node: Node, finding: Finding, slot: int) -> Iterator[_Columns]:
    if node.measured:
        values = parent_tables(network, finding)[0].values.ravel()
        alone = np.where(np.eye(values.size) == 1, values[:, np.newaxis], -np.inf)
        yield _Columns(slot, alone, cells=node.name)
    elif not is_bent(network, finding) and not _is_large(network, node.name):
        only, families = _only(network, node)
        table = parent_tables(only, finding)[0].values
        yield _Columns(slot, table.reshape(-1, table.shape[-1]), families)


def _of_hiding(network: Network, node: Node, finding: Finding, slot: int) -> _Columns:
    """Return what each row of the visibility says of a finding: hidden, or seen."""
    seen = node.visibility
    assert seen  # noqa: S101 - the caller looked
    p = network.hiding[node.name]
    names = network.model.node(seen.parent).state_names
    families, columns = [], []
    for k, state in enumerate(names):
        shares = np.array([p[k], 1 - p[k]])
        given: Given = {seen.parent: (state,)}
        families.append(
            Family(node.name, "visibility", given, (NOT_VISIBLE, "visible"), shares, seen.n)
        )
        for outcome in (True, False):
            own = np.zeros(len(p))
            own[k] = shares[0 if outcome else 1] * (finding.not_visible == outcome)
            columns.append(own)
    with np.errstate(divide="ignore"):
        return _Columns(slot, np.log(np.stack(columns, axis=1)), tuple(families))


def _only(network: Network, node: Node) -> tuple[Network, tuple[Family, ...]]:
    """Return the network with a last axis along which the node has one of its shares only."""
    families = tuple(_gate_families(network, node) if node.noisy else _row_families(node))
    if node.noisy:
        table = _gate_parts(network, node, families)
    else:
        index, k = network.row_index[node.name], len(node.state_names)
        shares = np.stack([family.shares for family in families])
        table = np.zeros((*index.shape, k, len(families), k))
        here = index[..., np.newaxis] == np.arange(len(families))
        for state in range(k):
            table[..., state, :, state] = np.where(here, shares[:, state], 0.0)
        table = table.reshape(*index.shape, k, len(families) * k)
    return replace(network, rows={**network.rows, node.name: table}), families


def _row_families(node: Node) -> Iterator[Family]:
    for row in node.rows:
        yield Family(node.name, "row", row.given, node.state_names, row_shares(node, row), row.n)


def _gate_families(network: Network, node: Node) -> Iterator[Family]:
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    leak, *causes = proposals(network.model, node)
    yield Family(node.name, "leak", {}, node.state_names, leak, gate.leak.n)
    for cause in gate.causes:
        axis, states = _of_cause(network, node, cause.given)
        yield Family(
            node.name, "cause", cause.given, node.state_names, causes[axis][states[0]], cause.n
        )


def _of_cause(network: Network, node: Node, given: Given) -> tuple[int, list[int]]:
    """Return the axis of a cause's parent, and the states of it that are a cause."""
    parent, states = next(iter(given.items()))
    names = network.model.node(parent).state_names
    return node.parents.index(parent), [names.index(s) for s in states]


def _gate_parts(network: Network, node: Node, families: Sequence[Family]) -> Floats:
    """Return the gate's table with only the part in which one family proposes one level.

    The last axis runs over the families and, within each, over its levels.
    """
    width = len(node.state_names)
    proposed = [repeated(each, len(families) * width) for each in proposals(network.model, node)]
    for i, family in enumerate(families):
        alone = np.diag(family.shares)  # (levels, columns): each column keeps one level
        own = slice(i * width, (i + 1) * width)
        if family.kind == "leak":
            proposed[0][:, own] = alone
        else:
            axis, states = _of_cause(network, node, family.given)
            proposed[axis + 1][..., own] = 0.0
            proposed[axis + 1][states, :, own] = alone
    return gate_table(proposed)
