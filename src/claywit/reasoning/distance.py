"""How far one network lies from another, and what that means for any posterior.

Source: Chan & Darwiche (2005), "A distance measure for bounding probabilistic belief
change", International Journal of Approximate Reasoning 38:149-174. The distance of P' from
P is log max P'(w)/P(w) - log min P'(w)/P(w) over all worlds w; no odds, under any evidence,
differ by more. Of two networks the logarithm of that ratio is a sum over their tables, so
the sum of what each table spans is a bound from above; it is exact where one table differs.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.inference.network import Floats, Network
from claywit.model.schema import Node
from claywit.model.support import Family, families

ROUNDING = 1e-12  # bans; scaling a row to 1 anew moves no table
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class TableMoved:
    """How far the table of one node moved, in bans; infinite where a zero came or went.

    bans: what it alone can move any odds by. row, row_bans: the states of the parents under
    which it moved most, and what it would be if that row alone had moved.
    """

    node: str
    bans: float
    row: Mapping[str, str]
    row_bans: float


@dataclass(frozen=True)
class Distance:
    """How far two networks lie apart.

    bans: no posterior odds, of anything and under any findings, differ by more; infinite
        where a zero came or went, None where *incomparable* says why there is no number.
    tables: the tables that moved, the farthest first.
    measured: measured nodes that say something else; findings on them are not covered.
    matrices: reading matrices that say something else; readings by them are not covered.
    """

    bans: float | None
    tables: tuple[TableMoved, ...]
    measured: tuple[str, ...]
    matrices: tuple[str, ...] = ()
    incomparable: str = ""


def distance(old: Network, new: Network) -> Distance:
    """Return how far *new* lies from *old*, node by node of the same name.

    Nodes that only one has, and on which nothing hangs that both have, are summed out of
    it and change nothing. Configurations of parents that cannot occur are passed over.
    """
    measured, matrices = tuple(_measured(old, new)), tuple(_matrices(old, new))
    reason = _hangs_elsewhere(old, new) or _hangs_elsewhere(new, old)
    if reason:
        return Distance(None, (), measured, matrices, reason)
    known = families(old.model), families(new.model)
    moved = [_Pair(old, new, name, known).moved() for name in new.states if name in old.states]
    tables = sorted((one for one in moved if one.bans > ROUNDING), key=lambda one: -one.bans)
    return Distance(fsum(one.bans for one in tables), tuple(tables), measured, matrices)


def _hangs_elsewhere(network: Network, other: Network) -> str:
    """Return why *network* cannot be cut down to the nodes that both have, if it cannot."""
    for node in network.model.nodes:
        for parent in node.all_parents:
            if node.name in other.model.by_name and parent not in other.model.by_name:
                return f"{node.name} is in both and hangs on {parent}, which is in one only"
    both = [node for node in network.model.nodes if node.name in other.states]
    return next((f"{n.name} is measured in one only" for n in both if n.measured), "")


def _measured(old: Network, new: Network) -> Iterator[str]:
    for node in new.model.nodes:
        before = old.model.by_name.get(node.name)
        if before and node.measured and _numbers(before) != _numbers(node):
            yield node.name


def _matrices(old: Network, new: Network) -> Iterator[str]:
    for name, matrix in new.model.reading_matrices.items():
        before = old.model.reading_matrices.get(name)
        if before and (before.node, before.p) != (matrix.node, matrix.p):
            yield name


def _numbers(node: Node) -> dict[str, Any]:
    """Return what a node says in numbers, without words and what they rest on."""
    data = node.model_dump(exclude={"label", "describe", "examine", "applies_if"})
    for row in data["rows"]:
        for key in ("source", "n", "note"):
            del row[key]
    return data


class _Pair:
    """The tables of one node in both networks, spread over all parents and states of either."""

    def __init__(
        self,
        old: Network,
        new: Network,
        name: str,
        known: tuple[Mapping[str, Family], Mapping[str, Family]],
    ) -> None:
        self.name, self.sides = name, tuple(zip((old, new), known, strict=True))
        scopes = [network.table(name)[0][:-1] for network in (new, old)]
        self.parents = tuple(dict.fromkeys([*scopes[0], *scopes[1]]))
        self.states = {
            n: list(dict.fromkeys([*new.states[n], *old.states[n]])) for n in (*self.parents, name)
        }

    def moved(self) -> TableMoved:
        """Return how far the table moved."""
        theirs, ours = (self._table(network) for network, _ in self.sides)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.log10(ours) - np.log10(theirs)  # nan where both are zero: no world there
        high = np.where(np.isnan(ratio), -inf, ratio).max(axis=-1)
        low = np.where(np.isnan(ratio), inf, ratio).min(axis=-1)
        occurs = np.ones(high.shape, dtype=np.bool_)
        for network, known in self.sides:
            occurs &= self._occurs(network, known.get(self.name))
        if not occurs.any():
            return TableMoved(self.name, 0.0, {}, 0.0)
        with np.errstate(invalid="ignore"):
            spans = np.where(occurs, high - low, -1.0)
        at = np.unravel_index(int(spans.argmax()), spans.shape)
        row = {p: self.states[p][k] for p, k in zip(self.parents, at, strict=True)}
        whole = float(high[occurs].max() - low[occurs].min())
        return TableMoved(self.name, whole, row, float(spans[at]))

    def _table(self, network: Network) -> Floats:
        scope, table = network.table(self.name)
        spread: Floats = self._spread(network, scope, table, (*self.parents, self.name))
        return spread

    def _occurs(self, network: Network, family: Family | None) -> Bools:
        """Return which configurations of the parents can occur; all where nobody knows."""
        scope = network.model.node(self.name).parents
        mask = np.zeros([len(network.states[n]) for n in scope], dtype=np.bool_)
        mask[... if family is None else tuple(family.parents.T)] = True
        spread: Bools = self._spread(network, scope, mask, self.parents)
        return spread

    def _spread(
        self, network: Network, scope: Sequence[str], values: Any, wanted: Sequence[str]
    ) -> Any:
        """Return *values* over the axes *wanted*, of length 1 where they do not depend on one."""
        full = np.zeros([len(self.states[n]) for n in scope], dtype=values.dtype)
        places = [[self.states[n].index(s) for s in network.states[n]] for n in scope]
        full[np.ix_(*places)] = values
        kept = [n for n in wanted if n in scope]
        full = full.transpose([list(scope).index(n) for n in kept])
        return full.reshape([len(self.states[n]) if n in scope else 1 for n in wanted])
