"""What to ask an expert about a model: one question in natural frequencies for each row."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from claywit.errors import ModelError, did_you_mean
from claywit.learning.elicitation import MOST_STATES
from claywit.model.matching import match
from claywit.model.problems import subject
from claywit.model.schema import NOT_VISIBLE, Model, Node
from claywit.model.source import Path
from claywit.model.support import families
from claywit.model.tables import Cause, Row, Visibility
from claywit.model.values import Given

Place = Literal["row", "leak", "cause", "visibility"]
VISIBLE = "visible"  # what is left of the hundred when those not visible are counted


@dataclass(frozen=True)
class Question:
    """One row of a model, as it is asked about.

    path: of the row in the model, the node by its name.
    states: those that the model holds possible, or all of them where that was asked for.
    listed: those that a sheet has a line for; of two states one is enough.
    rest: what takes the rest of the hundred where it is left out, "" if nothing is fixed.
    ask: the question in words.
    """

    path: Path
    node: Node
    place: Place
    stated: Row | Cause
    states: tuple[str, ...]
    listed: tuple[str, ...]
    rest: str
    ask: str

    @property
    def given(self) -> Given:
        """Return the parent states that the row stands for."""
        return self.stated.given

    @property
    def name(self) -> str:
        """Return how a message names the question, as `rim, given shop=north`."""
        said = subject(self.node.name, self.given).removesuffix(": ")
        return f"{said}, {self.place}" if self.place in ("leak", "visibility") else said

    @property
    def all_states(self) -> tuple[str, ...]:
        """Return all that a piece can be in this question, excluded by the model or not."""
        return (VISIBLE, NOT_VISIBLE) if self.place == "visibility" else self.node.state_names

    def label(self, state: str) -> str:
        """Return a state as a reader knows it."""
        if self.place == "visibility":
            return {VISIBLE: "can be seen", NOT_VISIBLE: "cannot be seen"}[state]
        return shown(self.node, state)

    @property
    def key(self) -> object:
        """Return what tells the question from all others of one model."""
        return key_of(self.node.name, self.place, self.given)


def key_of(node: str, place: str, given: Given) -> object:
    """Return what tells a question from all others of one model."""
    return (node, place, frozenset((parent, frozenset(s)) for parent, s in given.items()))


def questions(
    model: Model, names: Iterable[str] = (), *, all_states: bool = False
) -> list[Question]:
    """Return the questions about some nodes of *model*, or about all that have rows of shares.

    Rows that hold only for what cannot occur are left out, and so are rows with one possible
    state, unless *all_states* asks about what the model excludes too.

    Raises:
        ModelError: there is no node of a name, it has no rows to ask about, or too many states.
    """
    wanted = list(names)
    for name in wanted:
        if name not in model.by_name:
            raise ModelError(f"no node {name}; {did_you_mean(name, model.by_name)}")
    idle = _idle(model)
    found = [
        question
        for question in every_question(model, all_states=all_states)
        if len(question.states) > 1 and question.path not in idle
    ]
    asked = {question.node.name for question in found}
    for name in wanted or [""] * (not found):
        if name not in asked:
            raise ModelError(_nothing_to_ask(model, name))
    asked_for = [question for question in found if not wanted or question.node.name in wanted]
    for question in asked_for:
        if len(question.states) > MOST_STATES:
            raise ModelError(
                f"{question.name}: {len(question.states):,} states; a question is about"
                f" {MOST_STATES} at most; name other nodes with --node"
            )
    return asked_for


def _nothing_to_ask(model: Model, name: str) -> str:
    if name and model.node(name).measured:
        return f"{name}: it is measured, not counted; fit its sizes to a file of pieces"
    return (
        f"{name or model.name}: nothing to ask; each row has one possible state, see --all-states"
    )


def every_question(model: Model, *, all_states: bool = True) -> Iterator[Question]:
    """Yield the question of each row, leak and cause of *model* that states shares."""
    for node in model.nodes:
        at: Path = ("nodes", node.name)
        for i, row in enumerate(node.rows):
            if row.p:
                states = [s for s in node.state_names if all_states or row.p.get(s)]
                yield _question(model, node, (*at, "rows", i), "row", row, states)
        if node.noisy:
            gate: Path = (*at, node.noisy_key)
            raised = node.state_names
            yield _question(model, node, (*gate, "leak"), "leak", node.noisy.leak, raised)
            for i, cause in enumerate(node.noisy.causes):
                yield _question(model, node, (*gate, "causes", i), "cause", cause, raised)
        if node.visibility:
            yield from _hidings(model, node, node.visibility)


def _hidings(model: Model, node: Node, visibility: Visibility) -> Iterator[Question]:
    """Yield for each state of the obstruction how often it hides the trait."""
    for state, share in visibility.p.items():
        hidden = Cause(given={visibility.parent: (state,)}, p={NOT_VISIBLE: share}, n=visibility.n)
        path = ("nodes", node.name, "visibility")
        picture = _picture(model, node, "row", hidden.given)
        ask = f"{picture} On how many of the 100 can this not be seen at all: {node.title}?"
        states = (VISIBLE, NOT_VISIBLE)
        yield Question(path, node, "visibility", hidden, states, (NOT_VISIBLE,), VISIBLE, ask)


def _question(
    model: Model, node: Node, path: Path, place: Place, stated: Row | Cause, states: Sequence[str]
) -> Question:
    gated = place != "row"
    rest = states[0] if gated or len(states) == 2 else ""
    listed = tuple(s for s in states if s != rest)
    ask = f"{_picture(model, node, place, stated.given)} {_count(node, listed, rest)}"
    return Question(path, node, place, stated, tuple(states), listed, rest if gated else "", ask)


def _idle(model: Model) -> frozenset[Path]:
    """Return the paths of the rows that hold for nothing that can occur."""
    idle: set[Path] = set()
    for name, family in families(model).items():
        node = model.node(name)
        if node.rows and node.parents:
            states = [model.node(parent).state_names for parent in node.parents]
            used = np.unique(match(node.parents, states, node.rows).rows[tuple(family.parents.T)])
            idle |= {("nodes", name, "rows", i) for i in set(range(len(node.rows))) - set(used)}
    return frozenset(idle)


def _picture(model: Model, node: Node, place: Place, given: Given) -> str:
    conditions = [f"{model.node(p).title}: {_either(model.node(p), s)}" for p, s in given.items()]
    what = "; ".join(conditions)
    if place == "leak":
        return "Picture 100 pieces with none of the causes that the other questions name."
    if place == "cause":
        return f"Picture 100 pieces with {what}, and with no other cause."
    if not given and node.parents:
        return "Picture 100 pieces of all kinds that the other questions do not name."
    return (
        f"Picture 100 pieces with {what}." if given else "Picture 100 pieces as they come to you."
    )


def _either(node: Node, states: Sequence[str]) -> str:
    return " or ".join(shown(node, state) for state in states)


def shown(node: Node, state: str) -> str:
    """Return the label of a state, or its name where it has none."""
    return node.state(state).label or state.replace("_", " ")


def _count(node: Node, listed: Sequence[str], rest: str) -> str:
    where = ", of those to which it applies," if node.applies_if else ""
    verb = "would you read as" if node.reading_error == "in_rows" else "have"
    left = f" The rest are: {shown(node, rest)}." if rest else ""
    if len(listed) == 1:
        one = shown(node, listed[0])
        return f"How many of the 100{where} {verb} {node.title}: {one}?{left}"
    return f"How many of the 100{where} {verb} each of these ({node.title})?{left}"
