"""In which order the factors of a bucket are multiplied, and how they are then summed.

The entries of a bucket ask for far fewer combinations of table states than there are entries.
Factors are multiplied two at a time, each time those whose states meet in the fewest
combinations; a sparse matrix of the bucket's constants then adds up what the last two make.
Worked out once for a bucket, and kept with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from claywit.inference.routes import distinct
from claywit.inference.tree import Bucket, Ints

PARTNERS = 6  # the smallest factors, of which each pair is tried
ENTRIES = -1  # before the factors of what is multiplied at every entry


@dataclass(frozen=True)
class Product:
    """Two registers multiplied: *places* in each, None where all of it is taken in its order.

    count: how many products there are; they are put behind the registers that are there.
    """

    registers: tuple[int, int]
    places: tuple[Ints | None, Ints | None]
    count: int


@dataclass(frozen=True)
class Products:
    """How the factors of a bucket meet. The registers are first the factors, then the products.

    of: for each entry that counts its place in the last register. count: of which the size.
    """

    products: tuple[Product, ...]
    of: Ints
    count: int


def products(bucket: Bucket, factors: Sequence[int], sizes: Sequence[int]) -> Products:
    """Return how some *factors* of a bucket meet, its slots' groups first, then its children.

    Args:
        bucket: whose they are.
        factors: their numbers.
        sizes: how many states each has.
    """
    if not factors:
        return Products((), np.arange(len(bucket.live)), len(bucket.live))
    key = tuple(factors)
    if key not in bucket.products:
        bucket.products[key] = _multiplied([bucket.indexes[f][bucket.live] for f in factors], sizes)
    found: Products = bucket.products[key]
    return found


def at_entries(bucket: Bucket, factors: Sequence[int], sizes: Sequence[int]) -> tuple[Product, ...]:
    """Return as `products` how two factors or more meet, the last product at each entry in order.

    Those entries that do not count are among them.
    """
    key = (ENTRIES, *factors)
    if key not in bucket.products:
        met = _multiplied([bucket.indexes[f] for f in factors], sizes)
        *first, last = met.products
        one, other = (met.of if place is None else place[met.of] for place in last.places)
        bucket.products[key] = (*first, Product(last.registers, (one, other), len(met.of)))
    found: tuple[Product, ...] = bucket.products[key]
    return found


def _multiplied(places: list[Ints], sizes: Sequence[int]) -> Products:
    registers = list(zip(places, sizes, strict=True))
    open_ = sorted(range(len(registers)), key=lambda r: registers[r][1])
    made: list[Product] = []
    while len(open_) > 1:
        pairs = list(combinations(open_[:PARTNERS], 2))
        met = [_met(registers[small], registers[large]) for small, large in pairs]
        best = min(range(len(pairs)), key=lambda i: len(met[i][0]))
        (first, of), pair = met[best], pairs[best]
        one, other = (_place(registers[r][0][first], registers[r][1]) for r in pair)
        made.append(Product(pair, (one, other), len(first)))
        registers.append((of, len(first)))
        open_ = [r for r in open_ if r not in pair]
        open_ = sorted([*open_, len(registers) - 1], key=lambda r: registers[r][1])
    of, count = registers[open_[0]]
    return Products(tuple(made), of, count)


def _met(small: tuple[Ints, int], large: tuple[Ints, int]) -> tuple[Ints, Ints]:
    """Return one entry of each combination, in the order of the larger, and which each is of."""
    return distinct([large[0], small[0]], len(large[0]))


def _place(place: Ints, size: int) -> Ints | None:
    return None if np.array_equal(place, np.arange(size)) else place
