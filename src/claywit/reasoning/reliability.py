"""What less certainty of a reading, or another prior, would make of the answer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Floats
from claywit.inference.piece import Piece, likeliest, log_shares, ranked, tables_of
from claywit.inference.propagation import load, propagate
from claywit.inference.tree import Ints
from claywit.model.propositions import Proposition
from claywit.reasoning.explanation import NATS_PER_BAN

FACTORS = (10.0, 3.0, 1 / 3, 1 / 10)
DOUBTED = 0.9  # how sure a reading is taken to be where it is doubted


@dataclass(frozen=True)
class Doubted:
    """What a reading would be worth if nine in ten sure, or as sure as it is if that is less.

    bans: log10 posterior odds of the pair then; nan or infinite where a side is excluded.
    least: how sure the reading must be for the leader to lead, None if a guess would do.
    leader: who leads below that.
    """

    node: str
    bans: float
    least: float | None
    leader: str | None


@dataclass(frozen=True)
class Prior:
    """What another prior of the leading state would make of it.

    shares: its posterior, by the factor on its prior odds against all others.
    turns_at: its prior probability at which the runner-up overtakes it; None if nothing does.
    """

    state: str
    prior: float
    shares: tuple[tuple[float, float], ...]
    rival: str
    turns_at: float | None


def reliability(
    piece: Piece, question: str, for_: Proposition, against: Proposition
) -> tuple[Doubted, ...]:
    """Return for each reading of a state what less certainty would make of the answer.

    P(question, findings) is linear in how sure a reading is, from a guess among the states to
    certain, so two columns a finding say all.
    """
    doubted = [i for i, finding in enumerate(piece.findings) if _can_be_doubted(piece, finding)]
    joint = _joint(piece, doubted)
    column = piece.tree.root_states[:, piece.tree.roots.index(question)]
    states = piece.network.states[question]
    shares = np.eye(len(states))[column].T @ joint
    leader = likeliest(shares[:, 0])
    sides = [joint[piece.holds(p)].sum(axis=0) for p in (for_, against)]
    found = []
    for k, i in enumerate(doubted):
        sure, guess = 1 + 2 * k, 2 + 2 * k
        chance = _guess(piece, i)
        now = piece.findings[i].sure or 1.0
        part = (min(DOUBTED, now) - chance) / (1 - chance)
        one, other = (part * side[sure] + (1 - part) * side[guess] for side in sides)
        with np.errstate(divide="ignore", invalid="ignore"):
            bans = float((np.log(one) - np.log(other)) / NATS_PER_BAN)
        least, then = _least(shares[:, sure], shares[:, guess], leader, chance, now)
        found.append(
            Doubted(piece.findings[i].node, bans, least, None if then is None else states[then])
        )
    return tuple(found)


def _can_be_doubted(piece: Piece, finding: Finding) -> bool:
    """Return whether it reads a state and how sure that is does not stand in the rows."""
    in_rows = piece.network.model.node(finding.node).reading_error == "in_rows"
    return finding.state is not None and not finding.matrix and not (in_rows and not finding.sure)


def _joint(piece: Piece, doubted: Sequence[int]) -> Floats:
    """Return the joint as read, then for each doubted finding with it certain and a guess.

    The scale is one for the first column, and one for each pair.
    """
    slots: list[Floats] = []
    picks: Ints = np.zeros((len(piece.owner), 1 + 2 * len(doubted)), dtype=np.intp)
    for i, finding in enumerate(piece.findings):
        forms = [finding]
        if i in doubted:
            column = 1 + 2 * doubted.index(i)
            picks[piece.owner == i, column : column + 2] = (1, 2)
            forms += [replace(finding, sure=sure) for sure in (1.0, _guess(piece, i))]
        said = [tables_of(piece.network, form, piece.tree.roots) for form in forms]
        slots += [
            np.stack([np.ravel(table.values) for table in slot], axis=1)
            for slot in zip(*said, strict=True)
        ]
    logs = propagate(load(piece.tree, slots), picks)
    # A reading may be a thousand nats less likely than its opposite: each pair has its own scale.
    greatest = logs.max(axis=0)
    greatest[1:] = np.repeat(np.maximum(greatest[1::2], greatest[2::2]), 2)
    joint: Floats = np.exp(logs - greatest)
    return joint


def _guess(piece: Piece, i: int) -> float:
    return 1 / len(piece.network.model.node(piece.findings[i].node).state_names)


def _least(
    certain: Floats, guess: Floats, leader: int, chance: float, now: float
) -> tuple[float | None, int | None]:
    """Return how sure the reading must be for the leader to lead, and who leads below."""
    above, below = certain[leader] - certain, guess[leader] - guess
    with np.errstate(divide="ignore", invalid="ignore"):
        part = below / (below - above)  # where the two lines meet, from guess (0) to certain (1)
    sure = chance + part * (1 - chance)
    sure[~((sure > chance) & (sure < now) & (below < 0))] = -np.inf
    first = int(np.argmax(sure))
    return (float(sure[first]), first) if np.isfinite(sure[first]) else (None, None)


def prior_sensitivity(
    states: Sequence[str], log_prior: Floats, log_posterior: Floats
) -> Prior | None:
    """Return what another prior of the leading state makes of its posterior.

    Its odds against all others are multiplied, theirs among each other kept. Then its
    posterior odds are multiplied by the same factor, whatever the findings. None where the
    leader has no rival.

    Args:
        states: of the question.
        log_prior: log P(state), on any scale, shape (states,).
        log_posterior: log P(state, findings), on any scale.
    """
    prior = np.exp(log_shares(log_prior))
    posterior = np.exp(log_shares(log_posterior))
    order = ranked(log_posterior, log_prior)
    leader, rival = int(order[0]), int(order[1])
    others, own = float(np.delete(posterior, leader).sum()), float(posterior[leader])
    if others <= 0 or not 0 < prior[leader] < 1:
        return None
    shares = tuple((f, f * own / (f * own + others)) for f in FACTORS)
    factor = float(posterior[rival]) / own
    rest = float(np.delete(prior, leader).sum())
    turned = factor * float(prior[leader])
    turns_at = turned / (turned + rest) if factor > 0 else None
    return Prior(states[leader], float(prior[leader]), shares, states[rival], turns_at)
