"""A model as arrays: what the engine multiplies and adds."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from claywit.model.graph import reached
from claywit.model.matching import match
from claywit.model.schema import Model, Node

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Network:
    """The discrete nodes of a model as tables.

    states: the states of each discrete node; `not_visible` last where it can be hidden.
    rows: P(visible state | parents), shape (*cards of parents, visible states).
    hiding: P(not visible | state of the obstruction node), for nodes with visibility.
    """

    model: Model
    states: Mapping[str, tuple[str, ...]]
    rows: Mapping[str, Floats]
    hiding: Mapping[str, Floats]

    def parents(self, name: str) -> tuple[str, ...]:
        """Return the parents of a node, the obstruction node included."""
        return self.model.node(name).all_parents

    def table(self, name: str) -> tuple[tuple[str, ...], Floats]:
        """Return P(node | parents) whole: its scope (parents, then node) and its values."""
        node, rows = self.model.node(name), self.rows[name]
        if not node.visibility:
            return (*node.parents, name), rows
        hiding = self.hiding[name][:, np.newaxis]
        seen = rows[..., np.newaxis, :] * (1 - hiding)
        hidden = np.broadcast_to(hiding, (*seen.shape[:-1], 1))
        return (*node.parents, node.visibility.parent, name), np.concatenate([seen, hidden], -1)

    def row_index(self, name: str) -> NDArray[np.intp]:
        """Return the number of the row that holds, one axis for each parent."""
        node = self.model.node(name)
        states = [self.model.node(parent).state_names for parent in node.parents]
        return match(node.parents, states, node.rows).rows

    def ancestors(self, names: frozenset[str]) -> frozenset[str]:
        """Return *names* and everything above them."""
        return reached(names, self.parents)


def compile_network(
    model: Model, priors: Mapping[str, Mapping[str, float]] | None = None
) -> Network:
    """Return the tables of a sound *model*, with the client's *priors* on root nodes."""
    discrete = [node for node in model.nodes if node.states]
    states = {node.name: node.all_states for node in discrete}
    rows = {node.name: _rows(model, node) for node in discrete}
    for name, shares in (priors or {}).items():
        rows[name] = _normalised([shares.get(s, 0.0) for s in model.node(name).state_names])
    hiding = {
        node.name: np.array([seen.p[s] for s in model.node(seen.parent).state_names])
        for node in model.nodes
        if (seen := node.visibility)
    }
    return Network(model, states, rows, hiding)


def _rows(model: Model, node: Node) -> Floats:
    if node.noisy:
        return _noisy(model, node)
    states = [model.node(parent).state_names for parent in node.parents]
    index = match(node.parents, states, node.rows).rows
    listed = [
        _normalised([(row.p or {}).get(s, 0.0) for s in node.state_names]) for row in node.rows
    ]
    table: Floats = np.stack(listed)[index]
    return table


def _normalised(shares: list[float]) -> Floats:
    return np.array(shares) / fsum(shares)


def _noisy(model: Model, node: Node) -> Floats:
    """Return the noisy-MAX table, one cause after the other.

    The highest of two proposals is at a level if one is there and the other is at most
    there, or the other is there and the one is below. Nothing is subtracted, so a rare
    level keeps its digits and an impossible one stays at exactly 0.
    """
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    levels = node.state_names
    table = _proposal(levels, gate.leak.p)
    for axis, parent in enumerate(node.parents):
        names = model.node(parent).state_names
        proposals = {s: c.p for c in gate.causes if parent in c.given for s in c.given[parent]}
        proposed = np.stack([_proposal(levels, proposals.get(s, {})) for s in names])
        shape = [1] * (len(node.parents) + 1)
        shape[axis], shape[-1] = proposed.shape
        proposed = proposed.reshape(shape)
        below = np.zeros_like(table)
        below[..., 1:] = np.cumsum(table, axis=-1)[..., :-1]
        table = table * np.cumsum(proposed, axis=-1) + below * proposed
    return np.broadcast_to(
        table, (*(len(model.node(p).state_names) for p in node.parents), len(levels))
    )


def _proposal(levels: tuple[str, ...], raised: Mapping[str, float]) -> Floats:
    """Return the shares of all levels; the lowest takes what is left."""
    shares = [raised.get(level, 0.0) for level in levels]
    shares[0] = max(1 - fsum(shares), 0.0)
    return _normalised(shares)
