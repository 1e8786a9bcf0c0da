"""What each finding of many pieces weighs, and how the findings of a piece hang together."""

from dataclasses import dataclass

import numpy as np

from claywit.batch.questions import question_logs
from claywit.batch.scorer import Scorer
from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.inference.piece import log_total
from claywit.inference.sheet import Laid
from claywit.inference.simulation import can_be_drawn
from claywit.inference.tree import Bools, Ints
from claywit.reasoning.explanation import NATS_PER_BAN, UNGROUPED

AT_ONCE = 20_000  # columns of evidence


@dataclass(frozen=True)
class Weights:
    """Weights of evidence for the leading state against its rival, in bans, a row a piece.

    prior, total, posterior: log odds before, the move, log odds after.
    chained: what each finding added after those before it, in the order of the model's
        groups; nan where there is no finding; shape (pieces, traits in that order).
    conflict: how much rarer the findings are together than if they had no bearing on each other.
    apart: how far each group stands apart from the rest of its piece; nan where the piece
        has nothing in the group, or nothing else; shape (pieces, groups).
    """

    prior: Floats
    total: Floats
    posterior: Floats
    chained: Floats
    conflict: Floats
    apart: Floats


def chain(scorer: Scorer) -> list[str]:
    """Return the traits in the order in which they are weighed."""
    return [name for _, nodes in scorer.groups for name in nodes]


def units(scorer: Scorer) -> list[tuple[str, tuple[str, ...]]]:
    """Return the groups that may stand apart; what is in no group stands for itself."""
    named = [(name, nodes) for name, nodes in scorer.groups if name != UNGROUPED]
    rest = [nodes for name, nodes in scorer.groups if name == UNGROUPED]
    return [*named, *((name, (name,)) for nodes in rest for name in nodes)]


def weigh(scorer: Scorer, cases: Cases, laid: Laid, leading: Ints, rival: Ints) -> Weights:
    """Return the weights of the findings of *cases*, which can stand together."""
    count, order = len(cases), chain(scorer)
    step = max(1, AT_ONCE // (len(order) + 1 + 2 * len(units(scorer))))
    odds = np.empty((count, len(order) + 1))
    for start in range(0, count, step):
        rows = np.arange(start, min(start + step, count))
        odds[rows] = _odds_along_the_chain(scorer, laid, rows, leading, rival)
    found = np.stack([laid.found(name) for name in order], axis=1)
    with np.errstate(invalid="ignore"):
        chained = np.where(found, np.diff(odds, axis=1), np.nan)
        total = odds[:, -1] - odds[:, 0]
    drawable = _drawable(scorer, cases, laid)
    apart = np.concatenate(
        [
            _apart(scorer, laid, np.arange(start, min(start + step, count)), drawable)
            for start in range(0, count, step)
        ]
        or [np.empty((0, len(units(scorer))))]
    )
    return Weights(odds[:, 0], total, odds[:, -1], chained, _conflict(order, laid), apart)


def _subset(laid: Laid, picks: Ints, nodes: Bools, order: list[str]) -> Ints:
    """Return *picks* with the findings on nodes that are not wanted silent.

    Args:
        laid: whose picks they are.
        picks: shape (slots, pieces).
        nodes: which of *order* are wanted, shape (traits, pieces).
        order: the traits.
    """
    kept = np.zeros(picks.shape, dtype=np.intp)
    for name, wanted in zip(order, nodes, strict=True):
        slots = list(laid.sheet.slots[name])
        kept[slots] = np.where(wanted, picks[slots], 0)
    return kept


def _odds_along_the_chain(
    scorer: Scorer, laid: Laid, rows: Ints, leading: Ints, rival: Ints
) -> Floats:
    """Return the log odds in bans with the first k findings weighed, shape (pieces, k)."""
    order = chain(scorer)
    own, k = laid.picks[:, rows], len(order) + 1
    columns = np.repeat(own[:, np.newaxis], k, axis=1)
    for i, name in enumerate(order):
        columns[list(laid.sheet.slots[name]), : i + 1] = 0
    picks, of = columns.reshape(len(own), -1), np.tile(rows, k)
    logs = question_logs(laid, picks, of, scorer.wanted.question)
    each = np.arange(k * len(rows))
    one, other = (logs[np.tile(state[rows], k), each] for state in (leading, rival))
    with np.errstate(invalid="ignore"):
        odds: Floats = ((one - other) / NATS_PER_BAN).reshape(k, len(rows)).T
    return odds


def _conflict(order: list[str], laid: Laid) -> Floats:
    """Return Jensen's measure in bans: each finding's own probability against that of all."""
    count = laid.picks.shape[1]
    alone = np.zeros(count)
    for name in order:
        slots = list(laid.sheet.slots[name])
        rows = np.flatnonzero(laid.found(name))
        if not rows.size:
            continue
        _, first, which = np.unique(
            laid.picks[slots][:, rows], axis=1, return_index=True, return_inverse=True
        )
        one_of = rows[first]
        picks = np.zeros((len(laid.picks), len(one_of)), dtype=np.intp)
        picks[slots] = laid.picks[slots][:, one_of]
        alone[rows] += log_total(laid.log_joint(picks, one_of))[which.ravel()]
    together = log_total(laid.log_joint(laid.picks, np.arange(count)))
    found: Floats = (alone - together) / NATS_PER_BAN
    return found


def _drawable(scorer: Scorer, cases: Cases, laid: Laid) -> Bools:
    """Return which findings could have been drawn otherwise, shape (traits, pieces)."""
    order = chain(scorer)
    found: Bools = np.stack([laid.found(name) for name in order])
    for row, special in cases.special.items():
        for i, name in enumerate(order):
            if name in special and not can_be_drawn(scorer.network, special[name]):
                found[i, row] = False
    return found


def _apart(scorer: Scorer, laid: Laid, rows: Ints, drawable: Bools) -> Floats:
    """Return how far each group stands apart in bans, shape (pieces, groups)."""
    order, groups = chain(scorer), units(scorer)
    own, used = laid.picks[:, rows], drawable[:, rows]
    kept = _subset(laid, own, used, order)
    owner = np.full(len(kept), len(groups))
    inside = []
    for g, (_, nodes) in enumerate(groups):
        owner[[slot for name in nodes for slot in laid.sheet.slots[name]]] = g
        inside.append(np.where((owner == g)[:, np.newaxis], kept, 0))
    alone = log_total(laid.log_joint(np.concatenate(inside, axis=1), np.tile(rows, len(groups))))
    parts = alone.reshape(len(groups), len(rows))
    left = laid.log_left_out(kept, rows, owner)
    whole, *rest = (log_total(left[:, i]) for i in range(1 + len(groups)))
    apart = np.full((len(rows), len(groups)), np.nan)
    for g, (_, nodes) in enumerate(groups):
        members = [order.index(name) for name in nodes]
        with np.errstate(invalid="ignore"):
            found = (parts[g] + rest[g] - whole) / NATS_PER_BAN
        apart[:, g] = np.where(np.any(used[members], axis=0), found, np.nan)
    return apart
