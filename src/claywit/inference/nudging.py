"""Networks in which every parameter behind a measured leaf is moved by its doubt, one at a time."""

from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from claywit.inference.drawing import FEWEST
from claywit.inference.network import Network, Sizes, repeated
from claywit.model.schema import Node


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
