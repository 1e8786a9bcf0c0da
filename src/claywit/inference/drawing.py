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


def draw(
    network: Network, names: Collection[str], dice: Dice, read: Mapping[str, str] | None = None
) -> Drawn:
    """Return draws of the tables of the nodes *names*; the rest stay as they are.

    Args:
        network: the model.
        names: whose tables to draw.
        dice: how to draw.
        read: the state that was read of a leaf, where nothing else of its rows will be asked:
            its share is drawn against all others together.
    """
    rows, said = dict[str, Floats](), dict[str, Floats]()
    hiding, densities, sizes = dict(network.hiding), dict(network.densities), dict(network.sizes)
    for node in network.model.nodes:
        name, state = node.name, (read or {}).get(node.name)
        if name not in names:
            continue
        if state is not None:
            said[name] = _read(network, node, dice, state)
        elif node.states and name not in network.client_priors:
            rows[name] = _rows(network, node, dice)
        if name in densities:
            densities[name] = tuple(
                _density(one, row.n, dice)
                for one, row in zip(densities[name], node.rows, strict=True)
            )
        if name in sizes:
            sizes[name] = _sizes(sizes[name], node, dice)
        if node.visibility:
            hiding[name] = _alone(hiding[name], [node.visibility.n] * len(hiding[name]), dice)
    return Drawn(replace(network, hiding=hiding, densities=densities, sizes=sizes), rows, said)


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
    return dirichlet(np.stack([shares, 1 - shares], axis=1), sizes, dice)[:, 0]


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


@dataclass(frozen=True)
class Nudged:
    """A network whose draws move one parameter of a measured leaf each, by one sd of its doubt."""

    network: Network
    names: tuple[str, ...]
    n: tuple[float, ...]


def nudged(network: Network, node: Node) -> Nudged:
    """Return *network* with every parameter behind a measured leaf moved once, in one draw each.

    The sd of a location is scale / sqrt(n), that of the logarithm of a scale 1 / sqrt(2 n);
    parameters of rows without `n` do not move.
    """
    if node.dimensions:
        return _nudged_sizes(network, node)
    rows = [(i, row) for i, row in enumerate(node.rows) if row.n is not None]
    count = 2 * len(rows)
    moved = [
        replace(one, at=repeated(one.at, count), scale=repeated(one.scale, count))
        for one in network.densities[node.name]
    ]
    names, sizes = [], []
    for k, (i, row) in enumerate(rows):
        n = max(float(row.n or 1), FEWEST)
        moved[i].at[2 * k] += moved[i].scale[2 * k] / np.sqrt(n)
        moved[i].scale[2 * k + 1] *= np.exp(1 / np.sqrt(2 * n))
        parents = [parent for parent in node.all_parents if parent in row.given]
        given = ",".join(f"{parent}={'|'.join(row.given[parent])}" for parent in parents)
        names += [f"location, {given or 'all'}", f"scale, {given or 'all'}"]
        sizes += [n, n]
    densities = {**network.densities, node.name: tuple(moved)}
    return Nudged(replace(network, densities=densities), tuple(names), tuple(sizes))


def _nudged_sizes(network: Network, node: Node) -> Nudged:
    sizes, held = node.dimensions, network.sizes[node.name]
    if not sizes or sizes.n is None:
        return Nudged(network, (), ())
    usual = median(held.sd.tolist())
    n_filed, n_paste, n_open = (
        np.maximum(sizes.worth(s), FEWEST) for s in ("cavity", "shrinkage", "unfiled")
    )
    names = [f"cavity {mould}" for mould in sizes.cavity]
    names += [f"{what} of shrinkage {p}" for what in ("mean", "spread") for p in sizes.shrinkage]
    names += [f"{d} of {m}" for m in sizes.unfiled for d in node.measured]
    cavity, mean, sd, at, unfiled_sd = (
        repeated(a, len(names))
        for a in (held.cavity, held.mean, held.sd, held.unfiled_at, held.unfiled_sd)
    )
    k, filed, pastes = len(node.measured), len(held.cavity), len(held.mean)
    for i in range(filed):
        cavity[i, :, i] *= 1 + usual / np.sqrt(n_filed[i])
    for j in range(pastes):
        mean[j, filed + j] += held.sd[j] / np.sqrt(n_paste[j])
        sd[j, filed + pastes + j] *= np.exp(1 / np.sqrt(2 * n_paste[j]))
    for place in range(at.shape[0] * k):
        i, d = divmod(place, k)
        at[i, d, filed + 2 * pastes + place] += held.unfiled_sd[i, d] / np.sqrt(n_open[i])
    moved = replace(
        network, sizes={**network.sizes, node.name: Sizes(cavity, mean, sd, at, unfiled_sd)}
    )
    worth = (*n_filed, *n_paste, *n_paste, *(n for n in n_open for _ in range(k)))
    return Nudged(moved, tuple(names), worth)


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
