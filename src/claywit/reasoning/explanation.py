"""Why this attribution and not that one: every finding's weight of evidence, in bans.

A weight of evidence is log10 of a likelihood ratio (Good 1950, Probability and the Weighing
of Evidence; from memory). Three weights are given for each finding, because findings share
causes and no single number says it all:

- chained: what it added after the findings before it; these add up to the whole move;
- alone: what it would say if it were the only finding;
- left out: what would be lost without it, all others standing.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from math import log

import numpy as np

from claywit.errors import EvidenceError
from claywit.inference.network import Floats
from claywit.inference.piece import Piece, log_odds, log_total, ranked
from claywit.inference.tree import Bools
from claywit.model.propositions import Proposition, text_of

UNGROUPED = "in no group"  # no group can have this name
NATS_PER_BAN = log(10)
_Group = tuple[str, list[int]]  # its name, and the numbers of its findings
ROOM = 8_000_000  # subsets times findings that are held at once


@dataclass(frozen=True)
class Weight:
    """The weight of one finding for one proposition against another, in bans.

    Infinite where the finding excludes one of the two; nan where nothing was left to move.
    averages_over: hidden nodes whose probabilities, given the proposition, the ratio rests on.
    """

    node: str
    group: str
    bans: float
    alone: float
    left_out: float
    averages_over: tuple[str, ...]


@dataclass(frozen=True)
class GroupWeight:
    """The weight of a group of findings taken together, in bans, as for one finding."""

    name: str
    nodes: tuple[str, ...]
    bans: float
    alone: float
    left_out: float


@dataclass(frozen=True)
class Explanation:
    """The move from prior to posterior log odds, in bans, and who is to thank for it.

    prior + total = posterior; the chained weights, and those of the groups, add to total.
    strongest_against: the finding whose loss would help most, if any speaks against.
    rests_on: the nodes without parents whose priors everything rests on.
    """

    for_: Proposition
    against: Proposition
    prior: float
    total: float
    posterior: float
    weights: tuple[Weight, ...]
    groups: tuple[GroupWeight, ...]
    strongest_for: str | None
    strongest_against: str | None
    rests_on: tuple[str, ...]


def explain(piece: Piece, for_: Proposition, against: Proposition) -> Explanation:
    """Share out the move from prior to posterior log odds of *for_* over *against*.

    Every column of one pass is a subset of the findings: the chain from none to all in the
    order of the model's groups, then each finding and each group alone, then left out.
    """
    chain = _chain(piece)
    order = [i for _, members in chain for i in members]
    n = len(order)
    units = subsets([*([i] for i in order), *(members for _, members in chain)], n)
    columns = np.concatenate([subsets([order[:k] for k in range(n + 1)], n), units, ~units])
    odds = log_odds(piece.log_joint(columns), piece.holds(for_), piece.holds(against))
    chained, alone, without = np.split(odds / NATS_PER_BAN, [n + 1, n + 1 + len(units)])
    with np.errstate(invalid="ignore"):
        steps, alone, left_out = np.diff(chained), alone - chained[0], chained[-1] - without
        total = _plain(chained[-1] - chained[0])
    named = frozenset(for_) | frozenset(against)
    each = np.stack([steps, alone[:n], left_out[:n]], axis=1)
    weights = tuple(_weights(piece, chain, each, named))
    groups = tuple(_groups(weights, chain, alone[n:], left_out[n:]))
    return Explanation(
        for_,
        against,
        float(chained[0]),
        total,
        float(chained[-1]),
        weights,
        groups,
        _extreme(weights, 1),
        _extreme(weights, -1),
        _without_parents(piece, named),
    )


def _weights(
    piece: Piece, chain: Sequence[_Group], each: Floats, named: frozenset[str]
) -> Iterator[Weight]:
    """Yield the weight of each finding along the chain.

    Args:
        piece: the findings.
        chain: the groups, each with the numbers of its findings.
        each: bans in turn, alone and left out, in the order of the chain; shape (findings, 3).
        named: the nodes of the two propositions.
    """
    along = [(name, i) for name, members in chain for i in members]
    for (name, i), (bans, alone, left_out) in zip(along, each, strict=True):
        over = _averages_over(piece, i, named)
        node = piece.findings[i].node
        yield Weight(node, name, _plain(bans), _plain(alone), _plain(left_out), over)


def _groups(
    weights: Sequence[Weight], chain: Sequence[_Group], alone: Floats, left_out: Floats
) -> Iterator[GroupWeight]:
    """Yield the weight of each group, whose findings stand together in *weights*."""
    left = iter(weights)
    for k, (name, members) in enumerate(chain):
        own = tuple(islice(left, len(members)))
        bans = _plain(float(np.sum([weight.bans for weight in own])))
        nodes = tuple(weight.node for weight in own)
        yield GroupWeight(name, nodes, bans, _plain(alone[k]), _plain(left_out[k]))


def subsets(members: Sequence[Sequence[int]], n: int) -> Bools:
    """Return one row for each subset of n findings."""
    rows = np.zeros((len(members), n), dtype=np.bool_)
    for row, chosen in zip(rows, members, strict=True):
        row[list(chosen)] = True
    return rows


def log_evidence(piece: Piece, members: Iterable[Sequence[int]]) -> Floats:
    """Return log P(the findings in a subset) of each of the *members*, findings by number.

    As many at once as memory is meant to hold: all pairs of many findings are very many.
    """
    n, left = len(piece.findings), iter(members)
    step = max(1, ROOM // max(1, n))
    found = [np.zeros(0)]
    while some := list(islice(left, step)):
        found.append(log_total(piece.log_joint(subsets(some, n))))
    return np.concatenate(found)


def _plain(bans: float) -> float:
    return float(bans) + 0.0  # never -0


def _chain(piece: Piece) -> list[_Group]:
    """Return the numbers of the findings by group, in the order of the model's groups."""
    place = {finding.node: i for i, finding in enumerate(piece.findings)}
    chain = [
        (group.name, [place.pop(n) for n in group.nodes if n in place])
        for group in piece.network.model.groups
    ]
    return [
        (name, members) for name, members in [*chain, (UNGROUPED, [*place.values()])] if members
    ]


def _extreme(weights: Sequence[Weight], sign: int) -> str | None:
    """Return the finding that speaks loudest for (1) or against (-1), if one does.

    Where a finding has no left-out weight, since another excludes a side already, what it
    added in turn stands in, or else what it says alone.
    """
    told = {w.node: sign * _first_number(w.left_out, w.bans, w.alone) for w in weights}
    best = max(told, key=lambda name: told[name], default=None)
    return best if best is not None and told[best] > 1e-12 else None


def _first_number(*weights: float) -> float:
    return next((weight for weight in weights if not np.isnan(weight)), 0.0)


def _averages_over(piece: Piece, finding: int, named: frozenset[str]) -> tuple[str, ...]:
    network, node = piece.network, piece.findings[finding].node
    above = network.ancestors(frozenset(network.parents(node))) - named
    seen = {other.node for other in piece.findings}
    return tuple(name for name in network.model.by_name if name in above - seen)


def _without_parents(piece: Piece, named: frozenset[str]) -> tuple[str, ...]:
    network = piece.network
    above = network.ancestors(named | {finding.node for finding in piece.findings})
    return tuple(n for n in network.model.by_name if n in above and not network.parents(n))


def of_root(log_joint: Floats, piece: Piece, name: str) -> Floats:
    """Return log P(state of one root, findings); shape (states, columns), as of *log_joint*."""
    column = piece.tree.root_states[:, piece.tree.roots.index(name)]
    totals = np.full((len(piece.network.states[name]), log_joint.shape[1]), -np.inf)
    np.logaddexp.at(totals, column, log_joint)
    return totals


def leading_pair(log_joint: Floats, piece: Piece, question: str) -> tuple[Proposition, Proposition]:
    """Return the two likeliest states of *question*, the leader first, the prior for ties.

    Args:
        log_joint: log P(joint state of the roots, findings), columns none and all.
        piece: the findings.
        question: a root.

    Raises:
        EvidenceError: all states but one have no prior, so there is nothing to weigh.
    """
    names = piece.network.states[question]
    totals = of_root(log_joint, piece, question)
    possible = [i for i in range(len(names)) if totals[i, 0] > -np.inf]
    if len(possible) < 2:
        raise EvidenceError(
            f"{question} can only be {names[possible[0]]} before anything is seen, so there is"
            " nothing to weigh; look at its prior in the evidence and in the model"
        )
    first, second, *_ = (i for i in ranked(totals[:, 1], totals[:, 0]).tolist() if i in possible)
    return {question: (names[first],)}, {question: (names[second],)}


def refuse_excluded(pair: tuple[Proposition, Proposition], log_prior: Sequence[float]) -> None:
    """Refuse a pair of which one has no prior: nothing can be weighed for or against it.

    Args:
        pair: two propositions.
        log_prior: the logs of their probabilities before anything is seen.

    Raises:
        EvidenceError: naming the proposition.
    """
    for stated, log_p in zip(pair, log_prior, strict=True):
        if log_p == -np.inf:
            raise EvidenceError(
                f"{text_of(stated)}: this has probability 0 before anything is seen, in the model"
                " or in the client's prior, so nothing can be weighed for or against it; widen"
                " the proposition"
            )
