"""The traits of a model in the order of work, as the examiner's page shows them."""

from dataclasses import dataclass

from claywit.bench.families import drawings
from claywit.bench.hints import Drawing
from claywit.model.schema import Model, Node

VIEWS = {
    "front": "Front",
    "back": "Back",
    "edge": "Edge",
    "lens": "Through the lens",
    "torch": "With the torch",
    "callipers": "With callipers",
}


@dataclass(frozen=True)
class Choice:
    """A state that can be seen; *digit* is the key that chooses it."""

    name: str
    label: str
    describe: str
    digit: str
    drawing: Drawing


@dataclass(frozen=True)
class Trait:
    """One trait to look at; *needs* says of which other readings it depends whether it is there.

    least: below it a half certain reading would be no better than a guess. matrices: the reading
    matrices that say instead how its readings err. rest: whether `other` may stand for all
    states that are not named, which it may where the model has no such state.
    """

    name: str
    label: str
    describe: str
    view: str
    minutes: float
    choices: tuple[Choice, ...]
    measures: tuple[tuple[str, str], ...]
    u: dict[str, str]
    can_hide: bool
    needs: str
    least: float
    matrices: tuple[str, ...]
    rest: bool


def traits(model: Model) -> tuple[Trait, ...]:
    """Return the traits in the order of work: view by view, within a view as in the model."""
    order = list(VIEWS)
    seen = [node for node in model.nodes if node.examine]
    ranked = sorted(seen, key=lambda node: order.index(_view(node)))
    return tuple(_trait(model, node) for node in ranked)


def _view(node: Node) -> str:
    return node.examine.view if node.examine else "lens"


def _trait(model: Model, node: Node) -> Trait:
    needs = [
        f"{model.node(parent).title.lower()} is "
        + " or ".join(_label(model.node(parent), state) for state in states)
        for parent, states in node.applies_if.items()
    ]
    drawn = drawings(node.name, node.state_names)
    return Trait(
        name=node.name,
        label=node.title,
        describe=node.describe,
        view=_view(node),
        minutes=node.examine.minutes if node.examine else 0.0,
        choices=tuple(
            Choice(
                state.name,
                _label(node, state.name),
                state.describe,
                str(place) if place <= 9 else "",
                drawn.get(state.name, ()),
            )
            for place, state in enumerate(node.states, 1)
        ),
        measures=tuple(node.measured.items()),
        u={name: f"{u:g}" for name, u in node.u.items()},
        can_hide=node.visibility is not None,
        needs=" and ".join(needs),
        least=1 / len(node.states) if node.states else 0.0,
        matrices=tuple(n for n, m in model.reading_matrices.items() if m.node == node.name),
        rest="other" not in node.state_names,
    )


def _label(node: Node, state: str) -> str:
    return node.state(state).label or state.replace("_", " ")
