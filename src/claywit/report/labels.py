"""Nodes, states and propositions as a reader knows them."""

from collections.abc import Mapping

from claywit.model.dates import period
from claywit.report.report import NodeText, Report


def state_label(report: Report, node: str, state: str) -> str:
    """Return a state as a reader knows it: `P2 Rebuilding (1812–1846)`, or just its label."""
    label = _plain_label(report.nodes[node], state)
    text = report.nodes[node].states.get(state)
    return f"{label} ({period(text.date)})" if text and text.date else label


def group_label(report: Report, name: str) -> str:
    """Return a group as a reader knows it; a trait in no group is one by itself."""
    node = report.nodes.get(name)
    groups = report.typicality.groups if report.typicality else ()
    label = next((g.label for g in groups if g.name == name), name)
    return (node.label if node and label == name else label).lower()


def proposition_label(report: Report, text: str) -> str:
    """Return a typed proposition as a reader knows it, without dates."""
    return label_of(report.nodes, text)


def label_of(nodes: Mapping[str, NodeText], text: str) -> str:
    """Return a typed proposition in the labels of *nodes*, without dates."""
    parts = [part.partition("=") for part in text.split(",")]
    shown = [
        " or ".join(_plain_label(nodes[node], state) for state in states.split("|"))
        for node, _, states in parts
    ]
    return " and ".join(shown)


def _plain_label(node: NodeText, state: str) -> str:
    text = node.states.get(state)
    if text is None:
        return state.replace("_", " ")
    is_code = state != state.lower()
    return f"{state} {text.label}" if is_code and text.label != state else text.label
