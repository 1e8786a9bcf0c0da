"""What can occur together: the joint states to which the tables give a positive probability."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from claywit.model.graph import reached
from claywit.model.matching import match
from claywit.model.schema import Model, Node

Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
MAX_JOINT = 200_000


@dataclass(frozen=True)
class Family:
    """A node under the joint states of its parents that can occur.

    parents: one line for each joint state of the parents, as numbers of states.
    states: for each such line, which visible states of the node can occur under it.
    """

    parents: Ints
    states: Bools


def families(model: Model) -> dict[str, Family]:
    """Return the family of each node with states in a sound *model*.

    Nothing is approximated: the joint states of all ancestors are carried along, without
    those that no later node needs. A node whose ancestors have more than 200,000 of them
    at once is left out, so that a rule is silent there rather than wrong.
    """
    tables = {node.name: _Table(model, node) for node in model.nodes if node.states}
    order = list(TopologicalSorter({n: model.node(n).parents for n in tables}).static_order())
    joint: dict[tuple[str, ...], Ints | None] = {}
    found: dict[str, Family] = {}
    for name, table in tables.items():
        parents = table.node.parents
        if parents not in joint:
            joint[parents] = _joint(tables, order, parents)
        lines = joint[parents]
        if lines is not None:
            found[name] = Family(lines, table.under(lines))
    return found


def _joint(
    tables: Mapping[str, "_Table"], order: Sequence[str], names: tuple[str, ...]
) -> Ints | None:
    """Return the joint states of *names* that can occur, or None if there are too many."""
    wanted = _with_ancestors(tables, names)
    needed = [name for name in order if name in wanted]
    kept: list[str] = []
    lines: Ints = np.zeros((1, 0), dtype=np.intp)
    for i, name in enumerate(needed):
        own = [kept.index(parent) for parent in tables[name].node.parents]
        line, state = np.nonzero(tables[name].under(lines[:, own]))
        if len(line) > MAX_JOINT:
            return None
        kept.append(name)
        lines = np.column_stack([lines[line], state])
        later = {p for other in needed[i + 1 :] for p in tables[other].node.parents}
        alive = [k for k, held in enumerate(kept) if held in later or held in names]
        if len(alive) < len(kept):  # lines differ until a node is dropped
            kept = [kept[k] for k in alive]
            lines = np.unique(lines[:, alive], axis=0)
    return lines[:, [kept.index(name) for name in names]]


def _with_ancestors(tables: Mapping[str, "_Table"], names: Sequence[str]) -> frozenset[str]:
    return reached(names, lambda name: tables[name].node.parents)


class _Table:
    """Where the table of one node is above zero, asked for some lines of parent states."""

    def __init__(self, model: Model, node: Node) -> None:
        self.node = node
        self._parents = [model.node(parent).state_names for parent in node.parents]
        self._rows = match(node.parents, self._parents, node.rows).rows if node.rows else None
        self._above = np.array(
            [[(row.p or {}).get(s, 0.0) > 0 for s in node.state_names] for row in node.rows]
        )

    def under(self, lines: Ints) -> Bools:
        """Return, for each line of parent states, which states can occur under it."""
        shape = (len(lines), len(self.node.state_names))
        if self._rows is None:
            return np.broadcast_to(self._noisy(lines), shape)
        return np.broadcast_to(self._above[self._rows[tuple(lines.T)]], shape)

    def _noisy(self, lines: Ints) -> Bools:
        """A level occurs if some cause can propose it and all causes can stay at or below it."""
        gate, levels = self.node.noisy, self.node.state_names
        assert gate  # noqa: S101 - a sound node has rows or a gate
        proposed = _proposed(levels, gate.leak.p)[np.newaxis]
        stays = np.logical_or.accumulate(proposed, axis=-1)
        for axis, (parent, names) in enumerate(zip(self.node.parents, self._parents, strict=True)):
            stated = {s: c.p for c in gate.causes for s in c.given.get(parent, ())}
            by_state = np.array([_proposed(levels, stated.get(s, {})) for s in names])
            own = by_state[lines[:, axis]]
            proposed = proposed | own
            stays = stays & np.logical_or.accumulate(own, axis=-1)
        return proposed & stays


def _proposed(levels: Sequence[str], raised: Mapping[str, float]) -> Bools:
    """Return which levels a cause can propose; what *raised* leaves over is the lowest."""
    above = np.array([raised.get(level, 0.0) > 0 for level in levels])
    above[0] = sum(raised.values()) < 1 - 1e-9
    return above
