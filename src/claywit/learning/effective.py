"""How many pieces' worth of information a file gave each number.

A piece that shows both a node and its parents counts as one. One that leaves either to be
inferred counts as what is known of it: the variance that its findings leave in the score of the
row is missing information (Louis 1982, from memory). So a hidden node on which nothing was seen
gains nothing, however many pieces the file holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from claywit.inference.expected import posteriors, routes, run, slotted
from claywit.inference.network import Floats
from claywit.inference.routes import Route
from claywit.learning import rows
from claywit.learning.fit import Fit
from claywit.learning.numbers import node_counts
from claywit.learning.slots import MeasureSlot, ReadSlot, SightSlot, SizeSlot, Slot
from claywit.model.schema import Node


@dataclass
class _Sum:
    """Pieces expected in each row, and what of their information is missing."""

    pieces: Floats
    missing: Floats


@dataclass(frozen=True)
class Effective:
    """Pieces' worth of information, node by node.

    rows: for each row, of shares or of a measure. leaks, causes: of noisy gates. sights: for
    each state of the obstruction. filed, pastes, open_: of sizes, for the states of the mould
    that have a cavity, those of the paste, and the open ones.
    """

    rows: Mapping[str, Floats] = field(default_factory=dict)
    leaks: Mapping[str, float] = field(default_factory=dict)
    causes: Mapping[str, Floats] = field(default_factory=dict)
    sights: Mapping[str, Floats] = field(default_factory=dict)
    moulds: Mapping[str, Floats] = field(default_factory=dict)
    pastes: Mapping[str, Floats] = field(default_factory=dict)


def effective(fit: Fit) -> Effective:
    """Return how many pieces' worth each number was given."""
    machine, network = fit.machine, fit.numbers.network
    given = slotted(network, machine, [slot.logs(network) for slot in fit.start.slots])
    ones = np.ones(fit.columns.picks.shape[1])
    by_node: dict[str, _Sum] = {}
    by_sight: dict[str, _Sum] = {}
    parents: dict[str, tuple[Floats, Floats]] = {}
    for way in routes(machine, fit.columns.picks, ones, shared=False):
        stop = way.start + len(way.weights)
        weights = fit.columns.weights[way.start : stop]
        for number, found in posteriors(machine, run(machine, way, given)):
            if number < len(machine.nodes):
                name = machine.nodes[number]
                _add_family(fit, fit.start.model.node(name), found, (weights, by_node, by_sight))
                continue
            slot = fit.start.slots[number - len(machine.nodes)]
            own = found * (way.picks[number] < given.tables[number].shape[1] - 1)
            _add_slot(fit, slot, own, (way, number, weights, by_node, by_sight))
            if isinstance(slot, SizeSlot):
                _add_sizes(fit, slot, own, (weights, parents))
    known = {name: _left(total, _spread(fit, name)) for name, total in by_node.items()}
    gates = {name: _gate(fit, name, each, by_node[name]) for name, each in known.items()
             if fit.start.model.node(name).noisy}  # fmt: skip
    hiding = network.hiding
    return Effective(
        rows={name: each for name, each in known.items() if name not in gates},
        leaks={name: leak for name, (leak, _) in gates.items()},
        causes={name: causes for name, (_, causes) in gates.items()},
        sights={
            name: _left(total, 2 * hiding[name] * (1 - hiding[name]))
            for name, total in by_sight.items()
        },
        moulds={name: moulds for name, (moulds, _) in parents.items()},
        pastes={name: pastes for name, (_, pastes) in parents.items()},
    )


def _left(total: _Sum, spread: Floats) -> Floats:
    """Return the pieces less what is missing; *spread* is the sum of p (1 - p) of a row."""
    lost = np.divide(total.missing, spread, out=np.zeros_like(spread), where=spread > 0)
    return np.clip(total.pieces - lost, 0.0, total.pieces)


def _shares(fit: Fit, name: str) -> Floats:
    """Return the shares of each row; of a gate, of each configuration of its parents."""
    table = fit.numbers.network.rows[name]
    return fit.numbers.shares.get(name, table.reshape(-1, table.shape[-1]))


def _spread(fit: Fit, name: str) -> Floats:
    if name in fit.numbers.network.densities:
        return np.ones(len(fit.start.model.node(name).rows))
    shares = _shares(fit, name)
    spread: Floats = (shares * (1 - shares)).sum(axis=1)
    return spread


def _by_row(fit: Fit, node: Node, table: Floats) -> Floats:
    """Return a table by parents' configuration, then others, summed by row."""
    if node.noisy:
        return table
    index = fit.numbers.network.row_index[node.name].ravel()
    found = np.zeros((len(node.rows), *table.shape[1:]))
    np.add.at(found, index, table)
    return found


def _add(into: dict[str, _Sum], name: str, states: Floats, rest: tuple[Floats, Floats]) -> None:
    """Add pieces by row and state, shape (rows, states, columns), and what they leave open."""
    shares, weights = rest
    whole = states.sum(axis=1)
    theta = shares[:, :, np.newaxis]
    square = whole - 2 * (states * theta).sum(axis=1) + whole * (theta**2).sum(axis=1)
    missing = square - ((states - whole[:, np.newaxis] * theta) ** 2).sum(axis=1)
    _count(into, name, whole @ weights, missing @ weights)


def _count(into: dict[str, _Sum], name: str, pieces: Floats, missing: Floats) -> None:
    stands = into.setdefault(name, _Sum(np.zeros_like(pieces), np.zeros_like(pieces)))
    stands.pieces += pieces
    stands.missing += missing


def _add_family(
    fit: Fit, node: Node, own: Floats, rest: tuple[Floats, dict[str, _Sum], dict[str, _Sum]]
) -> None:
    weights, by_node, by_sight = rest
    shape = fit.numbers.network.table(node.name)[1].shape
    family = own.reshape(*shape, -1)
    if node.visibility:
        axis = len(node.parents)
        before = tuple(range(axis))
        hidden = family[..., -1, :].sum(axis=before)
        shown = family[..., :-1, :].sum(axis=(*before, axis + 1))
        p = fit.numbers.network.hiding[node.name]
        both = np.stack([hidden, shown], axis=1)
        _add(by_sight, node.name, both, (np.stack([p, 1 - p], axis=1), weights))
        family = family[..., :-1, :].sum(axis=axis)
    flat = family.reshape(-1, *family.shape[-2:])
    _add(by_node, node.name, _by_row(fit, node, flat), (_shares(fit, node.name), weights))


def _add_slot(
    fit: Fit,
    slot: Slot,
    own: Floats,
    rest: tuple[Route, int, Floats, dict[str, _Sum], dict[str, _Sum]],
) -> None:
    way, number, weights, by_node, by_sight = rest
    name, form = slot.node.name, way.picks[number]
    if isinstance(slot, ReadSlot):
        shares = _shares(fit, name)
        seen = np.concatenate([slot.seen, np.ones((1, slot.seen.shape[1]))])[form]
        states = shares[:, :, np.newaxis] * seen.T
        total = states.sum(axis=1, keepdims=True)
        states = np.divide(states, total, out=np.zeros_like(states), where=total > 0)
        whole = _by_row(fit, slot.node, own)
        _add(by_node, name, whole[:, np.newaxis] * states, (shares, weights))
    elif isinstance(slot, SightSlot):
        p = fit.numbers.network.hiding[name]
        both = np.stack([own * (form == 1), own * (form == 0)], axis=1)
        _add(by_sight, name, both, (np.stack([p, 1 - p], axis=1), weights))
    elif isinstance(slot, MeasureSlot):
        whole = _by_row(fit, slot.node, own)
        _count(by_node, name, whole @ weights, (whole - whole**2) @ weights)


def _add_sizes(
    fit: Fit, slot: SizeSlot, own: Floats, rest: tuple[Floats, dict[str, tuple[Floats, Floats]]]
) -> None:
    """Add how surely each piece is of each mould, and of each paste of a filed mould."""
    weights, parents = rest
    moulds, pastes = (fit.numbers.network.states[parent] for parent in slot.node.parents)
    both = own.reshape(len(moulds), len(pastes), -1)
    filed = np.array([mould in slot.sized.sizes.cavity for mould in moulds])
    found = ((both.sum(axis=1) ** 2) @ weights, (both[filed].sum(axis=0) ** 2) @ weights)
    stands = parents.get(slot.node.name)
    parents[slot.node.name] = (stands[0] + found[0], stands[1] + found[1]) if stands else found


def _gate(fit: Fit, name: str, known: Floats, total: _Sum) -> tuple[float, Floats]:
    """Return what a gate's leak and causes were given.

    The pieces of each configuration count as far as they show it and the node's level; of
    those, each part counts as far as they show what that part proposed.
    """
    node, now = fit.start.model.node(name), fit.numbers
    gate = node.noisy
    counts = node_counts(fit.start, now, fit.tally)[name].by_parents
    assert gate  # noqa: S101 - the caller looked
    assert counts is not None  # noqa: S101 - what is known of it was counted
    ratio = np.divide(known, total.pieces, out=np.zeros_like(known), where=total.pieces > 0)
    sure = counts * ratio.reshape(*counts.shape[:-1], 1)
    found, squares = rows.gate_counts(counts.shape[:-1], now.parts[name], sure)

    def given(part: int, states: list[int], shares: Floats) -> float:
        pieces = float(found[part][states].sum())
        missing = pieces - float(squares[part][states].sum())
        spread = np.array([(shares * (1 - shares)).sum()])
        return float(_left(_Sum(np.array([pieces]), np.array([missing])), spread)[0])

    causes = []
    for cause in gate.causes:
        parent = next(p for p in node.parents if p in cause.given)
        names = fit.start.model.node(parent).state_names
        states = [names.index(s) for s in cause.given[parent]]
        part = 1 + node.parents.index(parent)
        causes.append(given(part, states, now.parts[name][part][states[0]]))
    return given(0, [0], now.parts[name][0]), np.array(causes)
