"""Networks drawn from what stands behind a model's numbers.

Behind every row of shares stands a Dirichlet density with the row's shares as its mean and its
`n` as the equivalent sample size; one draw serves every configuration that the row lists.
Behind a measured row stands a normal sample of `n` pieces (location normal, scale by
chi-squared; Gelman et al. 2013, Bayesian Data Analysis, 3.2, from memory); a Student-t row
keeps its degrees of freedom. A row without `n`, and a client's prior, is taken as exact.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from claywit.inference.densities import Located
from claywit.inference.network import (
    Floats,
    Network,
    Sizes,
    gate_level,
    gate_table,
    proposals,
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


def draw_network(
    network: Network, names: Collection[str], dice: Dice, read: Mapping[str, str] | None = None
) -> Network:
    """Return *network* with draws of the tables of the nodes *names*; the rest stay as they are.

    Only the drawn nodes' arrays carry the axis of draws.

    Args:
        network: the model.
        names: whose tables to draw.
        dice: how to draw.
        read: the state that was read of a leaf, where nothing else of its rows will be asked:
            its share is drawn against all others together, which have 0 in the drawn rows.
    """
    rows, hiding = dict(network.rows), dict(network.hiding)
    densities, sizes = dict(network.densities), dict(network.sizes)
    for node in network.model.nodes:
        if node.name not in names:
            continue
        if node.name in rows:
            rows[node.name] = _rows(network, node, dice, (read or {}).get(node.name))
        if node.name in densities:
            densities[node.name] = tuple(
                _density(one, row.n, dice)
                for one, row in zip(densities[node.name], node.rows, strict=True)
            )
        if node.name in sizes:
            sizes[node.name] = _sizes(sizes[node.name], node, dice)
        if node.visibility:
            p = hiding[node.name]
            both = dirichlet(np.stack([p, 1 - p], axis=1), [node.visibility.n] * len(p), dice)
            hiding[node.name] = both[:, 0]
    return replace(network, rows=rows, hiding=hiding, densities=densities, sizes=sizes)


def _rows(network: Network, node: Node, dice: Dice, read: str | None) -> Floats:
    if node.name in network.client_priors:
        return repeated(network.rows[node.name], dice.count)
    if node.noisy:
        return _gate(network, node, dice, read)
    shares = network.shares[node.name]
    sizes = [row.n for row in node.rows]
    if read is None:
        drawn = dirichlet(shares, sizes, dice)
    else:
        k = node.state_names.index(read)
        own = shares[:, k]
        drawn = np.zeros((*shares.shape, dice.count))
        drawn[:, k] = dirichlet(np.stack([own, 1 - own], axis=1), sizes, dice)[:, 0]
    table: Floats = drawn[network.row_index[node.name]]
    return table


def _gate(network: Network, node: Node, dice: Dice, read: str | None) -> Floats:
    """Return the gate with one draw for the leak and one for each cause, shared by its states."""
    gate = node.noisy
    assert gate  # noqa: S101 - the caller looked
    leak, *causes = proposals(network.model, node)
    proposed = [dirichlet(leak[np.newaxis], [gate.leak.n], dice)[0]]
    cards = []
    for parent, each in zip(node.parents, causes, strict=True):
        names = network.model.node(parent).state_names
        drawn = repeated(each, dice.count)
        for cause in gate.causes:
            states = [names.index(s) for s in cause.given.get(parent, ())]
            if states:
                drawn[states] = dirichlet(each[states[:1]], [cause.n], dice)
        proposed.append(drawn)
        cards.append(len(names))
    if read is None:
        return gate_table(cards, proposed)
    k = node.state_names.index(read)
    table = np.zeros((*cards, len(node.state_names), dice.count))
    table[..., k, :] = gate_level(cards, proposed, k)
    return table


def dirichlet(shares: Floats, sizes: Sequence[float | None], dice: Dice) -> Floats:
    """Return draws around the rows of *shares*, shape (rows, states, draws).

    Args:
        shares: the means, shape (rows, states); a share of 0 stays 0.
        sizes: the equivalent sample size of each row, None where it is exact.
        dice: how to draw.
    """
    n = np.array([size or 0.0 for size in sizes])[:, np.newaxis]
    alpha = shares * n
    drawn = repeated(shares, dice.count)
    drawable = (alpha > 0) & ((alpha > 0).sum(axis=1, keepdims=True) > 1)
    gammas = dice.rng.standard_gamma(
        alpha[drawable][:, np.newaxis], (int(drawable.sum()), dice.count)
    )
    drawn[drawable] = np.maximum(gammas, LEAST)
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
