"""How far the answer would move if the model's numbers were what they might be.

Two measures, for two kinds of doubt. *Intervals*: every row is drawn from the density behind it
(see `drawing`), so they widen as `n` falls. *Outer bounds*: up to a share epsilon of every row
may be anything at all (epsilon-contamination, Huber 1964, from memory); they hold for
certain, whatever the rows' errors have to do with each other, but are wider than they need be.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from claywit.inference.drawing import Dice, Drawn, draw, numbers_without_n
from claywit.inference.likelihood import is_bent, seen_shares
from claywit.inference.network import Floats
from claywit.inference.piece import leaders, likeliest, log_odds, log_total
from claywit.inference.tree import Bools
from claywit.inference.varied import Entering, Varied, entering, run
from claywit.model.propositions import Pair
from claywit.reasoning.explanation import NATS_PER_BAN

ROUND = 250  # draws made at a time: what fits into the cache
DRAWS = 8 * ROUND
ENDS = (0.025, 0.975)
EPSILON = 0.01
EPSILONS = np.geomspace(1e-5, 0.2, 44)  # where the order is tried, each a quarter over the last


Outcome = tuple[Floats, Floats]  # log joints of the roots, log odds before and after; by draw


class RunAll(Protocol):
    """Something that does as `map`: on this machine, or on many."""

    def __call__(
        self,
        work: Callable[[np.random.Generator], Outcome],
        rounds: Iterable[np.random.Generator],
        /,
    ) -> Iterable[Outcome]:
        """Return what *work* makes of each round's generator, in order."""
        ...


@dataclass(frozen=True)
class Interval:
    """The middle 95 % of the draws."""

    low: float
    high: float


@dataclass(frozen=True)
class Intervals:
    """95 % intervals from the draws.

    shares: of each state of the targets. prior, total, posterior: of the pair, in bans; None
    where a side is excluded. leads: the share of draws in which the same state leads.
    exact: how many rows of each node were taken as exact, having no `n`.
    """

    draws: int
    shares: Mapping[str, tuple[Interval, ...]]
    prior: Interval | None
    total: Interval | None
    posterior: Interval | None
    leads: float
    exact: Mapping[str, int]


@dataclass(frozen=True)
class Outer:
    """Bounds that hold if up to *epsilon* of every row is anything at all.

    shares: of each state of the question. posterior: of the pair, in bans. holds_to: the
    largest share tried at which the leader surely still leads; 0 if none.
    """

    epsilon: float
    shares: tuple[Interval, ...]
    posterior: Interval | None
    holds_to: float


def intervals(
    varied: Varied,
    before: Varied,
    question: str,
    pair: Pair,
    rng: np.random.Generator,
    *,
    run_all: RunAll = map,
) -> Intervals:
    """Return 95 % intervals of the posteriors of the roots and of the odds of the *pair*.

    Every round of draws has a generator of its own, so the numbers do not depend on who does it.

    Args:
        varied: the findings.
        before: no findings, with the same roots; it sees the same draws.
        question: a root.
        pair: two propositions about roots.
        rng: the source of the draws.
        run_all: does the rounds.
    """
    sides, prior_sides = [varied.holds(p) for p in pair], [before.holds(p) for p in pair]
    names = {*varied.nodes, *before.nodes, *(finding.node for finding in varied.findings)}
    work = _Round(varied, before, tuple(sides), tuple(prior_sides), frozenset(names))
    rounds = list(run_all(work, rng.spawn(DRAWS // ROUND)))
    joint = np.concatenate([found for found, _ in rounds], axis=1)
    odds = [found for _, found in rounds]
    shares = {name: varied.marginal(joint, name) for name in varied.tree.roots}
    prior_odds, posterior_odds = np.concatenate(odds, axis=1) / NATS_PER_BAN
    as_is = run(varied.tree, entering(varied, Drawn(varied.network)))
    leader = likeliest(varied.marginal(as_is, question)[:, 0])
    with np.errstate(divide="ignore"):
        leads = float((leaders(np.log(shares[question])) == leader).mean())
    with np.errstate(invalid="ignore"):
        total = posterior_odds - prior_odds
    return Intervals(
        DRAWS,
        {name: tuple(_middle(row) for row in table) for name, table in shares.items()},
        _of_odds(prior_odds),
        _of_odds(total),
        _of_odds(posterior_odds),
        leads,
        numbers_without_n(varied.network, names - varied.network.client_priors),
    )


@dataclass(frozen=True)
class _Round:
    """One round of draws, as one function that can travel.

    sides, prior_sides: the joint states of each proposition of the pair. names: whose tables
    are drawn.
    """

    varied: Varied
    before: Varied
    sides: tuple[Bools, ...]
    prior_sides: tuple[Bools, ...]
    names: frozenset[str]

    def __call__(self, rng: np.random.Generator, /) -> Outcome:
        read = _plainly_read(self.varied)
        drawn = draw(self.varied.network, self.names, Dice(rng, ROUND), read)
        # Where nothing was drawn, all rounds are one column.
        joint, prior = (
            np.broadcast_to(found, (len(found), ROUND))
            for found in (
                run(self.varied.tree, entering(self.varied, drawn), self.sides),
                run(self.before.tree, entering(self.before, drawn), self.prior_sides),
            )
        )
        return joint, np.stack([log_odds(prior, *self.prior_sides), log_odds(joint, *self.sides)])


def _plainly_read(varied: Varied) -> dict[str, str]:
    """Return the states that were read for certain on leaves; of their rows no other is asked."""
    leaves = varied.network.leaves - set(varied.tree.roots)
    return {
        f.node: f.state
        for f in varied.findings
        if f.state is not None and f.sure is None and f.matrix is None and f.node in leaves
    }


def _middle(values: Floats) -> Interval:
    low, high = np.quantile(values, ENDS)
    return Interval(float(low), float(high))


def _of_odds(bans: Floats) -> Interval | None:
    return _middle(bans) if np.isfinite(bans).all() else None


def outer_bounds(varied: Varied, question: str, pair: Pair) -> Outer:
    """Return bounds on the posterior of *question* under an epsilon-contamination of every table.

    A row p may become (1 - e) p + e q for any q on the states that p allows; of a measured value, e
    of its density may be the highest that any row gives it. A half-certain reading that bends its
    rows may say anything its certainty allows. The upper bound of a joint probability takes every
    entry at its highest, the lower one at its lowest.
    """
    epsilons = np.concatenate([[EPSILON], EPSILONS])
    low_high = _contaminated(varied, epsilons)
    lower, upper = (
        np.broadcast_to(joint, (len(joint), len(epsilons)))
        for joint in (run(varied.tree, slots) for slots in low_high)
    )
    column = varied.tree.root_states[:, varied.tree.roots.index(question)]
    states = range(len(varied.network.states[question]))
    high = np.stack([log_total(upper, column == k) for k in states])
    low = np.stack([log_total(lower, column == k) for k in states])
    shares = []
    for k in states:
        others = np.arange(len(states)) != k
        with np.errstate(over="ignore", invalid="ignore"):
            most = 1 / (1 + np.exp(log_total(low[others]) - high[k]))
            least = 1 / (1 + np.exp(log_total(high[others]) - low[k]))
        shares.append(Interval(float(np.nan_to_num(least[0])), float(np.nan_to_num(most[0]))))
    leader = int(leaders(low[:, 0]))
    rivals = np.delete(high, leader, axis=0).max(axis=0)
    holds = epsilons[1:][low[leader, 1:] > rivals[1:]]
    one, other = (varied.holds(p) for p in pair)
    with np.errstate(invalid="ignore"):  # both sides excluded
        bans = [
            float((log_total(a, s)[0] - log_total(b, t)[0]) / NATS_PER_BAN)
            for a, s, b, t in ((lower, one, upper, other), (upper, one, lower, other))
        ]
    posterior = Interval(*bans) if np.isfinite(bans).all() else None
    return Outer(EPSILON, tuple(shares), posterior, float(holds.max(initial=0.0)))


def _is_of_model(varied: Varied, table: int) -> bool:
    """Return whether a finding's table comes from the model's rows, not from the reading alone."""
    finding = varied.findings[int(varied.owner[table])]
    return varied.tables[table].scope != (finding.node,)


def _contaminated(varied: Varied, epsilons: Floats) -> tuple[list[Entering], list[Entering]]:
    """Return every slot's tables at their lowest and at their highest, one column an epsilon."""
    least, most = [], []
    for name in varied.nodes:
        stands = varied.network.table(name)[1].ravel()[:, np.newaxis]
        fixed = name in varied.network.client_priors
        up = (1 - epsilons) + epsilons / np.where(stands > 0, stands, 1.0)
        down = (1 - epsilons) * np.ones_like(stands)
        most.append(Entering(np.ones_like(stands) if fixed else up))
        least.append(Entering(np.ones_like(stands) if fixed else down))
    for i in range(len(varied.tables)):
        low, high = _bounds(varied, i, epsilons)
        least.append(Entering(low, is_log=True))
        most.append(Entering(high, is_log=True))
    return least, most


def _bounds(varied: Varied, i: int, epsilons: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and highest logarithms of a finding's table, one column an epsilon."""
    logs = varied.tables[i].values.ravel()[:, np.newaxis]
    if not _is_of_model(varied, i):
        return logs, logs
    finding = varied.findings[int(varied.owner[i])]
    is_first = i == 0 or varied.owner[i - 1] != varied.owner[i]  # the other is the visibility's
    if is_first and is_bent(varied.network, finding):
        seen = seen_shares(varied.network, finding)
        with np.errstate(divide="ignore"):
            ends = [np.full_like(logs, np.log(end)) for end in (seen.min(), seen.max())]
        return ends[0], ends[1]
    values = [m.value is not None for m in (finding.measures or {}).values()]
    top = float(logs.max()) if is_first and values and all(values) else 0.0
    up = np.logaddexp(logs + np.log1p(-epsilons), np.log(epsilons) + top)
    return logs + np.log1p(-epsilons), np.where(logs > -np.inf, up, -np.inf)
