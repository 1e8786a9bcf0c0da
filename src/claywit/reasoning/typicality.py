"""Is this piece like anything that the model knows?

Pieces are drawn from the model and read in the same traits. Three things are asked of each
group of findings: how common findings as improbable as these are in all pieces; how often a
piece of the leading attribution has findings that fit it so badly; and how far the group stands
apart from all other findings of the piece, P(group) P(rest) / P(group, rest).

The alarm rests on the last, since the rest says more than the leading state alone. If the model
covers the piece, a group stands apart by a factor of f or more with probability at most 1/f
(Markov's inequality: the expected factor is at most 1), so 1/f is the group's p-value, whatever
the group is, and groups can be compared. The group with the smallest is picked after the result
was seen; the same picking is done for every drawn piece, and the alarm's p is the rank among them.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.measured import alike
from claywit.inference.network import Floats, Network
from claywit.inference.piece import compile_scopes, leaders, log_total
from claywit.inference.scaled import run_scaled
from claywit.inference.simulation import Read, can_be_drawn, simulate
from claywit.inference.tree import Bools, Ints, Tree
from claywit.reasoning.explanation import NATS_PER_BAN

PIECES = 499  # drawn; with the piece at hand five hundred
ALARM = 0.05
ENOUGH = 50  # pieces' worth, below which a share of the leader's pieces says nothing


@dataclass(frozen=True)
class GroupFit:
    """How a group of findings fits.

    overall, under_leader: the share of all pieces, and of those of the leading state, that fit
    as badly. apart: how far the group stands apart from the rest, in bans.
    """

    name: str
    nodes: tuple[str, ...]
    overall: float
    under_leader: float | None
    apart: float


@dataclass(frozen=True)
class Typicality:
    """How the whole and each group fit, and one alarm.

    p: the chance that in a piece which the model covers some group stands apart as far as
    *stranger* does here; the alarm is raised where that is at most 5 %.
    open_leads: the leading state is that of what is not in the file.
    unchecked: findings that cannot be drawn again: likelihoods and limits.
    """

    pieces: int
    leader: str
    overall: float
    under_leader: float | None
    groups: tuple[GroupFit, ...]
    p: float
    stranger: str
    alarm: bool
    open_leads: bool
    unchecked: tuple[str, ...]


def typicality(
    network: Network, findings: Sequence[Finding], question: str, rng: np.random.Generator
) -> Typicality | None:
    """Return how typical the findings are, or None where none of them can be drawn.

    Args:
        network: the model.
        findings: of the piece; they can stand together.
        question: whose leading state is the attribution.
        rng: the source of the drawn pieces.
    """
    drawable = [f for f in findings if can_be_drawn(network, f)]
    if not drawable:
        return None
    read = simulate(network, drawable, frozenset((question,)), PIECES, rng)
    tree = compile_scopes(network, [scope for one in read for scope in one.scopes], (question,))
    every, members = {one.node for one in read}, _members(network, read)
    parts = [part for _, nodes in members for part in (nodes, every.difference(nodes))]
    prior, whole, *joints = _log_joints(network, tree, read, [(), every, *parts])
    leads = leaders(whole)
    groups, apart = [], []
    for (name, nodes), own, rest in zip(members, joints[::2], joints[1::2], strict=True):
        apart.append(log_total(own) + log_total(rest) - log_total(whole))
        overall = _rank(log_total(own))
        under = _under_leader(own, prior, leads)
        groups.append(GroupFit(name, nodes, overall, under, float(apart[-1][-1]) / NATS_PER_BAN))
    p = _rank(-np.max(apart, axis=0))
    leader = network.model.node(question).states[int(leads[-1])]
    return Typicality(
        PIECES,
        leader.name,
        _rank(log_total(whole)),
        _under_leader(whole, prior, leads),
        tuple(groups),
        p,
        max(groups, key=lambda group: group.apart).name,
        p <= ALARM,
        leader.open,
        tuple(f.node for f in findings if not can_be_drawn(network, f)),
    )


def _members(network: Network, read: Sequence[Read]) -> list[tuple[str, tuple[str, ...]]]:
    """Return the traits that were read by group, each that is in none by itself."""
    group_of = {name: group.name for group in network.model.groups for name in group.nodes}
    names = [*(group.name for group in network.model.groups), *(r.node for r in read)]
    found = [
        (name, tuple(r.node for r in read if group_of.get(r.node, r.node) == name))
        for name in dict.fromkeys(names)
    ]
    return [(name, nodes) for name, nodes in found if nodes]


def _log_joints(
    network: Network, tree: Tree, read: Sequence[Read], choices: Sequence[Collection[str]]
) -> list[Floats]:
    """Return log P(state of the question, readings of the chosen nodes) for each of *choices*.

    Each of shape (states, pieces + 1). The tree has room for all readings; those that are not
    chosen say nothing.
    """
    every = np.arange(PIECES + 1)
    tables, codes, owners = [], [], []
    for one in read:
        first, code = (every, every) if one.readings is None else alike([one.readings])
        for table in one.tables:
            tables.append(np.concatenate([np.zeros((len(table), 1)), table[:, first]], axis=1))
            codes.append(1 + code)
            owners.append(one.node)
    chosen = np.array([[[owner in choice] for choice in choices] for owner in owners])
    picks = (chosen * np.array(codes)[:, np.newaxis]).reshape(len(owners), -1)
    states = len(network.states[tree.roots[0]])
    joint = np.full((states, picks.shape[1]), -np.inf)
    joint[tree.root_states[:, 0]] = run_scaled(tree, tables, picks)
    return np.split(joint, len(choices), axis=1)


def _under_leader(logs: Floats, prior: Floats, leads: Ints) -> float | None:
    """Return how often a piece of the last one's leading state has readings that fit as badly.

    The fit is P(readings | state) / P(readings). Every drawn piece serves every state, weighted
    by that very ratio (importance sampling). None where that leaves fewer than fifty pieces' worth
    (the effective sample size of Kish 1965, from memory).

    Args:
        logs: log P(state, readings), shape (states, pieces).
        prior: log P(state), shape (states, pieces).
        leads: the leading state of each piece.
    """
    state = leads[-1]
    fit = logs[state] - prior[state] - log_total(logs)
    weights = np.exp(fit)
    if weights.sum() ** 2 <= ENOUGH * (weights**2).sum():
        return None
    return float(weights[_at_most(fit)].sum() / weights.sum())


def _rank(values: Floats) -> float:
    """Return the share of values that are at most the last one, itself among them."""
    return float(_at_most(values).mean())


def _at_most(values: Floats) -> Bools:
    same: Bools = values <= values[-1] + 1e-9
    return same  # equal but for rounding counts as equal
