"""What two opinions on one piece differ in, and how much of their difference each part makes.

An opinion follows from readings, priors and a model. Take each reading in dispute, the
priors and the model as a player who is either A's or B's: every coalition of players that
are B's gives log odds, from A's opinion (none is B's) to B's own (all are). A player's
Shapley share (Shapley 1953) is what it adds on the average over all orders of going over
from A to B; the shares add up to the whole difference. Mixtures are columns of evidence.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import leaders
from claywit.inference.tree import Ints
from claywit.model.propositions import Pair
from claywit.reasoning.agreement import compare, tied
from claywit.reasoning.explanation import UNGROUPED
from claywit.reasoning.mixtures import Game, Player, Setting, play
from claywit.reasoning.shares import shapley

MOST_PLAYERS = 12  # 4,096 mixtures
WITHIN, PRIORS, MODEL = "measures within uncertainty", "priors", "model"  # no node's names


@dataclass(frozen=True)
class Share:
    """A player's part in the difference of two opinions, in bans.

    share: nan where none can be given. in_a: what it would change in A's opinion alone;
    in_b: what it changes in B's.
    """

    player: Player
    share: float
    in_a: float
    in_b: float


@dataclass(frozen=True)
class Settling:
    """What would be left of the difference, in bans, if a reading were settled.

    left_if_a: both then have A's reading. leaders_if_a: which state of the question A and B
    would then find likeliest.
    """

    player: Player
    left_if_a: float
    left_if_b: float
    leaders_if_a: tuple[int, int]
    leaders_if_b: tuple[int, int]

    @property
    def worst(self) -> float:
        """Return what is left in the less happy case."""
        return max(self.left_if_a, self.left_if_b)


@dataclass(frozen=True)
class Dispute:
    """Two opinions on a question, and what their difference is made of.

    a, b: log odds of the two propositions in bans. shares add up to b - a.
    settlings: readings to look at again, the one that leaves least first.
    accord: the fewest readings that would bring both to the same likeliest state, whichever
        way each of them is settled; empty where they have it already, None where priors or
        models keep them apart even then.
    log_posteriors: of the question, A's and B's.
    grouped: why readings were put together by group, if they were.
    """

    pair: Pair
    a: float
    b: float
    shares: tuple[Share, ...]
    settlings: tuple[Settling, ...]
    accord: tuple[Player, ...] | None
    log_posteriors: tuple[Floats, Floats]
    grouped: Literal["", "many", "impossible"]


def dispute(settings: tuple[Setting, Setting], question: str, pair: Pair | None) -> Dispute:
    """Return what the opinions of A and B differ in, with A's model and B's.

    Without a *pair* of propositions A's leading state is weighed against B's, or, where they
    agree, against the strongest rival. Readings go over one by one; by the groups of A's model
    where there are more than twelve players, or where the model excludes a mixture.

    Raises:
        ModelError: a network is too entangled to be held in memory.
    """
    single = _players(settings)
    by_group = _by_group(settings, single)
    many = len(single) > MOST_PLAYERS
    players = by_group if many else single
    game = play(settings, players, question, pair)
    grouped: Literal["", "many", "impossible"] = "many" if many else ""
    if not many and not np.isfinite(game.odds).all() and np.isfinite(game.odds[[0, -1]]).all():
        coarse = play(settings, by_group, question, pair)
        if np.isfinite(coarse.odds).all():
            game, players, grouped = coarse, by_group, "impossible"
    last = game.odds.size - 1
    return Dispute(
        game.pair,
        float(game.odds[0]),
        float(game.odds[last]),
        _shares(players, game),
        _settlings(players, game),
        _accord(players, game),
        (game.posteriors[:, 0], game.posteriors[:, last]),
        grouped,
    )


def _players(settings: tuple[Setting, Setting]) -> tuple[Player, ...]:
    """Return what A and B differ in; measures alike within uncertainty go over as one."""
    differ: dict[str, None] = {}
    within: dict[str, None] = {}
    for setting in settings:
        for point in compare(setting.networks[0].model, *setting.findings):
            if point.kind == "within":
                within[point.node] = None
            elif point.kind != "same":
                differ[point.node] = None
    model = settings[0].networks[0].model
    players = [Player("reading", nodes[0], nodes) for nodes in tied(model, list(differ))]
    alike = tuple(name for name in within if name not in differ)
    if alike:
        players.append(Player("within", WITHIN, alike))
    return (*players, *_conditions(settings))


def _conditions(settings: tuple[Setting, Setting]) -> list[Player]:
    found = []
    if any(len({id(network) for network in setting.networks}) > 1 for setting in settings):
        found.append(Player("priors", PRIORS))
    if settings[0] is not settings[1]:
        found.append(Player("model", MODEL))
    return found


def _by_group(settings: tuple[Setting, Setting], players: Sequence[Player]) -> tuple[Player, ...]:
    """Return the readings joined by the groups of A's model, tied ones in one group.

    Where even these are too many, all readings go over together.
    """
    model = settings[0].networks[0].model
    group_of = {name: group.name for group in model.groups for name in group.nodes}
    members: dict[str, list[str]] = {}
    for player in players:
        if player.kind == "reading":
            members.setdefault(group_of.get(player.name, UNGROUPED), []).extend(player.nodes)
    rest = [player for player in players if player.kind != "reading"]
    if len(members) + len(rest) > MOST_PLAYERS:
        members = {"readings": [name for nodes in members.values() for name in nodes]}
    return (*(Player("group", name, tuple(nodes)) for name, nodes in members.items()), *rest)


def _shares(players: Sequence[Player], game: Game) -> tuple[Share, ...]:
    odds, last = game.odds, game.odds.size - 1
    whole = np.isfinite(odds).all()
    shares = shapley(odds) if whole and players else np.full(len(players), np.nan)
    with np.errstate(invalid="ignore"):
        return tuple(
            Share(
                player,
                float(shares[k]) + 0.0,
                float(odds[1 << k] - odds[0]) + 0.0,
                float(odds[last] - odds[last ^ (1 << k)]) + 0.0,
            )
            for k, player in enumerate(players)
        )


def _settlings(players: Sequence[Player], game: Game) -> tuple[Settling, ...]:
    """Return what settling each reading would leave, the one that leaves least first.

    The measure is the worse of the two ways in which it can be settled, then the better one.
    """
    odds, last = game.odds, game.odds.size - 1
    leaders = _leaders(game)
    found = []
    for k, player in enumerate(players):
        if player.kind in ("reading", "group"):
            a_as_b, b_as_a = 1 << k, last ^ (1 << k)
            with np.errstate(invalid="ignore"):
                left_if_a = abs(float(odds[b_as_a] - odds[0]))
                left_if_b = abs(float(odds[last] - odds[a_as_b]))
            found.append(
                Settling(
                    player,
                    left_if_a,
                    left_if_b,
                    (int(leaders[0]), int(leaders[b_as_a])),
                    (int(leaders[a_as_b]), int(leaders[last])),
                )
            )
    known = [s for s in found if np.isfinite([s.left_if_a, s.left_if_b]).all()]
    return tuple(sorted(known, key=lambda s: (s.worst, min(s.left_if_a, s.left_if_b))))


def _accord(players: Sequence[Player], game: Game) -> tuple[Player, ...] | None:
    """Return the fewest readings that, settled in any way, leave both with one leading state.

    Of several sets as small, the one after which the odds lie closest in the worst case.
    Measures alike within their uncertainty are settled for nothing: either value will do.
    """
    leaders, last = _leaders(game), game.odds.size - 1
    alike = [k for k, player in enumerate(players) if player.kind == "within"]
    movable = [k for k, player in enumerate(players) if player.kind in ("reading", "group")]
    for size in range(len(movable) + 1):
        best, least = None, np.inf
        for chosen in combinations(movable, size):
            taken = sum(1 << k for k in (*chosen, *alike))
            ways = np.zeros(1, dtype=np.intp)
            for k in (*chosen, *alike):
                ways = np.concatenate([ways, ways | (1 << k)])
            of_a, of_b = ways, ways | (last ^ taken)
            if (leaders[of_a] != leaders[of_b]).any():
                continue
            with np.errstate(invalid="ignore"):
                gap = float(np.nan_to_num(abs(game.odds[of_b] - game.odds[of_a]), nan=np.inf).max())
            if best is None or gap < least:
                best, least = chosen, gap
        if best is not None:
            return tuple(players[k] for k in best)
    return None


def _leaders(game: Game) -> Ints:
    """Return the number of the likeliest state of the question in every mixture."""
    return leaders(game.posteriors)
