"""Networks drawn from what stands behind a model's numbers.

Behind every row of shares stands a Dirichlet density with the row's shares as its mean and its
`n` as the equivalent sample size; one draw serves every configuration that the row lists.
Behind a measured row stands a normal sample of `n` pieces (location normal, scale by
chi-squared; Gelman et al. 2013, Bayesian Data Analysis, 3.2, from memory); a Student-t row
keeps its degrees of freedom. A row without `n`, and a client's prior, is taken as exact.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

import numpy as np

from claywit.inference.densities import Located
from claywit.inference.network import (
    Floats,
    Network,
    Sizes,
    gate_level,
    gate_table,
    proposals_of_causes,
    repeated,
)
from claywit.model.schema import Node

LEAST = 1e-60  # a drawn share never becomes 0, nor does the product of a few
ROUNDS = 8  # of draws that are kept, two or three megabytes each
FEWEST = 0.1  # pieces behind a spread: fewer, and a drawn one would leave the range of a double


@dataclass(frozen=True)
class Dice:
    """What draws are made with: the generator, and how many."""

    rng: np.random.Generator
    count: int


@dataclass(frozen=True)
class Drawn:
    """Draws of a network's tables, row by row: many configurations of parents share a row.

    network: with the drawn hiding and measures in place; each of their arrays has one more axis at
        the end, one place a draw.
    rows: P(visible state | row) of discrete nodes, shape (rows, visible states, draws).
    said: of leaves of which one state was read, and nothing else is asked, P(that state | row),
        shape (rows, draws).
    """

    network: Network
    rows: Mapping[str, Floats] = field(default_factory=dict)
    said: Mapping[str, Floats] = field(default_factory=dict)

    def whole(self, name: str) -> Network:
        """Return the network with the drawn table of one node in place."""
        if name not in self.rows:
            return self.network
        table = self.rows[name][self.network.row_index[name]]
        return replace(self.network, rows={**self.network.rows, name: table})


@dataclass(frozen=True)
class Own:
    """What was drawn of one node; None of what it has not.

    shares: its rows, or of a leaf that was read the share of that state in each.
    """

    shares: Floats | None
    densities: tuple[Located, ...] | None
    sizes: Sizes | None
    hiding: Floats | None


def draw(
    network: Network, names: Collection[str], dice: Dice, read: Mapping[str, str] | None = None
) -> Drawn:
    """Return draws of the tables of the nodes *names*; the rest stay as they are.

    What was drawn with the same dice up to the first node that is read otherwise is kept with
    the network: of one piece after the other, each with another reading, most is the same.

    Args:
        network: the model.
        names: whose tables to draw.
        dice: how to draw.
        read: the state that was read of a leaf, where nothing else of its rows will be asked:
            its share is drawn against all others together.
    """
    read = read or {}
    wanted = [(node, read.get(node.name)) for node in network.model.nodes if node.name in names]
    kept = _kept(network, dice)
    known = _alike([(node.name, state) for node, state in wanted], kept)
    del kept[known:]
    if kept:
        dice.rng.bit_generator.state = kept[-1].then
    for node, state in wanted[known:]:
        own = _own(network, node, dice, state)
        kept.append(Kept((node.name, state), own, dice.rng.bit_generator.state))
    return _together(network, {each.of[0]: each.own for each in kept}, frozenset(read))


def _together(network: Network, own: Mapping[str, Own], read: Collection[str]) -> Drawn:
    shares = {name: one.shares for name, one in own.items() if one.shares is not None}
    hiding = {name: one.hiding for name, one in own.items() if one.hiding is not None}
    densities = {name: one.densities for name, one in own.items() if one.densities}
    sizes = {name: one.sizes for name, one in own.items() if one.sizes}
    moved = replace(
        network,
        hiding={**network.hiding, **hiding},
        densities={**network.densities, **densities},
        sizes={**network.sizes, **sizes},
    )
    rows = {name: drawn for name, drawn in shares.items() if name not in read}
    said = {name: drawn for name, drawn in shares.items() if name in read}
    return Drawn(moved, rows, said)


@dataclass(frozen=True)
class Kept:
    """What was drawn of a node, by its name and the state that was read; *then*: of the dice."""

    of: tuple[str, str | None]
    own: Own
    then: Mapping[str, Any]


def _kept(network: Network, dice: Dice) -> list[Kept]:
    """Return what is kept of a round: nothing the first time, for most networks are asked once."""
    begun = repr(dice.rng.bit_generator.state), dice.count
    if begun in network.draws:
        return network.draws[begun]
    if len(network.draws) >= ROUNDS:
        network.draws.clear()
    network.draws[begun] = []
    return []


def _alike(wanted: Sequence[tuple[str, str | None]], kept: Sequence[Kept]) -> int:
    """Return how many nodes from the first on were drawn as they are wanted."""
    pairs = enumerate(zip(wanted, kept, strict=False))
    least = min(len(wanted), len(kept))
    return next((i for i, (one, other) in pairs if one != other.of), least)


def _own(network: Network, node: Node, dice: Dice, state: str | None) -> Own:
    shares, densities, sizes, hiding = None, None, None, None
    name = node.name
    if state is not None:
        shares = _read(network, node, dice, state)
    elif node.states and name not in network.client_priors:
        shares = _rows(network, node, dice)
    if name in network.densities:
        stands = zip(network.densities[name], node.rows, strict=True)
        densities = tuple(_density(one, row.n, dice) for one, row in stands)
    if name in network.sizes:
        sizes = _sizes(network.sizes[name], node, dice)
    if node.visibility:
        p = network.hiding[name]
        hiding = _alone(p, [node.visibility.n] * len(p), dice)
    return Own(shares, densities, sizes, hiding)


def _rows(network: Network, node: Node, dice: Dice) -> Floats:
    if node.noisy:
        table = gate_table(_proposed(node, dice))
        return table.reshape(-1, *table.shape[-2:])
    return dirichlet(network.shares[node.name], [row.n for row in node.rows], dice)


def _read(network: Network, node: Node, dice: Dice, state: str) -> Floats:
    k = node.state_names.index(state)
    if node.noisy:
        return gate_level(_proposed(node, dice), k).reshape(-1, dice.count)
    return _alone(network.shares[node.name][:, k], [row.n for row in node.rows], dice)


def _alone(shares: Floats, sizes: Sequence[float | None], dice: Dice) -> Floats:
    """Return draws of one share of each row against all others together, shape (rows, draws)."""
    both = dirichlet(np.stack([shares, 1 - shares], axis=1), sizes, dice)
    return np.ascontiguousarray(both[:, 0])


def _proposed(node: Node, dice: Dice) -> list[Floats]:
    """Return draws of what a gate is made of: one for the leak and one for each cause."""
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    leak, *by_parent = proposals_of_causes(node)
    proposed = [dirichlet(leak[np.newaxis], [gate.leak.n], dice)[0]]
    for parent, each in zip(node.parents, by_parent, strict=True):
        causes = (cause for cause in gate.causes if parent in cause.given)
        proposed.append(dirichlet(each, [None, *(cause.n for cause in causes)], dice))
    return proposed


def dirichlet(shares: Floats, sizes: Sequence[float | None], dice: Dice) -> Floats:
    """Return draws around the rows of *shares*, shape (rows, states, draws).

    Args:
        shares: the means, shape (rows, states); a share of 0 stays 0.
        sizes: the equivalent sample size of each row, None where it is exact.
        dice: how to draw.
    """
    n = np.array([size or 0.0 for size in sizes])[:, np.newaxis]
    alpha = shares * n
    drawable = (alpha > 0) & ((alpha > 0).sum(axis=1, keepdims=True) > 1)
    gammas = dice.rng.standard_gamma(
        alpha[drawable][:, np.newaxis], (int(drawable.sum()), dice.count)
    )
    np.maximum(gammas, LEAST, out=gammas)
    if drawable.all():
        drawn = gammas.reshape(*shares.shape, dice.count)
    else:
        drawn = repeated(shares, dice.count)
        drawn[drawable] = gammas
    drawn /= drawn.sum(axis=1, keepdims=True)
    return drawn


def _spread(n: float, dice: Dice) -> Floats:
    """Return draws of a standard deviation by its estimate from n + 1 pieces."""
    spread: Floats = np.sqrt(n / dice.rng.chisquare(n, dice.count))
    return spread


def _density(density: Located, n: float | None, dice: Dice) -> Located:
    at, scale = repeated(density.at, dice.count), repeated(density.scale, dice.count)
    if n is not None:
        n = max(n, FEWEST)
        scale = scale * _spread(n, dice)
        at = at + scale * dice.rng.standard_normal(dice.count) / np.sqrt(n)
    return replace(density, at=at, scale=scale)


def _sizes(sizes: Sizes, node: Node, dice: Dice) -> Sizes:
    """Return draws of cavities and shrinkages: each rests on the n of the leaf and its own counts.

    A cavity that is known from n pieces is off by the same share in all its measures.
    """
    drawn = Sizes(
        *(repeated(a, dice.count) for a in (sizes.cavity, sizes.mean, sizes.sd)),
        *(repeated(a, dice.count) for a in (sizes.unfiled_at, sizes.unfiled_sd)),
    )
    stated = node.dimensions
    if stated is None or stated.n is None:
        return drawn
    filed, pastes, loose = (
        np.maximum(worth, FEWEST)[:, np.newaxis]
        for worth in (stated.worth("cavity"), stated.worth("shrinkage"), stated.worth("unfiled"))
    )

    def normal(*shape: int) -> Floats:
        steps: Floats = dice.rng.standard_normal((*shape, dice.count))
        return steps

    def spread(n: Floats) -> Floats:
        spreads: Floats = np.sqrt(n / dice.rng.chisquare(n, (len(n), dice.count)))
        return spreads

    sd = drawn.sd * spread(pastes)
    usual = median(sizes.sd.tolist())
    unfiled_sd = drawn.unfiled_sd * spread(loose)[:, np.newaxis]
    off = normal(len(sizes.cavity), 1) / np.sqrt(filed)[:, np.newaxis]
    return Sizes(
        drawn.cavity * (1 + usual * off),
        drawn.mean + sd * normal(len(sizes.mean)) / np.sqrt(pastes),
        sd,
        drawn.unfiled_at
        + unfiled_sd * normal(*sizes.unfiled_at.shape) / np.sqrt(loose)[:, np.newaxis],
        unfiled_sd,
    )


def numbers_without_n(network: Network, names: Collection[str]) -> Mapping[str, int]:
    """Return how many rows of each node have no `n`, and so are taken as exact."""
    found = {}
    for node in network.model.nodes:
        if node.name in names:
            sizes = [row.n for row in node.rows]
            if node.noisy:
                sizes += [node.noisy.leak.n, *(cause.n for cause in node.noisy.causes)]
            sizes += [part.n for part in (node.visibility, node.dimensions) if part]
            bare = sum(size is None for size in sizes)
            if bare:
                found[node.name] = bare
    return found
