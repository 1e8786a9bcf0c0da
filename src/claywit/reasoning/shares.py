"""Order-free shares: what each group adds on the average over all orders of weighing."""

from math import factorial

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import Piece, log_odds
from claywit.reasoning.explanation import NATS_PER_BAN, Explanation

MOST_GROUPS = 12  # 4,096 subsets


def group_shares(piece: Piece, explanation: Explanation) -> dict[str, float]:
    """Return the Shapley share of each group in the move from prior to posterior, in bans.

    The shares add up to the whole move, as the chained weights do, but do not depend on the
    order of the groups. Empty where a side is excluded by some subset, since an average
    over infinite weights says nothing, and where there are more than twelve groups.
    """
    groups = explanation.groups
    if len(groups) > MOST_GROUPS:
        return {}
    place = {finding.node: i for i, finding in enumerate(piece.findings)}
    members = np.zeros((len(groups), len(place)), dtype=np.bool_)
    for row, group in zip(members, groups, strict=True):
        row[[place[name] for name in group.nodes]] = True
    chosen = (np.arange(2 ** len(groups))[:, np.newaxis] >> np.arange(len(groups))) & 1
    subsets = chosen @ members > 0
    sides = piece.holds(explanation.for_), piece.holds(explanation.against)
    bans = log_odds(piece.log_joint(subsets), *sides) / NATS_PER_BAN
    if not np.isfinite(bans).all():
        return {}
    shares = shapley(bans)
    return {group.name: float(share) for group, share in zip(groups, shares, strict=True)}


def shapley(values: Floats) -> Floats:
    """Return each player's Shapley share in a game (Shapley 1953).

    Args:
        values: the worth of every coalition, shape (2^players,); bit k of the place says
            whether player k is in it.
    """
    players = int(values.size).bit_length() - 1
    coalitions = np.arange(values.size)
    size = sum((coalitions >> k) & 1 for k in range(players))
    chances = [
        factorial(s) * factorial(players - s - 1) / factorial(players) for s in range(players)
    ]
    shares = np.empty(players)
    for k in range(players):
        without = coalitions[(coalitions >> k) & 1 == 0]
        weights = np.array(chances)[np.asarray(size)[without]]
        shares[k] = weights @ (values[without | (1 << k)] - values[without])
    return shares
