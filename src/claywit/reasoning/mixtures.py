"""Mixtures of two examiners' readings, priors and models, and the opinion that each gives.

Every mixture of readings is a column of evidence: for each reading in dispute it weighs
A's finding or B's. So all mixtures under one model and one set of priors are one pass.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import Piece, compile_piece, leaders, log_odds, log_shares
from claywit.inference.tree import Bools
from claywit.model.propositions import Pair
from claywit.reasoning.explanation import NATS_PER_BAN


@dataclass(frozen=True)
class Setting:
    """What both examiners say in the words of one model, A first.

    networks: the model with the priors of each; one and the same where these are.
    """

    networks: tuple[Network, Network]
    findings: tuple[tuple[Finding, ...], tuple[Finding, ...]]


@dataclass(frozen=True)
class Player:
    """What goes over from A to B as one: readings of *nodes*, the priors, or the model."""

    kind: Literal["reading", "within", "group", "priors", "model"]
    name: str
    nodes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Game:
    """Every mixture of A and B: bit k of its number says that player k is B's.

    odds: log odds in bans, shape (mixtures,). posteriors: of the question, (states, mixtures).
    """

    pair: Pair
    odds: Floats
    posteriors: Floats


@dataclass(frozen=True)
class _Block:
    """The mixtures of readings under one model and one set of priors.

    joint: log P(joint state of the roots, readings), shape (joint states, mixtures).
    """

    piece: Piece
    joint: Floats
    question: str

    def odds(self, pair: Pair) -> Floats:
        """Return the log odds of two propositions in bans, shape (mixtures,)."""
        sides = [self.piece.holds(proposition) for proposition in pair]
        bans: Floats = log_odds(self.joint, *sides) / NATS_PER_BAN
        return bans

    def posteriors(self) -> Floats:
        """Return normal log probabilities of the question, shape (states, mixtures)."""
        tree = self.piece.tree
        totals = np.full(
            (len(self.piece.network.states[self.question]), self.joint.shape[1]), -np.inf
        )
        np.logaddexp.at(totals, tree.root_states[:, tree.roots.index(self.question)], self.joint)
        return log_shares(totals)


def play(
    settings: tuple[Setting, Setting],
    players: Sequence[Player],
    question: str,
    pair: Pair | None,
) -> Game:
    """Return the opinion of every mixture, one pass for each model with each set of priors.

    The blocks stand in the order of the mixtures' numbers: priors and model are the last
    players, so theirs are the highest bits.
    """
    kinds = {player.kind for player in players}
    movable = [player for player in players if player.nodes]
    blocks = [
        _block(settings[m], settings[m].networks[p], movable, (question, pair))
        for m in ((0, 1) if "model" in kinds else (0,))
        for p in ((0, 1) if "priors" in kinds else (0,))
    ]
    posteriors = np.concatenate([block.posteriors() for block in blocks], axis=1)
    states = blocks[0].piece.network.states[question]
    chosen = pair or _leading(question, states, posteriors[:, 0], posteriors[:, -1])
    return Game(chosen, np.concatenate([block.odds(chosen) for block in blocks]), posteriors)


def _block(
    setting: Setting,
    network: Network,
    movable: Sequence[Player],
    asked: tuple[str, Pair | None],
) -> _Block:
    """Compile the readings of both, and weigh of each player's those of A or those of B."""
    question, pair = asked
    owner = {name: k for k, player in enumerate(movable) for name in player.nodes}
    one, other = setting.findings
    entries = [(finding, 0) for finding in one]
    entries += [(finding, 1) for finding in other if finding.node in owner]
    numbers = np.arange(2 ** len(movable))
    mixtures: Bools = np.ones((len(numbers), len(entries)), dtype=np.bool_)
    for i, (finding, side) in enumerate(entries):
        if finding.node in owner:
            mixtures[:, i] = (numbers >> owner[finding.node]) & 1 == side
    about = [name for proposition in pair or () for name in proposition]
    roots = list(dict.fromkeys([question, *about]))
    piece = compile_piece(network, [finding for finding, _ in entries], roots)
    return _Block(piece, piece.log_joint(mixtures), question)


def _leading(question: str, states: Sequence[str], log_a: Floats, log_b: Floats) -> Pair:
    """Return A's leading state and B's; where they agree, that state and its strongest rival."""
    one, other = (int(state) for state in leaders(np.stack([log_a, log_b], axis=1)))
    if one == other:
        together = np.logaddexp(log_a, log_b)
        together[one] = -np.inf
        other = int(leaders(together))
    return {question: (states[one],)}, {question: (states[other],)}
