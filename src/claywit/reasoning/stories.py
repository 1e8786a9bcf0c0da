"""Whole stories: which states of several nodes go together, and which explain best.

Three answers to "what happened?", because each leaves something out:

- the most probable joint states of the targets, the best few with their probabilities;
- the most relevant explanation: the part of such a story that the findings speak for most,
  by the generalised Bayes factor P(findings | story) / P(findings | not the story);
- the most probable state of everything that was not read, all at once.

Most relevant explanation and the two dominance relations: C. Yuan, H. Lim, T.-C. Lu (2011),
Most Relevant Explanation in Bayesian Networks, JAIR 42:309-352; definitions from memory. The
factor's logarithm is Good's weight of evidence for the story against all else: the move from
its prior to its posterior log odds.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

import numpy as np

from claywit.errors import EvidenceError
from claywit.inference.maximum import Configuration, most_probable
from claywit.inference.network import Floats
from claywit.inference.piece import TOLD, Piece, leaders, log_shares
from claywit.inference.tree import Ints
from claywit.reasoning.explanation import NATS_PER_BAN

MOST_NODES = 6  # 63 choices of nodes to speak of
MOST_STATES = 5_000  # joint states; each is part of up to 63 partial stories
SAME = 9  # decimals of a ban to which two weights are the same

Key = tuple[tuple[int, int], ...]  # (root, state number), by root


@dataclass(frozen=True)
class Story:
    """States that go together, as natural logarithms of their probability before and after."""

    states: Mapping[str, str]
    log_prior: float
    log_posterior: float


@dataclass(frozen=True)
class Relevant:
    """A story about some of the targets, and the findings' weight for it, in bans.

    Infinite where the findings leave no room for anything else.
    """

    story: Story
    bans: float


@dataclass(frozen=True)
class Stories:
    """The stories about the nodes *about*.

    best: joint states of all of them, the most probable first.
    relevant: explanations of which none contains a better or equal one, nor is contained in
        a better one; the best first.
    whole: all discrete nodes at once (but leaves with a finding).
    apart: each node's own most probable state, looked at one by one, and their probability
        together.
    """

    about: tuple[str, ...]
    best: tuple[Story, ...]
    relevant: tuple[Relevant, ...]
    whole: Configuration
    apart: Story
    log_evidence: float


def tell(piece: Piece, about: Sequence[str], *, best: int) -> Stories:
    """Return the *best* few stories about the nodes *about*, the roots of *piece*.

    The findings must be able to stand together.

    Raises:
        EvidenceError: there are too many nodes to speak of, or none, or they have too many
            joint states.
        ModelError: the network is too entangled to be held in memory.
    """
    _refuse_too_much(about, len(piece.tree.root_states))
    none_then_all = np.repeat([[False], [True]], len(piece.findings), axis=1)
    joint = piece.log_joint(none_then_all)
    log_evidence = float(np.logaddexp.reduce(joint[:, 1]))
    shares = log_shares(joint)
    return Stories(
        tuple(about),
        most_probable_stories(piece, shares, best),
        most_relevant(piece, shares, best),
        most_probable(piece.network, piece.findings),
        _apart(piece, shares),
        log_evidence,
    )


def _refuse_too_much(about: Sequence[str], states: int) -> None:
    if not about:
        raise EvidenceError(
            "every target of the model has a finding, so there is no story left to tell; name"
            " other nodes with --about"
        )
    if len(about) > MOST_NODES or states > MOST_STATES:
        raise EvidenceError(
            f"a story is about {MOST_NODES} nodes at most, with {MOST_STATES:,} joint states at"
            f" most; found {len(about)} nodes with {states:,}; name fewer with --about"
        )


def most_probable_stories(piece: Piece, shares: Floats, count: int) -> tuple[Story, ...]:
    """Return the *count* most probable joint states of the roots, the best first.

    The first is the marginal maximum a posteriori: all other nodes are summed over.

    Args:
        piece: the findings.
        shares: log P(joint state) before and after the findings, shape (joint states, 2).
        count: how many at most; what the findings exclude is never told.
    """
    told = np.round(shares, TOLD)  # of equals the likelier before, then the first of the model
    order = sorted(range(len(shares)), key=lambda j: (-told[j, 1], -told[j, 0], j))
    possible = [j for j in order[:count] if shares[j, 1] > -np.inf]
    return tuple(
        Story(
            _named(piece, list(enumerate(piece.tree.root_states[j].tolist()))),
            float(shares[j, 0]),
            float(shares[j, 1]),
        )
        for j in possible
    )


def most_relevant(piece: Piece, shares: Floats, count: int) -> tuple[Relevant, ...]:
    """Return the *count* best minimal explanations that the findings speak for.

    All partial assignments of the roots are weighed. One is left out if part of it weighs
    the same or more, or if it is part of one that weighs more. So nothing irrelevant is ever
    added: if the findings are no likelier under (x, y) than under x alone, which holds
    whenever y says nothing more about them once x is known, and if they speak for x at all,
    then (x, y) weighs no more than x. Proof: P(e | not (x and y)) is at least the average of
    P(e | x) and P(e | not x) with weights P(x, not y) and P(not x), which is at least
    P(e | not x), since P(e | x) is the greater.
    """
    weights = _all_weights(piece.tree.root_states, shares)
    ranked = sorted(
        (key for key in weights if round(weights[key][0], SAME) > 0),
        key=lambda key: (-round(weights[key][0], SAME), len(key), -weights[key][2], key),
    )
    within: set[Key] = set()  # all that is part of what stands higher
    found: list[Relevant] = []
    for key in ranked:
        own = round(weights[key][0], SAME)
        parts = _parts(key)
        matched = any(part in weights and round(weights[part][0], SAME) >= own for part in parts)
        if not matched and key not in within:
            bans, log_prior, log_posterior = weights[key]
            found.append(Relevant(Story(_named(piece, key), log_prior, log_posterior), bans))
            if len(found) == count:
                break
        within.update(parts)
    return tuple(found)


def _parts(key: Key) -> list[Key]:
    sizes = range(1, len(key))
    return list(chain.from_iterable(combinations(key, size) for size in sizes))


def _named(piece: Piece, key: Sequence[tuple[int, int]]) -> dict[str, str]:
    roots, states = piece.tree.roots, piece.network.states
    return {roots[root]: states[roots[root]][state] for root, state in key}


def _all_weights(states: Ints, shares: Floats) -> dict[Key, tuple[float, float, float]]:
    """Return (weight in bans, log prior, log posterior) of every partial assignment.

    Assignments that are certain before anything is seen are left out: they explain nothing.
    """
    found: dict[Key, tuple[float, float, float]] = {}
    roots = states.shape[1]
    for size in range(1, roots + 1):
        for chosen in combinations(range(roots), size):
            values, which = np.unique(states[:, chosen], axis=0, return_inverse=True)
            own = np.full((len(values), 2), -np.inf)
            np.logaddexp.at(own, which.ravel(), shares)
            if len(values) < 2:
                continue
            rest = _all_but(own)
            with np.errstate(invalid="ignore"):
                moved = ((own[:, 1] - rest[:, 1]) - (own[:, 0] - rest[:, 0])) / NATS_PER_BAN
            for i, row in enumerate(values.tolist()):
                key = tuple(zip(chosen, row, strict=True))
                found[key] = (float(moved[i]), float(own[i, 0]), float(own[i, 1]))
    return {key: entry for key, entry in found.items() if not np.isnan(entry[0])}


def _all_but(logs: Floats) -> Floats:
    """Return for each row the log of the sum of all others, added up and never subtracted."""
    before = np.full_like(logs, -np.inf)
    after = np.full_like(logs, -np.inf)
    before[1:] = np.logaddexp.accumulate(logs, axis=0)[:-1]
    after[:-1] = np.logaddexp.accumulate(logs[::-1], axis=0)[::-1][1:]
    rest: Floats = np.logaddexp(before, after)
    return rest


def _apart(piece: Piece, shares: Floats) -> Story:
    """Return the likeliest state of each root by itself, and how probable they are together."""
    states = piece.tree.root_states
    own: list[int] = []
    for root in range(states.shape[1]):
        totals = np.full((int(states[:, root].max()) + 1, 2), -np.inf)
        np.logaddexp.at(totals, states[:, root], shares)
        own.append(int(leaders(totals[:, 1])))
    together = np.logaddexp.reduce(shares[(states == own).all(axis=1)], axis=0)
    log_prior, log_posterior = (float(value) for value in np.broadcast_to(together, 2))
    return Story(_named(piece, list(enumerate(own))), log_prior, log_posterior)
