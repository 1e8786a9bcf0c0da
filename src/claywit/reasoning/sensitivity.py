"""What the answer owes to single numbers: how far each would have to move to turn it round.

P(question, findings) is linear in every share of the model when the other shares of its row
give way in proportion, so a posterior is a ratio of two straight lines (Laskey 1995; Castillo,
Gutierrez & Hadi 1997; both from memory).
"""

from dataclasses import dataclass

import numpy as np

from claywit.inference.contributions import Contributions, Family
from claywit.inference.likelihood import parent_tables
from claywit.inference.network import Floats
from claywit.inference.nudging import nudged
from claywit.inference.piece import likeliest
from claywit.inference.varied import Varied
from claywit.model.propositions import Proposition
from claywit.model.values import Given
from claywit.reasoning.explanation import NATS_PER_BAN

ROUNDING = 1e-12  # a share that would have to come this near to 1 cannot be told from 1


@dataclass(frozen=True)
class Number:
    """One share of the model: *state* of a row, cause, leak or visibility of *node*.

    value: as the model has it. n: the equivalent sample size behind it.
    """

    node: str
    kind: str
    given: Given
    state: str
    value: float
    n: float | None


@dataclass(frozen=True)
class OneWay:
    """Sensitivity functions: P(state of the question, findings) = slope x + constant.

    numbers: whose value is x. slope, constant: shape (numbers, states of the question), on
    one scale.
    """

    question: str
    states: tuple[str, ...]
    numbers: tuple[Number, ...]
    slope: Floats
    constant: Floats

    def posterior(self, number: int, x: float) -> Floats:
        """Return the posterior of the question if that number were *x*; shape (states,)."""
        joint = self.slope[number] * x + self.constant[number]
        shares: Floats = joint / joint.sum()
        return shares


@dataclass(frozen=True)
class Flip:
    """A number that, changed to *then*, makes *leader* overtake; *times*: the odds ratio of it.

    For a measure *number* is None and *times* is by how much its density would have to differ.
    """

    node: str
    number: Number | None
    where: str
    then: float | None
    times: float
    leader: str


@dataclass(frozen=True)
class Doubt:
    """How far the doubt behind one row moves the odds, one standard deviation in bans.

    First order (the delta method): the slope of the log odds by the spread of the row's
    Dirichlet density, or of the density parameter that *where* names.
    """

    node: str
    kind: str
    given: Given
    where: str
    n: float
    sd: float


def one_way(varied: Varied, found: Contributions, question: str) -> OneWay:
    """Return the sensitivity function of every share that can be varied."""
    states = varied.network.states[question]
    column = varied.tree.root_states[:, varied.tree.roots.index(question)]
    onto = np.eye(len(states))[column]
    numbers: list[Number] = []
    slopes, constants = [], []
    for family, part in zip(found.families, found.parts, strict=True):
        free = np.flatnonzero((family.shares > 0) & (family.shares < 1))
        if not free.size:
            continue
        own, together = part @ onto, part.sum(axis=0) @ onto
        share = family.shares[free][:, np.newaxis]
        others = (together - own[free]) / (1 - share)
        slopes.append(own[free] / share - others)
        constants.append(found.base @ onto - together + others)
        numbers += [_number(family, int(k)) for k in free]
    shape = (0, len(states))
    return OneWay(
        question,
        states,
        tuple(numbers),
        np.concatenate([*slopes, np.zeros(shape)]),
        np.concatenate([*constants, np.zeros(shape)]),
    )


def _number(family: Family, k: int) -> Number:
    return Number(
        family.node, family.kind, family.given, family.states[k], float(family.shares[k]), family.n
    )


def flips(ways: OneWay, varied: Varied, found: Contributions) -> tuple[Flip, ...]:
    """Return every number whose change alone gives another leader, the least change first.

    A change is measured by the ratio of the number's odds before and after, as Chan &
    Darwiche (2002, from memory) do: from .01 to .05 is farther than from .30 to .35.
    """
    every = [*_flips_of_shares(ways), *_flips_of_measures(ways, varied, found)]
    every.sort(key=lambda f: (abs(np.log(f.times)), f.node))
    # The shares of a row give way to each other, so one of them speaks for the row.
    first: dict[object, Flip] = {}
    for flip in every:
        number = flip.number
        row = (flip.node, number.kind, str(number.given)) if number else (flip.node, flip.where)
        first.setdefault(row, flip)
    return tuple(first.values())


def _flips_of_shares(ways: OneWay) -> list[Flip]:
    if not ways.numbers:
        return []
    x = np.array([number.value for number in ways.numbers])
    joint = ways.slope[0] * x[0] + ways.constant[0]
    leader = likeliest(joint)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        at = (ways.constant - ways.constant[:, [leader]]) / (ways.slope[:, [leader]] - ways.slope)
        inside = (at > 0) & (at < 1 - ROUNDING)
        moved = np.log(at / (1 - at)) - np.log(x / (1 - x))[:, np.newaxis]
    moved = np.where(inside, moved, np.inf)
    moved[:, leader] = np.inf
    nearest = np.argmin(np.abs(moved), axis=1)
    return [
        Flip(
            ways.numbers[i].node,
            ways.numbers[i],
            "",
            float(at[i, k]),
            float(np.exp(np.clip(moved[i, k], -700, 700))),
            ways.states[k],
        )
        for i, k in enumerate(nearest)
        if np.isfinite(moved[i, k])
    ]


def _flips_of_measures(ways: OneWay, varied: Varied, found: Contributions) -> list[Flip]:
    column = varied.tree.root_states[:, varied.tree.roots.index(ways.question)]
    onto = np.eye(len(ways.states))[column]
    base = found.base @ onto
    leader = likeliest(base)
    result = []
    for name, cells in found.cells.items():
        own = cells @ onto
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            gap = (base - own)[:, [leader]] - (base - own)
            times = -gap / (own[:, [leader]] - own)
        times = np.where((times > 0) & (times < np.inf), times, np.nan)
        times[:, leader] = np.nan
        if np.isnan(times).all():
            continue
        far = np.where(np.isnan(times), np.inf, np.abs(np.log(times)))
        cell, k = np.unravel_index(int(np.argmin(far)), far.shape)
        where = _cell(varied, name, int(cell))
        result.append(Flip(name, None, where, None, float(times[cell, k]), ways.states[k]))
    return result


def _cell(varied: Varied, name: str, cell: int) -> str:
    parents = varied.network.model.node(name).parents
    cards = [len(varied.network.states[p]) for p in parents]
    places = np.unravel_index(cell, cards)
    return ",".join(
        f"{p}={varied.network.states[p][int(k)]}" for p, k in zip(parents, places, strict=True)
    )


def doubts(
    varied: Varied, found: Contributions, for_: Proposition, against: Proposition
) -> tuple[Doubt, ...]:
    """Return how far each row's own doubt moves the odds, the farthest first.

    Rows without `n` are taken as exact and have none. Empty where a side is excluded.
    """
    sides = [varied.holds(p) for p in (for_, against)]
    totals = [float(found.base[side].sum()) for side in sides]
    if min(totals) <= 0:
        return ()

    def slope(parts: Floats) -> Floats:
        one, other = (parts[:, s].sum(axis=1) / t for s, t in zip(sides, totals, strict=True))
        moved: Floats = one - other
        return moved

    result = []
    for family, part in zip(found.families, found.parts, strict=True):
        if family.n is None:
            continue
        own = slope(part)  # share times slope, so a share of 0 costs nothing
        held = family.shares > 0
        square = float((own[held] ** 2 / family.shares[held]).sum() - own.sum() ** 2)
        sd = np.sqrt(max(square, 0.0) / (family.n + 1)) / NATS_PER_BAN
        result.append(Doubt(family.node, family.kind, family.given, "", family.n, float(sd)))
    for name, cells in found.cells.items():
        result += _measured_doubts(varied, name, slope(cells))
    return tuple(sorted(result, key=lambda d: (-d.sd, d.node)))


def _measured_doubts(varied: Varied, name: str, slopes: Floats) -> list[Doubt]:
    node = varied.network.model.node(name)
    finding = next(f for f in varied.findings if f.node == name)
    steps = nudged(varied.network, node)
    if not steps.names:
        return []
    stands = parent_tables(varied.network, finding)[0].values.ravel()
    moved = parent_tables(steps.network, finding)[0].values.reshape(stands.size, -1)
    moves = slopes @ np.where(np.isfinite(moved), moved - stands[:, np.newaxis], 0.0)
    return [
        Doubt(name, "measure", {}, where, n, float(abs(move)) / NATS_PER_BAN)
        for where, n, move in zip(steps.names, steps.n, moves, strict=True)
    ]
