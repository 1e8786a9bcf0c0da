"""How a bucket sums its variable out: the factors that meet there, multiplied and added up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from claywit.inference.products import Product, at_entries
from claywit.inference.tree import Bucket, Floats, Ints

CACHED = 60_000  # entries of a bucket times columns worked at once
PLANNED = 200  # columns from which it pays to look where factors meet in few combinations


@dataclass(frozen=True)
class Factor:
    """A table that enters a bucket: that of a group of its slots, or the message of a child.

    table: shape (rows, columns), or (rows, 1) for all columns.
    own: which of its columns each column of the bucket uses; None where they are the same.
    of: the row of each state that the bucket asks for; None where they are the same.
    """

    table: Floats
    own: Ints | None = None
    of: Ints | None = None

    @property
    def states(self) -> int:
        """Return how many states the bucket can ask for."""
        return len(self.table if self.of is None else self.of)

    def part(self, columns: slice) -> "Factor":
        """Return what it is in some columns of the bucket."""
        if self.own is None:
            return Factor(self.table[:, columns], of=self.of)
        return Factor(self.table.take(self.own[columns], axis=1), of=self.of)

    def at(self, places: Ints | None) -> Floats:
        """Return a new table of what stands at some *places*, or at all."""
        if self.of is not None:
            places = self.of if places is None else self.of[places]
        return self.table.copy() if places is None else self.table.take(places, axis=0)


def linear_total(bucket: Bucket, factors: Sequence[Factor], columns: int) -> Floats:
    """Return the sum over a bucket's variable of the product of its factors, slots' groups first.

    Returns:
        Shape (separator states, columns), or (separator states, 1) where no factor has columns.
    """
    weights, varying = _fold(bucket, factors, np.multiply)
    if not varying:
        alone: Floats = weights.sum(axis=1, keepdims=True)
        return alone
    total = np.empty((len(weights), columns))
    step = _step(weights, columns)
    products = None
    if len(varying) > 2 and columns >= PLANNED:
        products = at_entries(bucket, varying, [factors[f].states for f in varying])
    for start in range(0, columns, step):
        chosen = [factors[f].part(slice(start, start + step)) for f in varying]
        if products:
            product = _multiplied(chosen, products)
        else:
            product = _joined_at(chosen, [bucket.indexes[f] for f in varying], np.multiply)
        product = product.reshape(*weights.shape, -1)
        np.einsum("sk,skc->sc", weights, product, out=total[:, start : start + step])
    return total


def _multiplied(factors: Sequence[Factor], products: Sequence[Product]) -> Floats:
    registers = list(factors)
    for product in products:
        one, other = (
            registers[r].at(places)
            for r, places in zip(product.registers, product.places, strict=True)
        )
        one *= other
        registers.append(Factor(one))
    return registers[-1].table


def logarithmic_total(bucket: Bucket, factors: Sequence[Factor], columns: int) -> Floats:
    """Return as `linear_total` of tables of logarithms."""
    with np.errstate(divide="ignore"):
        weights, varying = _fold(replace(bucket, weights=np.log(bucket.weights)), factors, np.add)
    if not varying:
        return _log_sum(weights[:, :, np.newaxis])
    total = np.empty((len(weights), columns))
    step = _step(weights, columns)
    indexes = [bucket.indexes[f] for f in varying]
    for start in range(0, columns, step):
        chosen = [factors[f].part(slice(start, start + step)) for f in varying]
        logs = _joined_at(chosen, indexes, np.add).reshape(*weights.shape, -1)
        logs += weights[:, :, np.newaxis]
        total[:, start : start + step] = _log_sum(logs)
    return total


def _joined_at(factors: Sequence[Factor], indexes: Sequence[Ints], join: np.ufunc) -> Floats:
    """Return what the factors make of each entry together."""
    first, *others = (factor.at(index) for factor, index in zip(factors, indexes, strict=True))
    for other in others:
        join(first, other, out=first)
    return first


def _log_sum(logs: Floats) -> Floats:
    """Return the logarithm of the sum over the middle axis."""
    greatest = logs.max(axis=1, keepdims=True)
    greatest[greatest == -np.inf] = 0.0  # an excluded row stays excluded, without nan
    with np.errstate(divide="ignore"):
        total: Floats = np.log(np.exp(logs - greatest).sum(axis=1)) + greatest[:, 0]
    return total


def _fold(bucket: Bucket, factors: Sequence[Factor], join: np.ufunc) -> tuple[Floats, list[int]]:
    """Join what is the same in all columns to the weights; return them and the other factors."""
    weights = bucket.weights
    varying = []
    for f, (factor, index) in enumerate(zip(factors, bucket.indexes, strict=True)):
        if factor.table.shape[1] == 1:
            weights = join(weights, factor.at(index).reshape(weights.shape))
        else:
            varying.append(f)
    return weights, varying


def _step(weights: Floats, columns: int) -> int:
    """Return how many columns to work at once, so that a bucket stays in the cache."""
    return max(1, min(columns, CACHED // weights.size))
