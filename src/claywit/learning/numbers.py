"""All numbers of a model that a fit moves, where they started, and one step of the fit."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import isotonic_regression

from claywit.inference.densities import Located
from claywit.inference.network import (
    Floats,
    Network,
    Sizes,
    compile_network,
    gate_table,
    proposals,
    row_shares,
)
from claywit.learning import cavities, leaves, rows
from claywit.learning.slots import MeasureSlot, ReadSlot, SightSlot, SizeSlot, Slot
from claywit.model.schema import Model, Node


@dataclass(frozen=True)
class Numbers:
    """The numbers of a model: a network, and the parts that its tables are made of.

    shares: for each node with rows of shares, those rows, shape (rows, states).
    parts: for each noisy gate what its leak and its parents' states propose.
    """

    network: Network
    shares: Mapping[str, Floats]
    parts: Mapping[str, tuple[Floats, ...]]


def elicited(model: Model) -> Numbers:
    """Return the numbers that stand in *model*."""
    plain = [node for node in model.nodes if node.states and not node.noisy]
    return Numbers(
        compile_network(model),
        {node.name: np.stack([row_shares(node, row) for row in node.rows]) for node in plain},
        {node.name: tuple(proposals(model, node)) for node in model.nodes if node.noisy},
    )


@dataclass(frozen=True)
class Tally:
    """Expected counts of one round.

    families: for each inner node, shape of its whole table. masses: for each slot its parents
    by form, shape (entries, forms).
    """

    families: Mapping[str, Floats]
    masses: tuple[Floats, ...]


@dataclass(frozen=True)
class Start:
    """Where a fit starts: the numbers, what was read, and which visibility rows may move."""

    numbers: Numbers
    slots: tuple[Slot, ...]
    sighted: frozenset[str]

    @property
    def model(self) -> Model:
        """Return the model."""
        return self.numbers.network.model

    def rises(self, name: str) -> bool:
        """Return whether a node is elicited to be hidden no less from one state to the next."""
        return bool((np.diff(self.numbers.network.hiding[name]) >= 0).all())


@dataclass(frozen=True)
class NodeCounts:
    """How often a node was in each state: by its parents, and hidden or seen by obstruction."""

    by_parents: Floats | None
    by_sight: Floats | None


def node_counts(start: Start, now: Numbers, tally: Tally) -> dict[str, NodeCounts]:
    """Return the counts of every node with states or a visibility."""
    found: dict[str, NodeCounts] = {}
    for name, family in tally.families.items():
        seen, sight = rows.seen_of_family(start.model.node(name), family)
        found[name] = NodeCounts(seen, sight)
    for slot, mass in zip(start.slots, tally.masses, strict=True):
        name = slot.node.name
        stands = found.get(name, NodeCounts(None, None))
        if isinstance(slot, ReadSlot):
            read = rows.read_by_parents(now.network, slot, mass)
            found[name] = replace(stands, by_parents=read)
        elif isinstance(slot, SightSlot):
            found[name] = replace(stands, by_sight=mass[:, [1, 0]])
    return found


def stepped(start: Start, now: Numbers, tally: Tally) -> Numbers:
    """Return numbers under which pieces and prior are likelier than under *now*."""
    shares, parts, tables = dict(now.shares), dict(now.parts), dict(now.network.rows)
    hiding = dict(now.network.hiding)
    for name, counts in node_counts(start, now, tally).items():
        node = start.model.node(name)
        if counts.by_parents is not None and node.noisy:
            parts[name] = _gate(start, node, now, counts.by_parents)
            tables[name] = gate_table(parts[name])
        elif counts.by_parents is not None:
            worth = [row.n for row in node.rows]
            added = rows.by_row(now.network, node, counts.by_parents)
            shares[name] = rows.updated(start.numbers.shares[name], worth, added)
            tables[name] = shares[name][now.network.row_index[name]]
        if counts.by_sight is not None and name in start.sighted:
            hiding[name] = _hiding(start, node, counts.by_sight)
    moved = replace(
        now.network,
        rows=tables,
        hiding=hiding,
        densities=_densities(start, now, tally),
        sizes=_sizes(start, now, tally),
    )
    return Numbers(moved, shares, parts)


def _sight(start: Start, node: Node) -> tuple[Floats, list[float | None]]:
    p = start.numbers.network.hiding[node.name]
    n = node.visibility.n if node.visibility else None
    return np.stack([p, 1 - p], axis=1), [n] * len(p)


def _hiding(start: Start, node: Node, counts: Floats) -> Floats:
    """Return how often each state of the obstruction hides a node.

    Where what was elicited never falls from one state to the next, neither does what is
    learned: neighbours that would cross are pooled, which is the likeliest that does not fall.
    """
    shares, worth = _sight(start, node)
    hidden = rows.updated(shares, worth, counts)[:, 0]
    if start.rises(node.name):
        weights = np.array([n or 1.0 for n in worth]) + counts.sum(axis=1)
        hidden = np.asarray(isotonic_regression(hidden, weights=weights).x)
    return hidden


def _gate(start: Start, node: Node, now: Numbers, counts: Floats) -> tuple[Floats, ...]:
    """Return what the parts of a gate propose; states of one cause share their counts."""
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    was, cards = start.numbers.parts[node.name], counts.shape[:-1]
    found, _ = rows.gate_counts(cards, now.parts[node.name], counts)
    moved = [rows.updated(was[0][np.newaxis], [gate.leak.n], found[0])[0]]
    for parent, elicited_, own in zip(node.parents, was[1:], found[1:], strict=True):
        names = start.model.node(parent).state_names
        table = elicited_.copy()
        for cause in gate.causes:
            states = [names.index(s) for s in cause.given.get(parent, ())]
            if states:
                summed = own[states].sum(axis=0, keepdims=True)
                table[states] = rows.updated(elicited_[states[:1]], [cause.n], summed)
        moved.append(table)
    return tuple(moved)


def row_weights(start: Start, slot: MeasureSlot, mass: Floats) -> Floats:
    """Return how surely each form belongs to each row of its leaf, shape (rows, forms)."""
    index = start.numbers.network.row_index[slot.node.name].ravel()
    weights = np.zeros((len(slot.node.rows), mass.shape[1] - 1))
    np.add.at(weights, index, mass[:, :-1])
    return weights


def _densities(start: Start, now: Numbers, tally: Tally) -> dict[str, tuple[Located, ...]]:
    found = dict(now.network.densities)
    for slot, mass in zip(start.slots, tally.masses, strict=True):
        if isinstance(slot, MeasureSlot):
            weights = row_weights(start, slot, mass)
            stands = zip(
                slot.node.rows,
                start.numbers.network.densities[slot.node.name],
                found[slot.node.name],
                weights,
                strict=True,
            )
            found[slot.node.name] = tuple(
                leaves.moved(prior, row.n, leaves.sums(slot, density, weight)) if row.n else density
                for row, prior, density, weight in stands
            )
    return found


def _sizes(start: Start, now: Numbers, tally: Tally) -> dict[str, Sizes]:
    found = dict(now.network.sizes)
    for slot, mass in zip(start.slots, tally.masses, strict=True):
        if isinstance(slot, SizeSlot):
            prior = cavities.elicited(start.numbers.network, slot.node)
            if prior:
                weights = mass[:, : slot.sized.count]
                found[slot.node.name] = cavities.climbed(now.network, slot.sized, weights, prior)
    return found


def log_prior(start: Start, now: Numbers) -> float:
    """Return the log prior density of the numbers *now*, up to a constant."""
    total = 0.0
    was = start.numbers
    for node in start.model.nodes:
        name = node.name
        if name in was.shares:
            worth = [row.n for row in node.rows]
            total += rows.log_prior(was.shares[name], worth, now.shares[name])
        if node.noisy:
            total += _log_prior_of_gate(start, node, now)
        if name in start.sighted:
            p, n = _sight(start, node)
            hiding = now.network.hiding[name]
            total += rows.log_prior(p, n, np.stack([hiding, 1 - hiding], axis=1))
        for row, prior, density in zip(
            node.rows if name in was.network.densities else (),
            was.network.densities.get(name, ()),
            now.network.densities.get(name, ()),
            strict=True,
        ):
            total += leaves.log_prior(prior, row.n, density) if row.n else 0.0
        if node.dimensions:
            prior_sizes = cavities.elicited(was.network, node)
            if prior_sizes:
                total += cavities.log_prior(prior_sizes, now.network.sizes[name])
    return total


def _log_prior_of_gate(start: Start, node: Node, now: Numbers) -> float:
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    was, parts = start.numbers.parts[node.name], now.parts[node.name]
    total = rows.log_prior(was[0][np.newaxis], [gate.leak.n], parts[0][np.newaxis])
    for parent, elicited_, own in zip(node.parents, was[1:], parts[1:], strict=True):
        names = start.model.node(parent).state_names
        for cause in gate.causes:
            if parent in cause.given:
                k = [names.index(cause.given[parent][0])]
                total += rows.log_prior(elicited_[k], [cause.n], own[k])
    return total
