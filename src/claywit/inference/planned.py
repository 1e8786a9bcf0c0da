"""The sum of a bucket over thousands of columns, planned once and then worked by the block.

The entries of a bucket ask for far fewer combinations of table states than there are entries:
only these combinations are multiplied, and a sparse matrix of the bucket's constants sums them.
Factors that differ in few of the columns are multiplied with each other first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.inference.routes import distinct
from claywit.inference.tree import Bucket, Floats, Ints

BLOCK = 120_000  # combinations times columns worked at once: what stays in the cache

# A table, the place in it of each entry of a bucket, and which of its columns to use for each
# column of the bucket; None where they are the same.
Factor = tuple[Floats, Ints, Ints | None]


@dataclass(frozen=True)
class Meeting:
    """The combinations of states in which factors meet.

    places: for each factor the place in its table of each combination; None where that is all
    of the table in its order. of: the combination of each entry.
    """

    places: tuple[Ints | None, ...]
    count: int
    of: Ints


def planned_total(
    bucket: Bucket, weights: Floats, factors: Sequence[Factor], columns: int
) -> Floats:
    """Return the sum of a bucket over its variable, shape (separator states, columns).

    Args:
        bucket: which entries there are.
        weights: its constants, with what is the same in all columns.
        factors: what differs between columns, at least one.
        columns: how many there are.
    """
    from scipy.sparse import csr_matrix  # only thousands of columns are worth its import

    factors = [_in_order(factor, columns) for factor in factors]
    if len(factors) > 2:
        factors = _narrow_first(bucket, factors, columns)
    entries = bucket.live
    meeting = _meeting(bucket, factors, entries)
    ends = np.searchsorted(entries // weights.shape[1], np.arange(len(weights) + 1))
    shape = (len(weights), meeting.count)
    matrix = csr_matrix((weights.ravel()[entries], meeting.of, ends), shape=shape)
    total = np.empty((len(weights), columns))
    step = max(1, BLOCK // meeting.count)
    for start in range(0, columns, step):
        part = slice(start, start + step)
        total[:, part] = matrix @ _product(factors, meeting, part)
    return total


def _narrow_first(bucket: Bucket, factors: Sequence[Factor], columns: int) -> list[Factor]:
    """Return the factors with those joined that together differ in few of the columns."""
    by_width = sorted(factors, key=lambda factor: factor[0].shape[1])
    for k in range(len(factors), 1, -1):
        narrow, wide = by_width[:k], by_width[k:]
        first, own = distinct([_own(factor, columns) for factor in reversed(narrow)], columns)
        if 2 * len(first) <= columns:
            meeting = _meeting(bucket, narrow, np.arange(bucket.weights.size))
            chosen = [
                (table, index, _own(f, columns)[first]) for f in narrow for table, index, _ in [f]
            ]
            return [(_product(chosen, meeting, slice(None)), meeting.of, own), *wide]
    return list(factors)


def _in_order(factor: Factor, columns: int) -> Factor:
    """Return *factor* without its choice of columns if that is all of them as they stand."""
    table, index, own = factor
    same = own is None or (table.shape[1] == columns and np.array_equal(own, np.arange(columns)))
    return (table, index, None) if same else factor


def _own(factor: Factor, columns: int) -> Ints:
    return np.arange(columns) if factor[2] is None else factor[2]


def _meeting(bucket: Bucket, factors: Sequence[Factor], entries: Ints) -> Meeting:
    key = tuple(id(index) for _, index, _ in factors)  # the bucket holds them, so they stay
    if key not in bucket.meetings:
        asked = np.stack([index[entries] for _, index, _ in factors])
        found, of = np.unique(asked, axis=1, return_inverse=True)
        places = [
            None if np.array_equal(place, np.arange(len(table))) else place
            for place, (table, _, _) in zip(found, factors, strict=True)
        ]
        bucket.meetings[key] = Meeting(tuple(places), found.shape[1], of.ravel())
    meeting: Meeting = bucket.meetings[key]
    return meeting


def _product(factors: Sequence[Factor], meeting: Meeting, part: slice) -> Floats:
    """Return what the factors make of each combination, in a part of the columns."""
    product: Floats | None = None
    for (table, _, own), place in zip(factors, meeting.places, strict=True):
        chosen = table[:, part].copy() if own is None else table.take(own[part], axis=1)
        if place is not None:
            chosen = chosen.take(place, axis=0)
        if product is None:
            product = chosen
        else:
            product *= chosen
    assert product is not None  # noqa: S101 - there is a factor
    return product
