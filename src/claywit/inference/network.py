"""A model as arrays: what the engine multiplies and adds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import fsum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.inference.densities import Located, located
from claywit.inference.tree import Tree
from claywit.model.graph import reached
from claywit.model.matching import match
from claywit.model.once import once
from claywit.model.schema import Model, Node
from claywit.model.tables import Dimensions, Row

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sizes:
    """Measures that shrink together: value = cavity x (1 - shrinkage), one shrinkage a piece.

    cavity: shape (filed states, measures). mean, sd: of the shrinkage, shape (pastes,).
    unfiled_at, unfiled_sd: shape (open states, measures).
    """

    cavity: Floats
    mean: Floats
    sd: Floats
    unfiled_at: Floats
    unfiled_sd: Floats


@dataclass(frozen=True)
class Network:
    """A model as arrays, one network or many drawn ones side by side.

    Where it holds draws, every array has one more axis at the end, one place a draw.

    states: the states of each discrete node; `not_visible` last where it can be hidden.
    rows: P(visible state | parents), shape (*cards of parents, visible states).
    hiding: P(not visible | state of the obstruction node), for nodes with visibility.
    densities: the rows of each leaf with a single measure.
    sizes: what measures that shrink together are expected to be.
    row_index: for a node with rows the number of the row that holds, one axis for each parent;
        a noisy gate has a row for each combination of its causes.
    client_priors: the roots whose prior is the client's and not the model's.
    """

    model: Model
    states: Mapping[str, tuple[str, ...]]
    rows: Mapping[str, Floats]
    hiding: Mapping[str, Floats]
    densities: Mapping[str, tuple[Located, ...]]
    sizes: Mapping[str, Sizes]
    row_index: Mapping[str, NDArray[np.intp]]
    client_priors: frozenset[str]

    def parents(self, name: str) -> tuple[str, ...]:
        """Return the parents of a node, the obstruction node included."""
        return self.model.node(name).all_parents

    def table(self, name: str) -> tuple[tuple[str, ...], Floats]:
        """Return P(node | parents) whole: its scope (parents, then node) and its values."""
        node, rows = self.model.node(name), self.rows[name]
        if not node.visibility:
            return (*node.parents, name), rows
        axis = len(node.parents)
        hiding = self.hiding[name][:, np.newaxis]
        seen = np.expand_dims(rows, axis) * (1 - hiding)
        hidden = np.broadcast_to(hiding, (*seen.shape[: axis + 1], *hiding.shape[1:]))
        scope = (*node.parents, node.visibility.parent, name)
        return scope, np.concatenate([seen, hidden], axis + 1)

    @cached_property
    def trees(self) -> dict[object, Tree]:
        """Return the small trees that were compiled of this network, by what was asked."""
        return {}

    @cached_property
    def draws(self) -> dict[object, list[Any]]:
        """Return what was drawn of this network, node after node, by how the dice stood before."""
        return {}

    @cached_property
    def leaves(self) -> frozenset[str]:
        """Return the nodes that are nobody's parent."""
        names = self.model.by_name
        return frozenset(names) - {parent for name in names for parent in self.parents(name)}

    @cached_property
    def shares(self) -> Mapping[str, Floats]:
        """Return the model's own rows of each discrete node, shape (rows, visible states)."""
        return {node.name: _shares(node) for node in self.model.nodes if node.states}

    def ancestors(self, names: frozenset[str]) -> frozenset[str]:
        """Return *names* and everything above them."""
        return reached(names, self.parents)


def compile_network(
    model: Model, priors: Mapping[str, Mapping[str, float]] | None = None
) -> Network:
    """Return the tables of a sound *model*, with the client's *priors* on root nodes."""
    own = _compiled(model)
    if not priors:
        return own
    given = {
        name: normalised([shares.get(s, 0.0) for s in model.node(name).state_names])
        for name, shares in priors.items()
    }
    return replace(own, rows={**own.rows, **given}, client_priors=frozenset(priors))


@once(4)
def _compiled(model: Model) -> Network:
    index = {node.name: _row_index(model, node) for node in model.nodes if node.rows or node.noisy}
    return Network(
        model,
        states={node.name: node.all_states for node in model.nodes if node.states},
        rows={n.name: _shares(n)[index[n.name]] for n in model.nodes if n.states},
        hiding={
            node.name: np.array([seen.p[s] for s in model.node(seen.parent).state_names])
            for node in model.nodes
            if (seen := node.visibility)
        },
        densities={
            node.name: tuple(located(row.density) for row in node.rows if row.density)
            for node in model.nodes
            if node.measured and not node.dimensions
        },
        sizes={node.name: _sizes(node, node.dimensions) for node in model.nodes if node.dimensions},
        row_index=index,
        client_priors=frozenset(),
    )


def _sizes(node: Node, sizes: Dimensions) -> Sizes:
    names = list(node.measured)
    unfiled = [entry.dimensions for entry in sizes.unfiled.values()]
    return Sizes(
        np.array([[cavity[n] for n in names] for cavity in sizes.cavity.values()]),
        np.array([shrinkage.mean for shrinkage in sizes.shrinkage.values()]),
        np.array([shrinkage.sd for shrinkage in sizes.shrinkage.values()]),
        np.array([[entry[n].mean for n in names] for entry in unfiled]).reshape(-1, len(names)),
        np.array([[entry[n].sd for n in names] for entry in unfiled]).reshape(-1, len(names)),
    )


def _row_index(model: Model, node: Node) -> NDArray[np.intp]:
    if node.noisy:
        combined = np.zeros((1,) * len(node.parents), dtype=np.intp)
        combined = np.zeros((1,) * len(node.parents), dtype=np.intp)
        _, *causes = proposals_of_causes(node)
        for axis, (each, of) in enumerate(zip(causes, causes_of(model, node), strict=True)):
            shape = [1] * len(node.parents)
            shape[axis] = len(of)
            combined = combined * len(each) + of.reshape(shape)
        return combined
    states = [model.node(parent).state_names for parent in node.parents]
    return match(node.parents, states, node.rows).rows


def _shares(node: Node) -> Floats:
    if node.noisy:
        table = gate_table(proposals_of_causes(node))
        return table.reshape(-1, table.shape[-1])
    return np.stack([row_shares(node, row) for row in node.rows])


def row_shares(node: Node, row: Row) -> Floats:
    """Return the shares of a row over the visible states, summing to 1."""
    return normalised([(row.p or {}).get(s, 0.0) for s in node.state_names])


def normalised(shares: list[float]) -> Floats:
    """Return *shares* as an array that sums to 1."""
    return np.array(shares) / fsum(shares)


def repeated(values: Floats, count: int) -> Floats:
    """Return *values* with one more axis at the end, of *count* draws that are all the same."""
    return np.repeat(values[..., np.newaxis], count, axis=-1)


def proposals(model: Model, node: Node) -> list[Floats]:
    """Return what a noisy gate is made of, every proposal with the share of its lowest level.

    The leak, shape (levels,), then for each parent the proposals of its states, shape
    (states, levels); a state without a cause proposes the lowest level.
    """
    leak, *causes = proposals_of_causes(node)
    return [leak, *(each[of] for each, of in zip(causes, causes_of(model, node), strict=True))]


def proposals_of_causes(node: Node) -> list[Floats]:
    """Return `proposals`, for each parent first that of no cause, then those of its causes."""
    gate, levels = node.noisy, node.state_names
    assert gate  # noqa: S101 - the caller looked
    found = [proposal(levels, gate.leak.p)]
    for parent in node.parents:
        raised = [{}, *(cause.p for cause in gate.causes if parent in cause.given)]
        found.append(np.stack([proposal(levels, p) for p in raised]))
    return found


def causes_of(model: Model, node: Node) -> list[NDArray[np.intp]]:
    """Return for each parent of a noisy gate which of its causes each state is; 0 for none."""
    found = []
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    for parent in node.parents:
        names = model.node(parent).state_names
        of = np.zeros(len(names), dtype=np.intp)
        causes = (cause for cause in gate.causes if parent in cause.given)
        for i, cause in enumerate(causes):
            of[[names.index(state) for state in cause.given[parent]]] = i + 1
        found.append(of)
    return found


def proposal(levels: tuple[str, ...], raised: Mapping[str, float]) -> Floats:
    """Return the shares of all levels; the lowest takes what is left."""
    shares = [raised.get(level, 0.0) for level in levels]
    shares[0] = max(1 - fsum(shares), 0.0)
    return normalised(shares)


def gate_table(proposed: Sequence[Floats]) -> Floats:
    """Return the noisy-MAX table of *proposed* (see `proposals`), one cause after the other.

    The highest of two proposals is at a level if one is there and the other is at most
    there, or the other is there and the one is below. Nothing is subtracted, so a rare
    level keeps its digits and an impossible one stays at exactly 0.

    Args:
        proposed: as `proposals` gives them; each may have one more axis at the end, of draws.
    """
    levels = [gate_level(proposed, k) for k in range(proposed[0].shape[0])]
    return np.stack(levels, axis=len(proposed) - 1)


def gate_level(proposed: Sequence[Floats], k: int) -> Floats:
    """Return P(the highest proposal is level *k*), one axis for each parent; as `gate_table`."""
    leak, *causes = proposed
    axis, cards = len(causes), [len(each) for each in causes]
    shape = [1] * axis + list(leak.shape[1:])
    at, below = leak[k].reshape(shape), leak[:k].sum(axis=0).reshape(shape)
    for i, each in enumerate(causes):
        shape = [1] * axis + list(each.shape[2:])
        shape[i] = each.shape[0]
        own, under = each[:, k].reshape(shape), each[:, :k].sum(axis=1).reshape(shape)
        at = at * (own + under) + below * own
        if i < axis - 1:
            below = below * under
    return np.broadcast_to(at, (*cards, *at.shape[axis:]))
