"""What meets in a bucket, in variants: which of them to multiply and to turn, and in what order.

What is worked out stands in *registers*, a row for every state and variant. A variant may stand
in another register than the rest, so that nothing is copied where a few more come to be.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from claywit.inference.products import Product
from claywit.inference.tree import Floats, Ints
from claywit.inference.variants import WHOLE, Held, Variants, turns

ROWS = 1_000  # of a product made at once, so that they stay in the cache


@dataclass(frozen=True)
class Left:
    """Open findings left out: each is a sum over some variants of a register, for every state.

    before: how many variants the register has. states: the places of those that are summed.
    shares: what each sum takes of each of them, shape (variants summed, findings, columns).
    count: how many rows it makes.
    """

    register: int
    before: int
    states: tuple[int, ...]
    shares: Floats
    count: int


@dataclass(frozen=True)
class Part:
    """A few variants of a product of two registers, or of one register alone.

    places: of each row in its register, None where all of it is taken in its order.
    first, variants: where they stand among the variants of all parts.
    """

    registers: tuple[int, ...]
    places: tuple[Ints | None, ...]
    count: int
    first: int
    variants: int

    @property
    def span(self) -> slice:
        """Return the places of its variants among those of all parts."""
        return slice(self.first, self.first + self.variants)


@dataclass(frozen=True)
class Whole:
    """All parts of a product, which make one register."""

    parts: tuple[Part, ...]
    count: int
    variants: int


Work = Left | Whole


@dataclass(frozen=True)
class Plan:
    """What to work out in a bucket. The registers are first the factors.

    work: what makes a register, one after the other. last: what is then to be summed.
    held: the variants of that.
    """

    work: tuple[Work, ...]
    last: tuple[Part, ...]
    held: Held

    @property
    def turns(self) -> bool:
        """Return whether findings are left out here, each column in its own way."""
        return any(isinstance(each, Left) for each in self.work)

    @property
    def room(self) -> int:
        """Return how many numbers of a column are made, with room to spare for one of two."""
        made = [each.count for each in self.work]
        parts = [part.count for each in self.work if isinstance(each, Whole) for part in each.parts]
        most = max([*parts, *(part.count for part in self.last)], default=0)
        return sum(made) + 2 * max([most, *made], default=0)


@dataclass(frozen=True)
class _Thing:
    """A factor or a product: what it holds, and where that is.

    at: for each variant its register, and its place among the variants of that.
    """

    held: Held
    states: int
    at: Mapping[int, tuple[int, int]]

    def place(self, variant: int) -> tuple[int, int]:
        """Return where a variant stands, which is the whole if it has none of its own."""
        return self.at.get(variant) or self.at[WHOLE]


@dataclass
class _Meeting:
    """A bucket while its plan is made. sizes: how many variants each register has."""

    sizes: list[int] = field(default_factory=list)
    work: list[Work] = field(default_factory=list)

    def enter(self, held: Held, states: int) -> _Thing:
        """Return something that takes the next register."""
        register = len(self.sizes)
        self.sizes.append(len(held.variants))
        return _Thing(held, states, {v: (register, i) for i, v in enumerate(held.variants)})

    def leave_out(self, thing: _Thing, needed: Collection[int]) -> _Thing:
        """Return a thing in which no finding that is *needed* is open any more."""
        for turn, held in turns(thing.held, needed):
            (register, *_), places = zip(*(thing.at[s] for s in turn.states), strict=True)
            count = thing.states * len(turn.findings)
            self.work.append(Left(register, self.sizes[register], places, turn.shares, count))
            more = self.enter(Held(turn.findings), thing.states)
            thing = _Thing(held, thing.states, {**thing.at, **more.at})
        return thing

    def parts(
        self, of: Sequence[tuple[_Thing, Ints | None]], count: int, variants: Variants
    ) -> list[Part]:
        """Return some variants of a product in parts, each of what stands in the same registers.

        Args:
            of: what is multiplied, and the place in it of each row of the product.
            count: how many states the product has.
            variants: which.
        """
        found: list[Part] = []
        where = {variant: [thing.place(variant) for thing, _ in of] for variant in variants}
        for registers, alike in groupby(variants, lambda v: tuple(r for r, _ in where[v])):
            every = tuple(alike)
            step = max(1, ROWS // count) if len(of) > 1 else len(every)
            for some in (every[i : i + step] for i in range(0, len(every), step)):
                places = tuple(
                    _rows(place, count, [where[v][i][1] for v in some], self.sizes[registers[i]])
                    for i, (_, place) in enumerate(of)
                )
                first = sum(part.variants for part in found)
                found.append(Part(registers, places, count * len(some), first, len(some)))
        return found


def _rows(place: Ints | None, count: int, taken: Sequence[int], variants: int) -> Ints | None:
    """Return which rows of a register some of its variants are, for each of *count* places."""
    if place is None and list(taken) == list(range(variants)):
        return None
    states = np.arange(count) if place is None else place
    rows: Ints = (states[:, np.newaxis] * variants + np.array(taken)).ravel()
    return rows


def plan(
    products: Sequence[Product], factors: Sequence[tuple[Held, int]], *, final: bool = False
) -> Plan:
    """Return what to work out in a bucket.

    Args:
        products: how its factors meet, without regard to variants.
        factors: what each holds, and how many states it has.
        final: whether no finding may stay open.
    """
    meeting = _Meeting()
    things = [meeting.enter(held, states) for held, states in factors]
    every = (
        frozenset[int]().union(*(held.findings for held, _ in factors)) if final else frozenset()
    )
    for product in products:
        one, other = (things[r] for r in product.registers)
        pair = (
            meeting.leave_out(one, other.held.findings | every),
            meeting.leave_out(other, one.held.findings | every),
        )
        both = pair[1].held.meeting(pair[0].held)
        alike = sorted(both.variants, key=lambda v: [thing.place(v)[0] for thing in pair])
        both = Held(tuple(alike), both.open)
        of = tuple(zip(pair, product.places, strict=True))
        parts = tuple(meeting.parts(of, product.count, both.variants))
        if product is products[-1]:
            return Plan(tuple(meeting.work), parts, both)
        count = product.count * len(both.variants)
        meeting.work.append(Whole(parts, count, len(both.variants)))
        things.append(meeting.enter(both, product.count))
    if not things:
        return Plan((), (), Held((WHOLE,)))
    alone = meeting.leave_out(things[0], every)
    parts = tuple(meeting.parts([(alone, None)], alone.states, alone.held.variants))
    return Plan(tuple(meeting.work), parts, alone.held)
