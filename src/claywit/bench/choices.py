"""Propositions put together from pick lists: the states that each side of a question allows."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from starlette.datastructures import QueryParams

from claywit.bench.labels import state_title
from claywit.errors import EvidenceError
from claywit.model.propositions import Proposition, proposition, text_of
from claywit.model.schema import Model

SIDES = ("a", "b")


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


def picked(model: Model, query: QueryParams) -> dict[str, str]:
    """Return the proposition that each side of a form chose, as it would be typed."""
    return {
        side: typed({name: query.getlist(f"{side}.{name}") for name in model.targets})
        for side in SIDES
    }


def pair(chosen: Mapping[str, str]) -> tuple[str | None, str | None]:
    """Return both propositions, or none where nothing was chosen.

    Raises:
        EvidenceError: only one side chose something.
    """
    for_, against = (chosen[side] or None for side in SIDES)
    if (for_ is None) != (against is None):
        raise EvidenceError("Choose something on both sides; one alone has no weight.")
    return for_, against
