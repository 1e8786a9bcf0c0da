"""Rules about what people read: labels, descriptions, dates, groups."""

from collections.abc import Iterator

from claywit.model.problems import Problem
from claywit.model.schema import Model


def trait_in_no_group(model: Model) -> Iterator[Problem]:
    """A trait outside all groups is explained last and alone, whatever causes it shares."""
    grouped = {name for group in model.groups for name in group.nodes}
    for node in model.nodes:
        if node.examine and node.name not in grouped:
            text = f"{node.name}: in no group; put it with the traits that share its causes"
            yield Problem(("nodes", node.name), text)


def hidden_node_in_group(model: Model) -> Iterator[Problem]:
    """A group names a node that cannot be examined, so it never has a finding to explain."""
    for group in model.groups:
        for i, name in enumerate(group.nodes):
            if not model.node(name).examine:
                text = f"group {group.name}: {name} has no `examine`; groups hold traits"
                yield Problem(("groups", group.name, i), text)


def node_without_label(model: Model) -> Iterator[Problem]:
    """A node without a label is shown to readers under its file name."""
    for node in model.nodes:
        if not node.label:
            text = f"{node.name}: no label; say what a reader should call it"
            yield Problem(("nodes", node.name), text)


def trait_without_description(model: Model) -> Iterator[Problem]:
    """A trait without a description leaves the examiner to guess what to look for."""
    for node in model.nodes:
        if node.examine and not node.describe:
            text = f"{node.name}: no `describe`; say what to look for and what imitates it"
            yield Problem(("nodes", node.name), text)


def labels_only_for_some(model: Model) -> Iterator[Problem]:
    """Some states of this node have a label and others are shown under their file names."""
    for node in model.nodes:
        labelled = any(state.label for state in node.states)
        for state in node.states:
            if labelled and not state.label:
                text = f"{node.name}: state {state.name} has no label, others have"
                yield Problem(("nodes", node.name, "states", state.name), text)


def dates_only_for_some(model: Model) -> Iterator[Problem]:
    """Some states of this node have a date and others, not marked open, have none."""
    for node in model.nodes:
        dated = any(state.date for state in node.states)
        for state in node.states:
            if dated and not state.date and not state.open:
                text = f"{node.name}: state {state.name} has no date, others have"
                yield Problem(("nodes", node.name, "states", state.name), text)
