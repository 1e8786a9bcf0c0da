"""Rules about looking: when a trait applies, what hides it, what it takes to look."""

from collections.abc import Iterator
from itertools import pairwise

from claywit.model.graph import reached
from claywit.model.problems import Problem, of_node
from claywit.model.schema import Model


def applies_if_unseen(model: Model) -> Iterator[Problem]:
    """Whether a trait applies depends on a node that cannot be examined, so it is never known."""
    for node in model.nodes:
        for name in node.applies_if:
            if not model.node(name).examine:
                text = f"applies_if names {name}, which has no `examine`; name a trait"
                yield of_node(node.name, text, "applies_if", name)


def visibility_falls(model: Model) -> Iterator[Problem]:
    """A trait is hidden less often under a later state of the obstruction node."""
    for node in model.nodes:
        if node.visibility:
            names = model.node(node.visibility.parent).state_names
            for clear, thick in pairwise(names):
                before, after = node.visibility.p[clear], node.visibility.p[thick]
                if after < before:
                    text = (
                        f"not visible with {before:g} under {clear}, {after:g} under {thick};"
                        f" the states of {node.visibility.parent} run from clear to hidden"
                    )
                    yield of_node(node.name, text, "visibility")


def always_visible_or_never(model: Model) -> Iterator[Problem]:
    """A visibility of 0 or 1 makes one look exclude a state of the obstruction node."""
    for node in model.nodes:
        for state, share in (node.visibility.p if node.visibility else {}).items():
            if share in (0.0, 1.0):
                text = f"visibility {share:g} under {state} allows no exception; leave it a little"
                yield of_node(node.name, text, "visibility", "p", state)


def applies_if_always(model: Model) -> Iterator[Problem]:
    """A trait is said to apply under every state of another, so the condition says nothing."""
    for node in model.nodes:
        for name, states in node.applies_if.items():
            if set(states) >= set(model.node(name).state_names):
                text = f"applies_if allows every state of {name}; drop it or leave some out"
                yield of_node(node.name, text, "applies_if", name)


def applies_if_in_a_circle(model: Model) -> Iterator[Problem]:
    """Whether a trait applies hangs on whether it applies, so no finding can ever settle it."""
    for node in model.nodes:
        for name in node.applies_if:
            if node.name in reached([name], lambda other: model.node(other).applies_if):
                text = f"applies_if leads from {name} back to {node.name}; break the circle"
                yield of_node(node.name, text, "applies_if", name)


def minutes_not_given(model: Model) -> Iterator[Problem]:
    """Without its minutes a look costs a made-up 2, and advice on what to look at rests on that."""
    for node in model.nodes:
        if node.examine and "minutes" not in node.examine.model_fields_set:
            text = "no minutes; say how long a look takes, as minutes: 3"
            yield of_node(node.name, text, "examine")
