"""What a model says of many pieces whose truth is known, from their traits alone."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.cases import Cases, stated
from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import compile_scopes, holds, log_total, tables_of
from claywit.inference.propagation import load, propagate
from claywit.inference.tree import Bools, Ints
from claywit.model.propositions import Pair, Proposition
from claywit.model.schema import Model

BLOCK = 4096  # pieces whose tables are held at once


@dataclass(frozen=True)
class Asked:
    """What is asked of every piece: a node, and two propositions that exclude each other."""

    question: str
    pair: Pair

    @property
    def nodes(self) -> tuple[str, ...]:
        """Return the nodes that the answer is about, the question first."""
        return tuple(dict.fromkeys([self.question, *self.pair[0], *self.pair[1]]))


@dataclass(frozen=True)
class Scored:
    """What was said of each piece, in an order that the order of the file does not set.

    names, groups: of each piece.
    truth: the number of its true state of the question, -1 where that is not known.
    log_p: log P(state | findings), shape (pieces, states).
    log_prior: the same without the findings.
    log_lr: log LR of the first proposition against the second.
    side: 1 where the first is known to be true, 2 for the second, 0 where neither is.
    impossible: pieces whose findings have probability 0, so that nothing is said of them.
    """

    states: tuple[str, ...]
    names: tuple[str, ...]
    groups: tuple[str, ...]
    truth: Ints
    log_p: Floats
    log_prior: Floats
    log_lr: Floats
    side: Ints
    impossible: tuple[str, ...]

    def take(self, rows: Ints) -> "Scored":
        """Return the pieces at *rows*, in that order."""
        return Scored(
            self.states,
            tuple(self.names[i] for i in rows),
            tuple(self.groups[i] for i in rows),
            self.truth[rows],
            self.log_p[rows],
            self.log_prior[rows],
            self.log_lr[rows],
            self.side[rows],
            self.impossible,
        )


def score(network: Network, cases: Cases, asked: Asked) -> Scored:
    """Return what *network* says of the *cases* from their traits alone.

    What is known of hidden nodes, the truth, is never weighed.
    """
    blocks = [
        cases.take(np.arange(at, min(at + BLOCK, len(cases)))) for at in range(0, len(cases), BLOCK)
    ]
    return gathered(_block(network, block, asked) for block in blocks)


def gathered(parts: Iterable[Scored]) -> Scored:
    """Return all parts as one, sorted by group, name and what was said."""
    found = list(parts)
    joined = Scored(
        found[0].states,
        tuple(name for part in found for name in part.names),
        tuple(group for part in found for group in part.groups),
        np.concatenate([part.truth for part in found]),
        np.concatenate([part.log_p for part in found]),
        np.concatenate([part.log_prior for part in found]),
        np.concatenate([part.log_lr for part in found]),
        np.concatenate([part.side for part in found]),
        tuple(sorted(name for part in found for name in part.impossible)),
    )
    keys = (joined.log_lr, *joined.log_p.T, joined.truth)
    order = np.lexsort((*keys, np.array(joined.names), np.array(joined.groups)))
    return joined.take(order)


def truth_of(cases: Cases, name: str) -> Ints:
    """Return the known state of a node for each piece, -1 where it is not known for certain."""
    none = np.full(len(cases), -1, dtype=np.intp)
    codes = cases.codes.get(name)
    return none if codes is None else codes.astype(np.intp)


def _block(network: Network, cases: Cases, asked: Asked) -> Scored:
    slots = list(_slots(network, cases, frozenset(asked.nodes)))
    tree = compile_scopes(network, [slot.scope for slot in slots], asked.nodes)
    picks = np.stack([slot.picks for slot in slots]) if slots else np.zeros((0, len(cases)), int)
    nothing = np.zeros((len(slots), 1), dtype=np.intp)  # a last column that weighs no finding
    joint = propagate(
        load(tree, [slot.tables for slot in slots]), np.concatenate([picks, nothing], axis=1)
    )
    held = [holds(network, tree, proposition) for proposition in asked.pair]
    one, other = (log_total(joint, side) for side in held)
    states = range(len(network.states[asked.question]))
    by_state = np.stack([log_total(joint, tree.root_states[:, 0] == k) for k in states], axis=1)
    total = log_total(joint)[:-1]
    said = np.flatnonzero(total > -np.inf)
    with np.errstate(invalid="ignore"):
        log_lr = (one[:-1] - one[-1]) - (other[:-1] - other[-1])
    sides = [_true_of(cases, network.model, proposition) for proposition in asked.pair]
    return Scored(
        network.states[asked.question],
        tuple(cases.names[i] for i in said),
        tuple(cases.groups[i] for i in said),
        truth_of(cases, asked.question)[said],
        by_state[said] - total[said, np.newaxis],
        np.repeat(by_state[-1:], len(said), axis=0),
        log_lr[said],
        np.where(sides[0], 1, np.where(sides[1], 2, 0))[said],
        tuple(cases.names[i] for i in np.flatnonzero(total == -np.inf)),
    )


def _true_of(cases: Cases, model: Model, proposition: Proposition) -> Bools:
    """Return for which pieces the proposition is known to be true."""
    known = np.ones(len(cases), dtype=np.bool_)
    for name, states in proposition.items():
        codes = [model.node(name).all_states.index(state) for state in states]
        known &= np.isin(truth_of(cases, name), codes)
    return known


@dataclass(frozen=True)
class _Slot:
    """What one trait says over one scope: tables (entries, m), and which of them each piece has.

    Table 0 is all zeros, the logarithms of a trait that says nothing.
    """

    scope: tuple[str, ...]
    tables: Floats
    picks: Ints


def _slots(network: Network, cases: Cases, asked: frozenset[str]) -> Iterator[_Slot]:
    """Yield the tables of every trait that was examined on some piece."""
    for node in network.model.nodes:
        if node.name in asked or not node.is_trait:
            continue
        forms, picks = _forms(cases, node.name)
        said = [{t.scope: t.values for t in tables_of(network, form, asked)} for form in forms]
        for scope in dict.fromkeys(scope for tables in said for scope in tables):
            size = next(tables[scope].size for tables in said if scope in tables)
            columns = [np.zeros(size)]
            columns += [t[scope].ravel() if scope in t else np.zeros(size) for t in said]
            yield _Slot(scope, np.stack(columns, axis=1), picks)


def _forms(cases: Cases, name: str) -> tuple[Sequence[Finding], Ints]:
    """Return the different findings on a trait, and which each piece has, 0 for none."""
    picks = np.zeros(len(cases), dtype=np.intp)
    forms: list[Finding] = []
    if name in cases.codes:
        codes = cases.codes[name]
        for code in np.unique(codes[codes >= 0]).tolist():
            finding = stated(cases.model.node(name), code)
            picks[codes == code] = len(forms) + 1
            forms += [finding] if finding else []
    elif name in cases.values:
        columns = np.concatenate([cases.values[name], cases.doubts[name]], axis=1)
        seen = np.flatnonzero(~np.isnan(cases.values[name]).all(axis=1))
        same = np.nan_to_num(columns[seen], nan=-np.inf)  # what is not measured is the same
        _, first, which = np.unique(same, axis=0, return_index=True, return_inverse=True)
        forms = [_found(cases, int(seen[i]), name) for i in first]
        picks[seen] = which.ravel() + 1
    for row, special in _special(cases, name):
        forms.append(special)
        picks[row] = len(forms)
    return forms, picks


def _found(cases: Cases, row: int, name: str) -> Finding:
    others = [node for node in cases.model.by_name if node != name]
    return cases.findings(row, without=others)[0]


def _special(cases: Cases, name: str) -> Iterator[tuple[int, Finding]]:
    special: Mapping[int, Mapping[str, Finding]] = cases.special
    return ((row, found[name]) for row, found in special.items() if name in found)
