"""What a whole column of measured values says of the parents of its node, worked at once."""

from collections.abc import Sequence

import numpy as np

from claywit.evidence.findings import Measure
from claywit.inference.densities import log_value
from claywit.inference.likelihood import log_sizes, size_places, uncertainty
from claywit.inference.network import Floats, Network
from claywit.model.schema import Node


def log_measures(network: Network, node: Node, values: Floats, doubts: Floats) -> Floats:
    """Return log P(measures of one piece | parents) for many pieces; (parent states, pieces).

    The same numbers as from `parent_tables`, piece by piece.

    Args:
        network: the model, without draws.
        node: a measured node.
        values: in the node's units, nan where not measured, shape (pieces, measures); each
            piece has one at least.
        doubts: standard uncertainties, nan where the model's own holds; as *values*.
    """
    usual = [uncertainty(node, name, Measure(value=0.0)) for name in node.measured]
    u = np.where(np.isnan(doubts), usual, doubts)
    if not node.dimensions:
        logs = np.stack(
            [log_value(row, values[:, 0], u[:, 0]) for row in network.densities[node.name]]
        )
        table: Floats = logs[network.row_index[node.name].ravel()]
        return table
    states = int(np.prod([len(network.states[parent]) for parent in node.parents]))
    found = np.empty((states, len(values)))
    # One matrix to invert for all pieces with the same measures, measured as finely.
    kinds = np.where(np.isnan(values), -1.0, u)
    for kind, rows in _alike(kinds):
        names = [name for name, fine in zip(node.measured, kind, strict=True) if fine >= 0]
        chosen = np.flatnonzero(kind >= 0)
        found[:, rows] = _log_sizes(network, node, names, kind[chosen], values[rows][:, chosen])
    return found


def _alike(kinds: Floats) -> list[tuple[Floats, Floats]]:
    known, place = np.unique(kinds, axis=0, return_inverse=True)
    order = np.argsort(place.ravel(), kind="stable")
    ends = np.cumsum(np.bincount(place.ravel()))[:-1]
    return list(zip(known, np.split(order, ends), strict=True))


def _log_sizes(
    network: Network, node: Node, names: Sequence[str], u: Floats, values: Floats
) -> Floats:
    """Return the log densities, shape (moulds x pastes, pieces)."""
    places = sorted(size_places(network, node, names, u), key=lambda place: place.mould)
    logs = [
        log_sizes(values - place.at, place.scale, place.df)  # shape (pastes, pieces)
        for place in places
    ]
    return np.concatenate(logs)
