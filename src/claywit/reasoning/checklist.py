"""What a mould would leave on its pieces, trait by trait, beside what was read on one piece."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Network
from claywit.inference.piece import log_marginals, log_shares
from claywit.model.schema import Model, Node
from claywit.reasoning.casts import marks_of


@dataclass(frozen=True)
class Expected:
    """A trait on the pieces of one mould: its likeliest state, and the probability of each."""

    trait: str
    likeliest: str
    p: Mapping[str, float]


def mould_node(model: Model, sized: Node) -> Node | None:
    """Return the node whose states are the moulds of a node of sizes."""
    cavities = set(sized.dimensions.cavity) if sized.dimensions else set()
    parents = (model.node(name) for name in sized.parents)
    return next((p for p in parents if cavities and cavities <= set(p.state_names)), None)


def checklist(
    network: Network, sized: Node, moulds: Sequence[str]
) -> dict[str, tuple[Expected, ...]]:
    """Return for each of *moulds* what the traits that come from the block would show.

    Nothing that was read goes into it: it is what the model says of any piece of that mould.
    """
    model = network.model
    node = mould_node(model, sized)
    marks = [n for n in marks_of(model, sized) if model.node(n).states] if node else []
    if node is None or not marks:
        return {}
    return {mould: _expected(network, Finding(node.name, state=mould), marks) for mould in moulds}


def _expected(network: Network, mould: Finding, marks: Sequence[str]) -> tuple[Expected, ...]:
    _, given = log_marginals(network, (mould,), marks)
    found = []
    for name in marks:
        shares = np.exp(log_shares(given[name]))
        p = dict(zip(network.model.node(name).all_states, shares.tolist(), strict=True))
        found.append(Expected(name, max(p, key=lambda state: p[state]), p))
    return tuple(found)
