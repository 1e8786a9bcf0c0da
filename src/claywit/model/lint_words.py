"""Rules about what people read: labels, descriptions, dates, groups."""

from collections.abc import Callable, Iterator, Sequence

from claywit.model.problems import Problem, of_node
from claywit.model.schema import Model, State

LONG = 60
LOOKALIKES = str.maketrans({"o": "0", "i": "1", "l": "1", "_": "", "-": "", ".": "", "+": ""})


def trait_in_no_group(model: Model) -> Iterator[Problem]:
    """A trait outside all groups is explained last and alone, whatever causes it shares."""
    grouped = {name for group in model.groups for name in group.nodes}
    for node in model.nodes:
        if node.examine and node.name not in grouped:
            yield of_node(node.name, "in no group; put it with the traits that share its causes")


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
            yield of_node(node.name, "no label; say what a reader should call it")


def trait_without_description(model: Model) -> Iterator[Problem]:
    """A trait without a description leaves the examiner to guess what to look for."""
    for node in model.nodes:
        if node.examine and not node.describe:
            text = "no `describe`; say what to look for and what imitates it"
            yield of_node(node.name, text)


def labels_only_for_some(model: Model) -> Iterator[Problem]:
    """Some states of this node have a label and others are shown under their file names."""
    yield from _lacking(model, "label", "has no label", among=lambda _: True)


def dates_only_for_some(model: Model) -> Iterator[Problem]:
    """Some states of this node have a date and others, not marked open, have none."""
    yield from _lacking(model, "date", "has no date", among=lambda state: not state.open)


def making_only_for_some(model: Model) -> Iterator[Problem]:
    """Some classes say how they were made and others do not, so those can never be worded."""
    yield from _lacking(model, "making", "has no `making`", among=lambda state: not state.open)


def _lacking(
    model: Model, key: str, lacks: str, among: Callable[[State], bool]
) -> Iterator[Problem]:
    """Yield the states *among* a node's that lack a *key* which another state of it has."""
    for node in model.nodes:
        stated = any(getattr(state, key) for state in node.states)
        for state in node.states:
            if stated and not getattr(state, key) and among(state):
                text = f"state {state.name} {lacks}, others have"
                yield of_node(node.name, text, "states", state.name)


def label_too_long(model: Model) -> Iterator[Problem]:
    """A label is longer than 60 characters, so tables and charts are cut or broken."""
    for node in model.nodes:
        if len(node.label) > LONG:
            text = f"a label of {len(node.label)} characters; move the rest to `describe`"
            yield of_node(node.name, text, "label")
        for state in node.states:
            if len(state.label) > LONG:
                text = f"state {state.name} has a label of {len(state.label)} characters"
                shorter = f"{text}; move the rest to `describe`"
                yield of_node(node.name, shorter, "states", state.name)


def names_alike(model: Model) -> Iterator[Problem]:
    """Two names differ in case, a dash or a look-alike (O and 0) only: one is read as the other."""
    for one, other in _alike([node.name for node in model.nodes]):
        yield of_node(other, f"is easily read as node {one}; rename one of them")
    for node in model.nodes:
        for one, other in _alike(node.state_names):
            text = f"state {other} is easily read as {one}; rename one of them"
            yield of_node(node.name, text, "states", other)


def _alike(names: Sequence[str]) -> Iterator[tuple[str, str]]:
    first: dict[str, str] = {}
    for name in names:
        seen = first.setdefault(name.casefold().translate(LOOKALIKES), name)
        if seen != name:
            yield seen, name


def labels_alike(model: Model) -> Iterator[Problem]:
    """Two states of a node, or two nodes, have one label: no reader can tell them apart."""
    labels: dict[str, str] = {}
    for node in model.nodes:
        first = labels.setdefault(node.label.casefold(), node.name)
        if node.label and first != node.name:
            yield of_node(node.name, f"its label is that of {first}; give it its own", "label")
        own: dict[str, str] = {}
        for state in node.states:
            seen = own.setdefault(state.label.casefold(), state.name)
            if state.label and seen != state.name:
                text = f"state {state.name} has the label of {seen}; give it its own"
                yield of_node(node.name, text, "states", state.name)


def empty_group(model: Model) -> Iterator[Problem]:
    """A group holds no trait, so its heading stands over nothing."""
    for group in model.groups:
        if not group.nodes:
            text = f"group {group.name}: no trait in it; fill it, or drop it"
            yield Problem(("groups", group.name), text)


def model_without_title(model: Model) -> Iterator[Problem]:
    """A model without a title is called by its file name on every page and certificate."""
    if not model.title:
        yield Problem(("name",), f"name {model.name}: no title; say what tradition it is about")
