"""In which order to sum variables out, and how large that makes the largest table."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log, prod
from random import Random

from claywit.errors import ModelError

MAX_CLIQUE = 4_000_000
TRIES = 12


@dataclass(frozen=True)
class Elimination:
    """An order of summing out, and for each step the variables that meet in it.

    cliques[i] holds order[i] last; what stands before it is its separator.
    """

    order: tuple[str, ...]
    cliques: tuple[tuple[str, ...], ...]
    entries: int


def eliminate(
    cards: Mapping[str, int], scopes: Iterable[Sequence[str]], kept: Sequence[str]
) -> Elimination:
    """Return the best of a dozen min-fill orders that leave the *kept* variables.

    Min-fill sums out next the variable whose neighbours lack the fewest links (Kjaerulff
    1990, from memory); ties go to the smaller table, then to a fixed-seed draw, so
    the same network always gets the same order.

    Raises:
        ModelError: even the best order makes a table of more than four million entries.
    """
    links: dict[str, set[str]] = {name: set() for name in cards}
    for scope in [*scopes, kept]:
        for one, other in combinations(scope, 2):
            links[one].add(other)
            links[other].add(one)
    free = sorted(set(cards) - set(kept))
    best: Elimination | None = None
    for seed in range(TRIES):
        tried = _one_order(cards, links, free, Random(seed))  # noqa: S311 - ties, not secrets
        if best is None or tried.entries < best.entries:
            best = tried
    assert best  # noqa: S101 - TRIES is positive
    _refuse_if_too_large(cards, [*best.cliques, tuple(kept)])
    return best


def _one_order(
    cards: Mapping[str, int], links: Mapping[str, set[str]], free: Sequence[str], rng: Random
) -> Elimination:
    near = {name: set(others) for name, others in links.items()}
    left, order, cliques, entries = set(free), [], [], 0
    rank = {name: rng.random() for name in free}
    cost = {name: _cost(cards, near, name) for name in free}
    while left:
        name = min(left, key=lambda n: (*cost[n], rank[n]))
        around = near.pop(name)
        left.discard(name)
        order.append(name)
        cliques.append((*sorted(around), name))
        entries += prod(cards[n] for n in cliques[-1])
        for other in around:
            near[other].discard(name)
            near[other] |= around - {other}
        touched = around.union(*(near[n] for n in around)) & left
        cost.update({n: _cost(cards, near, n) for n in touched})
    return Elimination(tuple(order), tuple(cliques), entries)


def _cost(cards: Mapping[str, int], near: Mapping[str, set[str]], name: str) -> tuple[int, int]:
    around = near[name]
    present = sum(len(near[other] & around) for other in around) // 2
    missing = len(around) * (len(around) - 1) // 2 - present
    return missing, prod(cards[n] for n in around) * cards[name]


def _refuse_if_too_large(cards: Mapping[str, int], cliques: Sequence[tuple[str, ...]]) -> None:
    worst = max(cliques, key=lambda c: sum(log(cards[n]) for n in c))
    size = prod(cards[n] for n in worst)
    if size > MAX_CLIQUE:
        blamed = ", ".join(sorted(worst, key=lambda n: -cards[n])[:8])
        raise ModelError(
            f"the nodes {blamed} must be held in one table of {size:.3g} entries, at most "
            f"{MAX_CLIQUE:,} fit; give them fewer common children, states or parents"
        )
