"""Repeated readings: who read which state of which trait on which piece."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from claywit.errors import CasesError, did_you_mean
from claywit.model.schema import NOT_VISIBLE, Model

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

TRUTH = "truth"  # the examiner whose readings are what is known of a piece by other means
MOST_READINGS = 1_000_000
MOST_EXAMINERS = 30
MOST_TRAITS = 300  # every two examiners are compared on each, a thousand times over
MOST_CELLS = 20_000_000
MOST_STATES = 30
LONGEST = 120  # characters of a name


@dataclass(frozen=True)
class Reading:
    """One line of a file of readings; *turn* tells apart several readings by one examiner."""

    piece: str
    examiner: str
    trait: str
    state: str
    turn: str = ""


@dataclass(frozen=True)
class Readings:
    """All readings of one trait; arrays have one entry a reading.

    states: in the order of the model, else as numbers or by name.
    examiner: number of the examiner; turn: the how-manieth reading of that piece by him, from 0.
    truth: shape (pieces,), the known true state, -1 where none is.
    hidden: how often the trait could not be seen, which is no reading of its state.
    """

    trait: str
    pieces: tuple[str, ...]
    examiners: tuple[str, ...]
    states: tuple[str, ...]
    piece: Ints
    examiner: Ints
    turn: Ints
    state: Ints
    truth: Ints
    hidden: int

    def counts(self) -> Floats:
        """Return how often each examiner read each piece so, shape (pieces, examiners, states).

        Raises:
            CasesError: that would be more than twenty million cells.
        """
        states = len(self.states)
        cells = len(self.pieces) * states * max(len(self.examiners), states)
        if cells > MOST_CELLS:
            raise CasesError(
                f"{self.trait}: {len(self.pieces):,} pieces by {len(self.examiners)} examiners by"
                f" {states} states are too many at once; take a sample of the pieces"
            )
        found = np.zeros((len(self.pieces), len(self.examiners), len(self.states)))
        np.add.at(found, (self.piece, self.examiner, self.state), 1.0)
        return found

    def grid(self, turn: int = 0) -> Ints:
        """Return what each examiner read in one turn, shape (pieces, examiners), -1 for none."""
        found = np.full((len(self.pieces), len(self.examiners)), -1, dtype=np.intp)
        own = self.turn == turn
        found[self.piece[own], self.examiner[own]] = self.state[own]
        return found


@dataclass
class _Trait:
    """The readings of one trait while they come in."""

    states: dict[str, int]
    pieces: dict[str, int] = field(default_factory=dict)
    examiners: dict[str, int] = field(default_factory=dict)
    rows: list[tuple[int, int, int, int]] = field(default_factory=list)
    truth: dict[int, int] = field(default_factory=dict)
    seen: dict[tuple[str, str], set[str]] = field(default_factory=dict)  # turns
    hidden: int = 0

    def clash(self, reading: Reading) -> str:
        """Return why *reading* does not go with those before it, "" if it does."""
        is_new = reading.state not in self.states and reading.state != NOT_VISIBLE
        if is_new and len(self.states) >= MOST_STATES:
            return f"{reading.trait} has more than {MOST_STATES} states; give the model as well"
        if reading.examiner == TRUTH:
            before = self.truth.get(self.pieces.get(reading.piece, -1))
            if before is not None and before != self.states.get(reading.state):
                return f"the truth of {reading.trait} of {reading.piece} was given otherwise before"
            return ""
        if reading.examiner not in self.examiners and len(self.examiners) >= MOST_EXAMINERS:
            return f"more than {MOST_EXAMINERS} examiners; split the file"
        if reading.turn in self.seen.get((reading.piece, reading.examiner), ()):
            again = f" in turn {reading.turn}" if reading.turn else ""
            return (
                f"{reading.examiner} read {reading.trait} of {reading.piece}{again} before in the"
                " file; tell readings apart in a column `turn`"
            )
        return ""

    def put(self, reading: Reading) -> None:
        """Take in a reading that does not clash."""
        piece = self.pieces.setdefault(reading.piece, len(self.pieces))
        if reading.state != NOT_VISIBLE:
            state = self.states.setdefault(reading.state, len(self.states))
        if reading.examiner == TRUTH:
            self.truth[piece] = state
            return
        examiner = self.examiners.setdefault(reading.examiner, len(self.examiners))
        turns = self.seen.setdefault((reading.piece, reading.examiner), set())
        turns.add(reading.turn)
        if reading.state == NOT_VISIBLE:
            self.hidden += 1
        else:
            self.rows.append((piece, examiner, len(turns) - 1, state))


class Collected:
    """Readings as they come in, each checked against the model and against those before it."""

    def __init__(self, model: Model | None) -> None:
        """Begin with none; without a *model* every trait and state is taken as it is written."""
        self._model = model
        nodes = model.nodes if model else ()
        self._known = {node.name: node for node in nodes if node.is_trait and node.states}
        self._traits: dict[str, _Trait] = {}
        self._count = 0

    def add_all(self, readings: Sequence[Reading]) -> str:
        """Take in the readings of one line, all or none; return why they cannot be used."""
        for reading in readings:
            fault = _name_fault(reading) or self._fault(reading) or self._clash(reading)
            if fault:
                return fault
        if self._count + len(readings) > MOST_READINGS:
            return f"more than {MOST_READINGS:,} readings; split the file by trait"
        if len(self._traits.keys() | {reading.trait for reading in readings}) > MOST_TRAITS:
            return f"more than {MOST_TRAITS} traits; split the file by trait"
        for reading in readings:
            self._put(reading)
        return ""

    def _clash(self, reading: Reading) -> str:
        trait = self._traits.get(reading.trait)
        return trait.clash(reading) if trait else ""

    def _put(self, reading: Reading) -> None:
        self._count += 1
        if reading.trait not in self._traits:
            self._traits[reading.trait] = _Trait(self._states_of(reading.trait))
        self._traits[reading.trait].put(reading)

    def _fault(self, reading: Reading) -> str:
        if self._model is None:
            return ""
        node = self._known.get(reading.trait)
        if node is None:
            hint = did_you_mean(reading.trait, self._known)
            return f"no trait {reading.trait} with states in the model; {hint}"
        if reading.state not in (*node.state_names, NOT_VISIBLE):
            hint = did_you_mean(reading.state, node.state_names)
            return f"{reading.trait} has no state {reading.state}; {hint}"
        return ""

    def _states_of(self, trait: str) -> dict[str, int]:
        if self._model is None:
            return {}
        return {state: i for i, state in enumerate(self._model.node(trait).state_names)}

    def traits(self) -> Iterator[Readings]:
        """Yield the readings of each trait, in the order of the model, else of the file."""
        order = list(self._traits)
        if self._model:
            order = [node.name for node in self._model.nodes if node.name in self._traits]
        for name in order:
            yield _readings(name, self._traits[name], keep_order=self._model is not None)


def _name_fault(reading: Reading) -> str:
    named = {
        "piece": reading.piece,
        "examiner": reading.examiner,
        "trait": reading.trait,
        "state": reading.state,
    }
    for key, text in named.items():
        if not text:
            return f"no {key}; name it"
        if len(text) > LONGEST or not text.isprintable():
            return f"the {key} is longer than {LONGEST} characters, or cannot be printed"
    if reading.examiner == TRUTH and reading.state == NOT_VISIBLE:
        return f"the truth of {reading.trait} cannot be {NOT_VISIBLE}; leave the line out"
    return ""


def _readings(name: str, trait: _Trait, *, keep_order: bool) -> Readings:
    states = list(trait.states)
    ordered = states if keep_order else sorted(states, key=_by_number)
    to = np.array([ordered.index(state) for state in states], dtype=np.intp)
    rows = np.array(trait.rows, dtype=np.intp).reshape(-1, 4)
    truth = np.full(len(trait.pieces), -1, dtype=np.intp)
    for piece, state in trait.truth.items():
        truth[piece] = to[state]
    return Readings(
        trait=name,
        pieces=tuple(trait.pieces),
        examiners=tuple(trait.examiners),
        states=tuple(ordered),
        piece=rows[:, 0],
        examiner=rows[:, 1],
        turn=rows[:, 2],
        state=to[rows[:, 3]] if len(rows) else rows[:, 3],
        truth=truth,
        hidden=trait.hidden,
    )


def _by_number(state: str) -> tuple[float, str]:
    try:
        return float(state), state
    except ValueError:
        return float("inf"), state


def wide(cells: Mapping[str, str]) -> Iterator[Reading]:
    """Yield the readings of a line with a column for each trait; blank cells are none."""
    own = {key: cells.get(key, "") for key in ("piece", "examiner", "turn")}
    for trait, state in cells.items():
        if trait not in own and state:
            yield Reading(own["piece"], own["examiner"], trait, state, own["turn"])
