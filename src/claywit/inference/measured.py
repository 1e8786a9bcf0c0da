"""What a whole column of measured values says of the parents of its node, worked at once."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.evidence.findings import Measure
from claywit.inference.densities import log_student, log_value
from claywit.inference.likelihood import size_places, uncertainty
from claywit.inference.network import Floats, Network
from claywit.inference.routes import distinct
from claywit.inference.tree import Ints
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
    first, which = alike(list(kinds.T))
    order = np.argsort(which, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(which))[:-1])
    for kind, rows in zip(kinds[first], parts, strict=True):
        names = [name for name, fine in zip(node.measured, kind, strict=True) if fine >= 0]
        chosen = np.flatnonzero(kind >= 0)
        found[:, rows] = _log_sizes(network, node, names, kind[chosen], values[rows][:, chosen])
    return found


def alike(columns: Sequence[NDArray[Any]]) -> tuple[Ints, Ints]:
    """Return one row of each different combination of values, and for each row its combination.

    nan is like nan.
    """
    codes = [np.unique(column, return_inverse=True)[1].ravel() for column in columns]
    return distinct(codes, len(columns[0]))


def _log_sizes(
    network: Network, node: Node, names: Sequence[str], u: Floats, values: Floats
) -> Floats:
    """Return the log densities as `log_sizes` does, shape (moulds x pastes, pieces)."""
    places = sorted(size_places(network, node, names, u), key=lambda place: place.mould)
    logs = []
    for place in places:
        scale = place.scale[:, 0]
        delta = values.T - place.at[:, 0, :, np.newaxis]  # shape (pastes, measures, pieces)
        q = (delta * np.linalg.solve(scale, delta)).sum(axis=1)
        log_det = np.linalg.slogdet(scale)[1][:, np.newaxis]
        logs.append(log_student(q, log_det, place.df, len(names)))
    return np.concatenate(logs)
