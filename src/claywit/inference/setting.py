"""Networks in which one number of the model is set to other values, side by side."""

from dataclasses import replace

import numpy as np

from claywit.inference.network import Floats, Network, gate_table, proposals, repeated, row_shares
from claywit.model.schema import NOT_VISIBLE, Node
from claywit.model.values import Given


def with_share(network: Network, share: tuple[str, str, Given, str], values: Floats) -> Network:
    """Return *network* with one share at each of *values*; the others of its row give way.

    Args:
        network: the model, without draws, or with as many draws on other nodes.
        share: the node, the kind (row, leak, cause or visibility), for which states of the
            parents, and the state.
        values: from 0 to 1, shape (draws,).
    """
    name, kind, given, state = share
    node = network.model.node(name)
    if kind == "visibility":
        hiding = np.repeat(network.hiding[name][:, np.newaxis], len(values), axis=1)
        (by,) = given.values()
        at = network.model.node(next(iter(given))).state_names.index(by[0])
        hiding[at] = values if state == NOT_VISIBLE else 1 - values
        hidden = {**network.hiding, name: hiding}
        rows = {**network.rows, name: repeated(network.rows[name], len(values))}
        return replace(network, hiding=hidden, rows=rows if node.states else network.rows)
    table = _row(network, node, given, state, values) if kind == "row" else _gate(
        network, node, given, state, values
    )  # fmt: skip
    found = replace(network, rows={**network.rows, name: table})
    if node.visibility:
        hiding = repeated(network.hiding[name], len(values))
        found = replace(found, hiding={**network.hiding, name: hiding})
    return found


def _set(shares: Floats, state: int, values: Floats) -> Floats:
    """Return *shares* with one at each of *values*, shape (states, draws)."""
    others = np.where(np.arange(len(shares)) == state, 0.0, shares)
    moved: Floats = others[:, np.newaxis] / (1 - shares[state]) * (1 - values)
    moved[state] = values
    return moved


def _row(network: Network, node: Node, given: Given, state: str, values: Floats) -> Floats:
    table = repeated(network.rows[node.name], len(values))
    i = next(k for k, row in enumerate(node.rows) if row.given == given)
    shares = row_shares(node, node.rows[i])
    table[network.row_index[node.name] == i] = _set(shares, node.state_names.index(state), values)
    return table


def _gate(network: Network, node: Node, given: Given, state: str, values: Floats) -> Floats:
    proposed = [repeated(one, len(values)) for one in proposals(network.model, node)]
    level = node.state_names.index(state)
    if not given:
        proposed[0] = _set(proposed[0][:, 0], level, values)
    for parent, states in given.items():
        names = network.model.node(parent).state_names
        axis = node.parents.index(parent) + 1
        for s in states:
            at = names.index(s)
            proposed[axis][at] = _set(proposed[axis][at][:, 0], level, values)
    return gate_table(proposed)
