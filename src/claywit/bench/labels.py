"""Nodes and states of a model as a page names them."""

from claywit.model.dates import period
from claywit.model.schema import Node


def state_title(node: Node, state: str) -> str:
    """Return a state as a reader knows it: `P2 Rebuilding (1812–1846)`, or just its label."""
    found = node.state(state)
    label = found.label or state.replace("_", " ")
    shown = f"{state} {label}" if state != state.lower() and label != state else label
    return f"{shown} ({period(found.date)})" if found.date else shown
