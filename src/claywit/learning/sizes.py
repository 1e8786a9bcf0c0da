"""Sizes that shrink together, as a file holds them, and how likely a model makes them.

A piece from a filed mould measures cavity x (1 - shrinkage) + reading error, with one shrinkage
for all its measures, so the sizes are Student-t (or normal) about c (1 - mean) with the scale
matrix diag(u^2) + sd^2 c c'. Which mould and which paste is all that has to be summed over.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from claywit.inference.densities import log_student
from claywit.inference.network import Floats, Network, Sizes
from claywit.inference.tree import Ints
from claywit.model.schema import Node
from claywit.model.tables import Dimensions


@dataclass(frozen=True)
class Alike:
    """Pieces with the same measures: which measures, which pieces, and what was read.

    u: the distinct rows of standard uncertainties; u_of: the row of each piece.
    """

    measures: Ints
    pieces: Ints
    values: Floats
    u: Floats
    u_of: Ints


@dataclass(frozen=True)
class Sized:
    """Pieces with sizes on one node, those with the same measures together."""

    node: Node
    count: int
    alike: tuple[Alike, ...]

    @property
    def sizes(self) -> Dimensions:
        """Return what the model says of the sizes."""
        assert self.node.dimensions  # noqa: S101 - made only of such nodes
        return self.node.dimensions


def sized(node: Node, values: Floats, u: Floats) -> Sized:
    """Return pieces by what was measured on them; nan where it was not.

    Args:
        node: the leaf with the sizes.
        values: shape (pieces, measures).
        u: their standard uncertainties, as *values*.
    """
    given, pattern_of = np.unique(~np.isnan(values), axis=0, return_inverse=True)
    order = np.argsort(pattern_of.ravel(), kind="stable")
    ends = np.cumsum(np.bincount(pattern_of.ravel(), minlength=len(given)))
    alike = []
    for pattern, end, before in zip(given, ends, np.append(0, ends), strict=False):
        pieces = order[before:end]
        if pattern.any():
            measures = pattern.nonzero()[0]
            rows, of = np.unique(u[np.ix_(pieces, measures)], axis=0, return_inverse=True)
            own = values[np.ix_(pieces, measures)]
            alike.append(Alike(measures, pieces, own, rows, of.ravel()))
    return Sized(node, len(values), tuple(alike))


@dataclass(frozen=True)
class Place:
    """One mould with one paste: where its sizes lie, and how they spread.

    spread: the scale matrix without the reading error, shape (measures, measures).
    filed, paste: its places among the cavities and shrinkages; open_: among the open states.
    adds_u: whether the reading error comes on top.
    """

    number: int
    at: Floats
    spread: Floats
    df: float
    filed: int = -1
    paste: int = -1
    open_: int = -1
    adds_u: bool = True


def places(network: Network, of: Sized, held: Sizes) -> Iterator[Place]:
    """Yield every mould with every paste, in the order of the table over both."""
    sizes = of.sizes
    moulds, pastes = (network.states[parent] for parent in of.node.parents)
    filed, unfiled, shrinking = list(sizes.cavity), list(sizes.unfiled), list(sizes.shrinkage)
    for i, mould in enumerate(moulds):
        for j, paste in enumerate(pastes):
            number = i * len(pastes) + j
            if mould in sizes.cavity:
                k, s = filed.index(mould), shrinking.index(paste)
                c, sd = held.cavity[k], held.sd[s]
                at, spread = c * (1 - held.mean[s]), sd**2 * np.outer(c, c)
                yield Place(number, at, spread, _df(sizes.tails), filed=k, paste=s)
                continue
            k, entry = unfiled.index(mould), sizes.unfiled[mould]
            sd = held.unfiled_sd[k]
            spread = together(len(sd), entry.correlation) * np.outer(sd, sd)
            yield Place(
                number,
                held.unfiled_at[k],
                spread,
                _df(entry.tails),
                open_=k,
                adds_u=not entry.includes_u,
            )


def together(count: int, correlation: float) -> Floats:
    """Return the correlation matrix of so many sizes."""
    return np.where(np.eye(count) == 1, 1.0, correlation)


def _df(tails: object) -> float:
    return np.inf if tails == "normal" else float(str(tails))


@dataclass(frozen=True)
class Said:
    """What one place says of pieces: their log densities, and what their slopes are made of.

    solved: inverse scale matrix times the distance from *at*. weight: how much each piece
    counts, less where it lies in the tails. inverse: of the scale matrix, by row of u.
    """

    logs: Floats
    solved: Floats
    weight: Floats
    inverse: Floats


def said(place: Place, alike: Alike) -> Said:
    """Return what one place says of pieces with the same measures."""
    at, chosen = place.at[alike.measures], np.ix_(alike.measures, alike.measures)
    d = len(at)
    # As the engine does: a millionth of the size keeps the matrix from being singular.
    least = np.maximum(alike.u, 1e-6 * np.abs(at)) if d > 1 and place.filed >= 0 else alike.u
    own = least**2 if place.adds_u else np.zeros_like(least)
    scale = place.spread[chosen] + np.eye(d) * own[:, np.newaxis, :]
    inverse, log_det = np.linalg.inv(scale), np.linalg.slogdet(scale)[1]
    delta = alike.values - at
    solved = np.einsum("nij,nj->ni", inverse[alike.u_of], delta)
    q = (delta * solved).sum(axis=1)
    weight = np.ones(len(q)) if place.df == np.inf else (place.df + d) / (place.df + q)
    return Said(
        log_student(q, log_det[alike.u_of], place.df, d),
        solved,
        weight,
        inverse.astype(np.float64),
    )


def log_sizes_of(network: Network, of: Sized) -> Floats:
    """Return the log density of each piece's sizes, shape (moulds x pastes, pieces)."""
    every = list(places(network, of, network.sizes[of.node.name]))
    table = np.zeros((len(every), of.count))
    for place in every:
        for alike in of.alike:
            table[place.number, alike.pieces] = said(place, alike).logs
    return table
