"""Propositions put together from pick lists: the states that each side of a question allows."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from claywit.bench.labels import state_title
from claywit.model.propositions import Proposition, proposition, text_of
from claywit.model.schema import Model


@dataclass(frozen=True)
class Choice:
    """A hidden node that a proposition can be about: its states, and which each side allows."""

    node: str
    label: str
    states: tuple[tuple[str, str], ...]
    chosen: dict[str, tuple[str, ...]]


def choices(model: Model, sides: Mapping[str, str], read: Collection[str]) -> Iterator[Choice]:
    """Yield what propositions can be about, but for what was *read*; *sides* as typed so far."""
    chosen = {side: meant(model, text) for side, text in sides.items()}
    about = [*model.targets, *(name for held in chosen.values() for name in held)]
    for name in dict.fromkeys(about):
        node = model.node(name)
        if name not in read:
            yield Choice(
                name,
                node.title,
                tuple((state, state_title(node, state)) for state in node.state_names),
                {side: tuple(held.get(name, ())) for side, held in chosen.items()},
            )


def meant(model: Model, text: str) -> Proposition:
    """Return what a side means, nothing where it means nothing in this model."""
    try:
        return proposition(text, model) if text else {}
    except ValueError:
        return {}


def typed(picked: Mapping[str, Sequence[str]]) -> str:
    """Return picked states as a proposition is typed; an empty pick leaves its node open."""
    found = {node: tuple(dict.fromkeys(filter(None, states))) for node, states in picked.items()}
    return text_of({node: states for node, states in found.items() if states})
