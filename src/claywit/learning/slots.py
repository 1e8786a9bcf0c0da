"""A file of cases, node by node: what was read, as tables that depend on the numbers fitted.

*Not examined* is left out, as if by chance. *Not visible* is a finding: it enters through the
obstruction. A half-certain reading of a trait whose rows hold reading error is taken as a
doubtful look at what would be read, so its doubt counts on top of that error.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.cases import Cases
from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import log_limits, log_value
from claywit.inference.likelihood import own_table, parent_tables, seen_shares
from claywit.inference.network import Floats, Network
from claywit.inference.tree import Bools, Ints
from claywit.learning.sizes import Sized, log_sizes_of, sized
from claywit.model.schema import Node

Scope = tuple[str, ...]


@dataclass(frozen=True)
class Slot:
    """What was read of one node, or whether it could be seen, on every piece.

    picks: for each piece its form; the last form is "not examined".
    """

    node: Node
    scope: Scope
    picks: Ints

    def logs(self, network: Network) -> Floats:
        """Return log P(form | states of the scope), shape (entries, forms)."""
        raise NotImplementedError


@dataclass(frozen=True)
class StateSlot(Slot):
    """The state of a node that others depend on; it says nothing of numbers by itself."""

    table: Floats

    def logs(self, network: Network) -> Floats:  # noqa: ARG002 - one signature for all slots
        """Return the table, which no fit changes."""
        return self.table


@dataclass(frozen=True)
class ReadSlot(Slot):
    """The state of a leaf; seen: P(form | state), shape (forms but the last, visible states)."""

    seen: Floats

    def logs(self, network: Network) -> Floats:
        """Return the log chance of each form under each state of the parents."""
        rows = network.rows[self.node.name]
        return _with_nothing(_log(rows.reshape(-1, rows.shape[-1]) @ self.seen.T))


@dataclass(frozen=True)
class SightSlot(Slot):
    """Whether a leaf could be seen: forms seen, not visible, not examined."""

    def logs(self, network: Network) -> Floats:
        """Return the log chance of either under each state of the obstruction."""
        hiding = network.hiding[self.node.name]
        return _with_nothing(_log(np.stack([1 - hiding, hiding], axis=1)))


@dataclass(frozen=True)
class MeasureSlot(Slot):
    """One measure: a value with its u for each form, or limits, where the value is nan."""

    values: Floats
    u: Floats
    limits: Mapping[int, Measure]

    def by_row(self, network: Network) -> Floats:
        """Return the log density of each form under each row, shape (rows, forms but the last)."""
        found = []
        for density in network.densities[self.node.name]:
            logs = np.zeros(len(self.values))
            known = ~np.isnan(self.values)
            logs[known] = log_value(density, self.values[known], self.u[known])
            if self.limits:
                logs[list(self.limits)] = log_limits(density, *self.ends())
            found.append(logs)
        return np.stack(found)

    def ends(self) -> tuple[Floats, Floats]:
        """Return the lower and the upper limits, infinite where there is none; (limits,) each."""
        low = [-np.inf if m.low is None else m.low for m in self.limits.values()]
        high = [np.inf if m.high is None else m.high for m in self.limits.values()]
        return np.array(low), np.array(high)

    def logs(self, network: Network) -> Floats:
        """Return the log density of each form under each state of the parents."""
        return _with_nothing(self.by_row(network)[network.row_index[self.node.name].ravel()])


@dataclass(frozen=True)
class SizeSlot(Slot):
    """Sizes that shrink together; fixed: what forms say that no fit changes, such as a limit."""

    sized: Sized
    fixed: Floats

    def logs(self, network: Network) -> Floats:
        """Return the log density of each form under each mould and paste."""
        logs = log_sizes_of(network, self.sized)
        return _with_nothing(np.concatenate([logs, self.fixed], axis=1))


def _with_nothing(logs: Floats) -> Floats:
    return np.concatenate([logs, np.zeros((len(logs), 1))], axis=1)


def _log(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        logs: Floats = np.log(values)
    return logs


def slots_of(network: Network, cases: Cases) -> tuple[Slot, ...]:
    """Return what the pieces say, node by node in the order of the model."""
    other: dict[str, dict[int, Finding]] = {}
    for row, found in cases.special.items():
        for name, finding in found.items():
            if not finding.not_applicable:
                other.setdefault(name, {})[row] = finding
    slots: list[Slot] = []
    for node in network.model.nodes:
        special = other.get(node.name, {})
        if node.measured:
            if node.name in cases.values or special:
                slots += _measured(network, node, cases, special)
        elif node.name in cases.codes or special:
            codes = cases.codes.get(node.name, np.full(len(cases), -1)).astype(np.intp)
            slots += _discrete(network, node, codes, special)
    return tuple(slots)


def _discrete(
    network: Network, node: Node, codes: Ints, special: Mapping[int, Finding]
) -> list[Slot]:
    k, first = len(node.all_states), {_form(f): f for f in reversed(list(special.values()))}
    forms = {form: k + i for i, form in enumerate(dict.fromkeys(map(_form, special.values())))}
    picks = np.where(codes >= 0, codes, k + len(forms))
    picks[list(special)] = [forms[_form(finding)] for finding in special.values()]
    doubtful = [first[form] for form in forms]
    if node.name not in network.leaves:
        plain = [Finding(node.name, state=name) for name in node.state_names]
        if node.visibility:
            plain.append(Finding(node.name, not_visible=True))
        tables = [own_table(network, finding).values for finding in (*plain, *doubtful)]
        table = _with_nothing(np.stack(tables, axis=1))
        return [StateSlot(node, (node.name,), picks, table)]
    nothing = np.zeros(len(node.state_names))
    own = [nothing if f.not_visible else seen_shares(network, f) for f in doubtful]
    seen = np.stack([*np.eye(k)[:, : len(node.state_names)], *own])
    hidden = ~seen.any(axis=1)
    last = len(seen)
    read = np.where(np.append(hidden, False)[picks], last, picks)
    found: list[Slot] = [ReadSlot(node, node.parents, read, seen)]
    if node.visibility:
        sight = np.append(np.where(hidden, 1, 0), 2)[picks]
        found.append(SightSlot(node, (node.visibility.parent,), sight))
    return found


def _form(finding: Finding) -> tuple[object, ...]:
    likelihood = tuple(finding.likelihood.items()) if finding.likelihood else None
    return finding.state, finding.sure, finding.matrix, likelihood, finding.not_visible


def _measured(
    network: Network, node: Node, cases: Cases, special: Mapping[int, Finding]
) -> list[Slot]:
    nothing = np.full((len(cases), len(node.measured)), np.nan)
    values = cases.values.get(node.name, nothing)
    own = np.array([node.u.get(name, 0.0) for name in node.measured])
    doubts = cases.doubts.get(node.name, nothing)
    doubts = np.where(np.isnan(doubts), own, doubts)
    rows = np.flatnonzero(~np.isnan(values).all(axis=1))
    limited = {r: f for r, f in special.items() if f.measures}
    form = np.full(len(cases), len(rows) + len(limited))
    form[rows] = np.arange(len(rows))
    form[list(limited)] = len(rows) + np.arange(len(limited))
    found: list[Slot] = []
    if node.dimensions:
        fixed = [_fixed(network, finding) for finding in limited.values()]
        size = int(np.prod([len(network.states[p]) for p in node.parents]))
        table = np.stack(fixed, axis=1) if fixed else np.zeros((size, 0))
        of = sized(node, values[rows], doubts[rows])
        found.append(SizeSlot(node, node.parents, form, of, table))
    else:
        found.append(_one_measure(node, form, (values[rows, 0], doubts[rows, 0]), limited))
    if node.visibility:
        sight = np.full(len(cases), 2)
        sight[form < len(rows) + len(limited)] = 0
        sight[[r for r, f in special.items() if f.not_visible]] = 1
        found.append(SightSlot(node, (node.visibility.parent,), sight))
    return found


def _fixed(network: Network, finding: Finding) -> Floats:
    """Return what a finding on sizes says of their parents, its part on the obstruction apart."""
    return parent_tables(network, finding)[0].values.ravel()


def _one_measure(
    node: Node, form: Ints, read: tuple[Floats, Floats], limited: Mapping[int, Finding]
) -> MeasureSlot:
    values, u = read
    limits = {}
    for i, finding in enumerate(limited.values()):
        (measure,) = (finding.measures or {}).values()
        if measure.value is None:
            limits[len(values) + i] = measure
    more = [next(iter((f.measures or {}).values())) for f in limited.values()]
    stated = [np.nan if m.value is None else m.value for m in more]
    own = [node.u.get(next(iter(node.measured)), 0.0) if m.u is None else m.u for m in more]
    return MeasureSlot(
        node,
        node.parents,
        form,
        np.concatenate([values, np.array(stated, dtype=np.float64)]),
        np.concatenate([u, np.array(own, dtype=np.float64)]),
        limits,
    )


@dataclass(frozen=True)
class Columns:
    """Pieces that say the same as one column.

    picks: shape (slots, columns). weights: how many pieces each stands for. column: of each piece.
    """

    picks: Ints
    weights: Floats
    column: Ints


def columns_of(slots: Sequence[Slot]) -> Columns:
    """Return the distinct columns of evidence."""
    picks, column, weights = np.unique(
        np.stack([slot.picks for slot in slots]), axis=1, return_inverse=True, return_counts=True
    )
    return Columns(picks.astype(np.intp), weights.astype(np.float64), column.ravel())


def hidden_states(cases: Cases, node: Node) -> Bools:
    """Return which pieces record that a node was not visible."""
    codes = cases.codes.get(node.name)
    hidden = np.zeros(len(cases), dtype=np.bool_)
    if codes is not None and node.visibility:
        hidden |= codes == len(node.states)
    for row, found in cases.special.items():
        if node.name in found and found[node.name].not_visible:
            hidden[row] = True
    return hidden
