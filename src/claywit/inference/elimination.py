"""In which order to sum variables out, and how large that makes the largest table."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, log10, prod
from random import Random

from claywit.errors import ModelError

MAX_CLIQUE = 4_000_000
TRIES = 12
FEW = 3
SMALL = 300_000  # entries of all tables together, below which a few tries will do
COLUMNS = 10_000  # that an order for many columns is made for
STEPS = 15_000  # of all orders that are tried when one is improved
HOPELESS = 1000  # times the cap; a luckier draw among ties never saves so much


@dataclass(frozen=True)
class Elimination:
    """An order of summing out, and for each step the variables that meet in it.

    cliques[i] holds order[i] last; what stands before it is its separator.
    entries: the sizes of all their tables together.
    """

    order: tuple[str, ...]
    cliques: tuple[tuple[str, ...], ...]
    entries: int


def eliminate(
    cards: Mapping[str, int], scopes: Iterable[Sequence[str]], kept: Sequence[str]
) -> Elimination:
    """Return the best of a few min-fill orders, a dozen if large, that leave the *kept* variables.

    Min-fill sums out next the variable whose neighbours lack the fewest links (Kjaerulff
    1990, from memory); ties go to the smaller table, then to a fixed-seed draw, so
    the same network always gets the same order.

    Raises:
        ModelError: even the best order makes a table of more than four million entries.
    """
    names = sorted(cards)
    near, size = _links(names, [*scopes, kept]), [cards[name] for name in names]
    first = {i: _cost(near, size, i) for i, name in enumerate(names) if name not in set(kept)}
    best: Elimination | None = None
    for seed in range(TRIES):
        tried = _one_order(names, size, near, dict(first), Random(seed))  # noqa: S311
        if best is None or tried.entries < best.entries:
            best = tried
        if seed + 1 >= FEW and best.entries < SMALL:
            break
    assert best  # noqa: S101 - TRIES is positive
    _refuse_if_too_large(cards, [*best.cliques, tuple(kept)], MAX_CLIQUE)
    return best


@dataclass(frozen=True)
class Changes:
    """Says that columns are one piece over and over, each time with a finding or two changed."""


# Of tables that meet, each in so many versions, how many columns differ there.
Meeting = Callable[[Iterable[int]], int]


def independent(versions: Iterable[int]) -> int:
    """Return how many columns differ where each is a piece that has nothing to do with others."""
    return min(COLUMNS, prod(versions))


def changes(versions: Iterable[int]) -> int:
    """Return how many columns differ where each is one piece with one table changed."""
    return 1 + sum(count - 1 for count in versions)


def eliminate_for_columns(
    cards: Mapping[str, int],
    scopes: Sequence[tuple[Sequence[str], int]],
    kept: Sequence[str],
    meeting: Meeting = independent,
) -> Elimination:
    """Return an order that keeps the work small over thousands of columns of evidence.

    A step costs the size of its table times the columns that differ there. The cheapest step
    comes first; then one variable at a time is moved to wherever that saves most.

    Args:
        cards: the number of states of each variable.
        scopes: each table's variables, and how many versions of it there are.
        kept: the variables that are left.
        meeting: how many columns differ where tables of so many versions meet.

    Raises:
        ModelError: the order makes a table of more than four million entries.
    """
    tables = [(frozenset(scope), count) for scope, count in scopes]
    plan = _Columns(cards, tables, meeting)
    order = plan.cheapest_first(kept)
    steps = plan.steps(order)
    _refuse_if_too_large(cards, [*(tuple(step.scope) for step in steps), tuple(kept)], MAX_CLIQUE)
    order = plan.improved(order)
    steps = plan.steps(order)
    cliques = [
        (*sorted(step.scope - {name}), name) for name, step in zip(order, steps, strict=True)
    ]
    return Elimination(tuple(order), tuple(cliques), sum(step.size for step in steps))


_Table = tuple[frozenset[str], int]  # its variables, and how many versions there are


@dataclass(frozen=True)
class _Step:
    """Summing one variable out: the variables that meet, their table's size and its versions."""

    scope: frozenset[str]
    size: int
    versions: int

    @property
    def work(self) -> int:
        return self.size * self.versions


@dataclass(frozen=True)
class _Columns:
    """Variables and tables of which an order is sought, and how many columns differ in a step."""

    cards: Mapping[str, int]
    tables: Sequence[_Table]
    meeting: Meeting

    def step(self, tables: Sequence[_Table]) -> _Step:
        """Return what it takes to sum a variable out in which some tables meet."""
        scope = frozenset[str]().union(*(variables for variables, _ in tables))
        size = prod(self.cards[name] for name in scope)
        return _Step(scope, size, self.meeting(count for _, count in tables))

    def steps(self, order: Iterable[str]) -> list[_Step]:
        """Return what an order takes."""
        tables, found = list(self.tables), []
        for name in order:
            step = self.step([table for table in tables if name in table[0]])
            tables = [table for table in tables if name not in table[0]]
            tables.append((step.scope - {name}, step.versions))
            found.append(step)
        return found

    def cheapest_first(self, kept: Sequence[str]) -> list[str]:
        """Return the order in which the cheapest step always comes first."""
        meeting: dict[str, list[_Table]] = {name: [] for name in self.cards}
        for table in self.tables:
            _enter(meeting, table)
        steps = {name: self.step(meeting[name]) for name in sorted(set(self.cards) - set(kept))}
        order = []
        while steps:
            name = min(steps, key=lambda n: (steps[n].work, n))
            step = steps.pop(name)
            order.append(name)
            left = step.scope - {name}
            for other in left:
                meeting[other] = [table for table in meeting[other] if name not in table[0]]
            _enter(meeting, (left, step.versions))
            for other in left & steps.keys():
                steps[other] = self.step(meeting[other])
        return order

    def work(self, order: Iterable[str]) -> float:
        """Return what an order costs, which is without limit if a table would not fit."""
        steps = self.steps(order)
        if any(step.size > MAX_CLIQUE for step in steps):
            return inf
        return sum(step.work for step in steps)

    def improved(self, order: list[str]) -> list[str]:
        """Return *order* with variables moved, one after the other, as long as that saves work."""
        least, left = self.work(order), STEPS
        moved = True
        while moved:
            moved = False
            for name in tuple(order):
                left -= len(order) ** 2
                if left < 0:
                    return order
                rest = [other for other in order if other != name]
                tried = [[*rest[:i], name, *rest[i:]] for i in range(len(order))]
                work, best = min((self.work(each), i) for i, each in enumerate(tried))
                if work < least:
                    least, order, moved = work, tried[best], True
        return order


def _enter(meeting: dict[str, list[_Table]], table: _Table) -> None:
    for name in table[0]:
        meeting[name].append(table)


def _links(names: Sequence[str], scopes: Iterable[Sequence[str]]) -> list[int]:
    """Return for each variable a bit for each other that shares a scope with it."""
    place = {name: i for i, name in enumerate(names)}
    near = [0] * len(names)
    for scope in scopes:
        members = sum(1 << place[name] for name in set(scope))
        for name in scope:
            near[place[name]] |= members & ~(1 << place[name])
    return near


def _one_order(
    names: Sequence[str],
    size: Sequence[int],
    links: Sequence[int],
    cost: dict[int, tuple[int, int]],
    rng: Random,
) -> Elimination:
    """Return an order of the variables that have a first *cost*, which is kept up to date."""
    near, left = list(links), set(cost)
    rank = {i: rng.random() for i in cost}
    order: list[str] = []
    cliques: list[tuple[str, ...]] = []
    entries = 0
    while left:
        i = min(left, key=lambda j: (cost[j], rank[j]))
        left.discard(i)
        around = near[i]
        members = _bits(around)
        order.append(names[i])
        cliques.append((*(names[j] for j in members), names[i]))
        table = prod(size[j] for j in members) * size[i]
        if table > HOPELESS * MAX_CLIQUE:
            _refuse_if_too_large(dict(zip(names, size, strict=True)), cliques[-1:], MAX_CLIQUE)
        entries += table
        touched = around
        for j in members:
            near[j] = (near[j] | around) & ~(1 << i) & ~(1 << j)
            touched |= near[j]
        for j in left.intersection(_bits(touched)):
            cost[j] = _cost(near, size, j)
    return Elimination(tuple(order), tuple(cliques), entries)


def _bits(mask: int) -> list[int]:
    found = []
    while mask:
        lowest = mask & -mask
        found.append(lowest.bit_length() - 1)
        mask ^= lowest
    return found


def _cost(near: Sequence[int], size: Sequence[int], i: int) -> tuple[int, int]:
    """Return how many links the neighbours lack, and the size of the table they make."""
    around = near[i]
    members = _bits(around)
    present = sum((near[j] & around).bit_count() for j in members) // 2
    missing = len(members) * (len(members) - 1) // 2 - present
    return missing, prod(size[j] for j in members) * size[i]


def _refuse_if_too_large(
    cards: Mapping[str, int], cliques: Sequence[tuple[str, ...]], most: int
) -> None:
    worst = max(cliques, key=lambda clique: prod(cards[n] for n in clique))
    if prod(cards[n] for n in worst) <= most:
        return
    digits = sum(log10(cards[n]) for n in worst)
    blamed = ", ".join(sorted(worst, key=lambda n: (-cards[n], n))[:8])
    raise ModelError(
        f"the nodes {blamed} must be held in one table of about 10^{digits:.1f} entries, at most"
        f" {most:,} fit; give them fewer common children, states or parents"
    )
