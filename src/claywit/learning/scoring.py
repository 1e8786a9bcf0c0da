"""What a model says of many pieces whose truth is known, from their traits alone."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from claywit.evidence.cases import Cases, stated
from claywit.inference.network import Floats, Network
from claywit.inference.piece import holds, log_shares, log_total, tables_of
from claywit.inference.sheet import Reading, Sheet, compile_sheet, lay
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
    sheet = _sheet(network, cases, asked)
    blocks = (
        cases.take(np.arange(at, min(at + BLOCK, len(cases)))) for at in range(0, len(cases), BLOCK)
    )
    return gathered(_block(sheet, block, asked) for block in blocks)


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


def _block(sheet: Sheet, cases: Cases, asked: Asked) -> Scored:
    network, tree, laid = sheet.network, sheet.tree, lay(sheet, cases)
    # One more column, that weighs nothing, gives the priors.
    picks = np.pad(laid.picks, ((0, 0), (0, 1)))
    joint = laid.log_joint(picks, np.append(np.arange(len(cases)), 0))
    one, other = (log_total(joint, holds(network, tree, side)) for side in asked.pair)
    states = range(len(network.states[asked.question]))
    by_state = np.stack([log_total(joint, tree.root_states[:, 0] == k) for k in states], axis=1)
    total = log_total(joint)[:-1]
    said = np.flatnonzero(total > -np.inf)
    with np.errstate(invalid="ignore"):
        log_lr = (one[:-1] - one[-1]) - (other[:-1] - other[-1])
    sides = [_true_of(cases, network.model, side) for side in asked.pair]
    return Scored(
        network.states[asked.question],
        tuple(cases.names[i] for i in said),
        tuple(cases.groups[i] for i in said),
        truth_of(cases, asked.question)[said],
        log_shares(by_state[said].T).T,
        np.repeat(by_state[-1:], len(said), axis=0),
        log_lr[said],
        np.where(sides[0], 1, np.where(sides[1], 2, 0))[said],
        tuple(cases.names[i] for i in np.flatnonzero(total == -np.inf)),
    )


def _sheet(network: Network, cases: Cases, asked: Asked) -> Sheet:
    """Return a tree with room for what was found on the traits of any of the cases."""
    found = {*cases.codes, *cases.values, *(name for row in cases.special.values() for name in row)}
    readings: dict[str, list[Reading]] = {}
    for node in network.model.weighable:
        if node.name in found and node.name not in asked.nodes:
            plain = (stated(node, code) for code in range(len(node.all_states)))
            readings[node.name] = [tables_of(network, f, asked.nodes) for f in plain if f]
    return compile_sheet(network, readings, asked.nodes)


def _true_of(cases: Cases, model: Model, proposition: Proposition) -> Bools:
    """Return for which pieces the proposition is known to be true."""
    known = np.ones(len(cases), dtype=np.bool_)
    for name, states in proposition.items():
        codes = [model.node(name).all_states.index(state) for state in states]
        known &= np.isin(truth_of(cases, name), codes)
    return known
