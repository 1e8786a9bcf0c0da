"""The model of a tradition: nodes, their tables, and where each number comes from.

A `Model` checks the shape of what it is given; `soundness` checks that its parts fit
each other. Everything is frozen, so a model can be shared and hashed.
"""

import re
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from claywit.model.tables import Dimensions, Noisy, Row, Visibility
from claywit.model.values import (
    DASHED,
    VERSION,
    Given,
    Name,
    Number,
    Positive,
    Probability,
    Shares,
    StateName,
    StateNames,
    Text,
    Value,
    duplicates,
    named,
    names_or_named,
)

NOT_VISIBLE = "not_visible"


def _date(value: str) -> str:
    """Refuse what is no year or interval of years in EDTF (ISO 8601-2)."""
    found = re.fullmatch(r"([0-9]{4}|\.\.)[~?%]?(?:/([0-9]{4}|\.\.)[~?%]?)?", value)
    if value and (not found or found[0] in ("..", "../..")):
        raise ValueError(f"'{value}' is no date; write a year or years, as 1812/1846 or 1951/..")
    years = [int(year) for year in (found.groups() if found else ()) if year and year != ".."]
    if len(years) == 2 and years[0] > years[1]:
        raise ValueError(f"'{value}' ends before it begins; write the earlier year first")
    return value


Date = Annotated[str, AfterValidator(_date)]


class State(Value):
    """One state of a node: its name in files, its label on paper, its date if it has one.

    making: of a class, how its pieces were made, in the words of the attribution policy.
    after: of a mould taken off a finished piece, the mould of that piece.
    """

    name: StateName
    label: Text = ""
    describe: Text = ""
    date: Date = ""
    open: bool = False  # stands for whatever is not in the reference file
    making: Literal["", "primary", "repressing", "derivative", "later"] = ""
    after: StateName | Literal[""] = ""


class Examine(Value):
    """What it takes to look: the place, the minutes, the risk to the piece from 0 to 1."""

    view: Literal["front", "back", "edge", "lens", "callipers", "torch"] = "lens"
    minutes: Positive = 2.0
    risk: Probability = 0.0


class Node(Value):
    """One node: hidden, a trait that can be examined, or a measured leaf."""

    name: Name
    label: Text = ""
    describe: Text = ""
    states: Annotated[tuple[State, ...], BeforeValidator(names_or_named)] = ()
    parents: tuple[Name, ...] = ()
    rows: tuple[Row, ...] = ()
    noisy_max: Noisy | None = None
    noisy_or: Noisy | None = None
    measured: dict[Name, str] = {}
    u: dict[Name, Positive] = {}
    dimensions: Dimensions | None = None
    visibility: Visibility | None = None
    applies_if: Given = {}
    reading_error: Literal["separate", "in_rows"] = "separate"
    examine: Examine | None = None

    @cached_property
    def state_names(self) -> tuple[str, ...]:
        """Return the names of the states in order, without *not_visible*."""
        return tuple(state.name for state in self.states)

    @cached_property
    def _state_set(self) -> frozenset[str]:
        return frozenset(self.state_names)

    def can_be(self, state: str) -> bool:
        """Return whether one of the node's own states has that name, however many it has."""
        return state in self._state_set

    @cached_property
    def all_states(self) -> tuple[str, ...]:
        """Return the names of the states in order, *not_visible* last where it is one."""
        return self.state_names + ((NOT_VISIBLE,) if self.visibility else ())

    @cached_property
    def all_parents(self) -> tuple[str, ...]:
        """Return the parents, with the obstruction node last if it is not among them."""
        seen = self.visibility and self.visibility.parent
        return self.parents if not seen or seen in self.parents else (*self.parents, seen)

    @property
    def is_trait(self) -> bool:
        """Return whether the node can be looked at; all others are hidden."""
        return self.examine is not None

    @property
    def is_noted(self) -> bool:
        """Return whether a row has a note, which says why its numbers are as they are."""
        return any(row.note for row in self.rows)

    @property
    def noisy(self) -> Noisy | None:
        """Return the noisy gate, whichever name it was given."""
        return self.noisy_max or self.noisy_or

    @property
    def noisy_key(self) -> str:
        """Return the key under which the noisy gate stands in a file."""
        return "noisy_max" if self.noisy_max else "noisy_or"

    @property
    def title(self) -> str:
        """Return the label, or the name where there is none."""
        return self.label or self.name.replace("_", " ")

    def state(self, name: str) -> State:
        """Return the state of that name; *not_visible* is a state of every hidden trait.

        Raises:
            KeyError: the node has no such state.
        """
        if name == NOT_VISIBLE and self.visibility:
            return State(name=NOT_VISIBLE, label="not visible")
        return next((s for s in self.states if s.name == name), None) or _no_such(name)


def _no_such(name: str) -> State:
    raise KeyError(name)


class Group(Value):
    """Traits that share causes and are explained together."""

    name: Name
    label: Text = ""
    nodes: tuple[Name, ...]


def _groups(value: object) -> object:
    if not isinstance(value, dict):
        return value
    return named({k: v if isinstance(v, dict) else {"nodes": v} for k, v in value.items()})


class Order(Value):
    """What it says of *node* that event *before* lies under event *after*."""

    before: Name
    after: Name
    node: Name
    state: StateNames


class ReadingMatrix(Value):
    """P(state read | true state) of one examiner or one way of looking."""

    node: Name
    p: dict[StateName, Shares]
    source: Text = ""
    n: Positive | None = None


class ReferenceFile(Value):
    """A file of cases that was counted: its name, its SHA-256, how many pieces it gave."""

    name: Text
    digest: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    pieces: Annotated[Number, Field(ge=0)]


class Reference(Value):
    """The pieces of known origin behind the model."""

    pieces: Annotated[Number, Field(ge=0)] = 0
    by_state: dict[Name, dict[StateName, Annotated[Number, Field(ge=0)]]] = {}
    files: tuple[ReferenceFile, ...] = ()


class Model(Value):
    """A whole model. Its lists keep their order, so its digest covers the order too."""

    format: Literal["claywit-model/1"]
    name: Annotated[str, Field(pattern=DASHED, max_length=80)]
    version: Annotated[str, Field(pattern=VERSION)]
    title: Text = ""
    describe: Text = ""
    region: Text = ""
    targets: tuple[Name, ...] = Field(min_length=1)
    status: Literal["demonstration", "elicited", "measured"]
    reference: Reference = Reference()
    sources: dict[Name, Text] = {}
    groups: Annotated[tuple[Group, ...], BeforeValidator(_groups)] = ()
    nodes: Annotated[tuple[Node, ...], BeforeValidator(named), Field(min_length=1)]
    order: tuple[Order, ...] = ()
    reading_matrices: dict[Name, ReadingMatrix] = {}

    @model_validator(mode="after")
    def _names_are_single(self) -> Self:
        twice = duplicates([node.name for node in self.nodes])
        if twice:
            raise ValueError(f"node {twice[0]} stands twice; give each node its own name")
        return self

    @cached_property
    def by_name(self) -> dict[str, Node]:
        """Return the nodes by name, in the order of the file."""
        return {node.name: node for node in self.nodes}

    @cached_property
    def weighable(self) -> tuple[Node, ...]:
        """Return the nodes whose states are evidence in a file of cases; the rest is truth.

        They are what can be looked at; where the model says of nothing that it can be, all
        but the targets.
        """
        traits = tuple(node for node in self.nodes if node.is_trait)
        return traits or tuple(node for node in self.nodes if node.name not in self.targets)

    def node(self, name: str) -> Node:
        """Return the node of that name.

        Raises:
            KeyError: there is no such node.
        """
        return self.by_name[name]
