"""A model as full tables of its discrete nodes, for formats that hold nothing else."""

from claywit.errors import ModelError
from claywit.inference.network import compile_network
from claywit.model.discrete import MOST, Discrete, Variable, in_rows
from claywit.model.matching import match
from claywit.model.schema import Model, Node


def flatten(model: Model) -> Discrete:
    """Return the nodes of *model* that have states, as they are where nothing hides them.

    The shares of rows are passed on as they are written, to the last bit; a noisy gate is
    worked out for every configuration.

    Raises:
        ModelError: the tables hold more than half a million numbers.
    """
    nodes = [node for node in model.nodes if node.states]
    cards = {node.name: len(node.states) for node in nodes}
    total = 0
    for node in nodes:
        size = cards[node.name]
        for parent in node.parents:
            size *= cards[parent]
        total += size
    if total > MOST:
        raise ModelError(f"{model.name}: {total:,} numbers as full tables; at most {MOST:,}")
    gates = compile_network(model).rows if any(node.noisy for node in nodes) else {}
    variables = []
    for node in nodes:
        if node.noisy:
            shares = in_rows(gates[node.name].ravel().tolist(), cards[node.name])
        else:
            shares = _as_written(model, node)
        variables.append(Variable(node.name, node.state_names, node.parents, shares))
    return Discrete(model.name, tuple(variables))


def _as_written(model: Model, node: Node) -> tuple[tuple[float, ...], ...]:
    names = [model.node(parent).state_names for parent in node.parents]
    written = [
        tuple((row.p or {}).get(state, 0.0) for state in node.state_names) for row in node.rows
    ]
    return tuple(written[i] for i in match(node.parents, names, node.rows).rows.ravel().tolist())
