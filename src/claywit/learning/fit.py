"""A model fitted to a reference file: every number moved by what was counted, none invented.

Expectation and maximisation (Dempster, Laird & Rubin 1977; Lauritzen 1995 for networks; both
from memory), started at the elicited numbers, so the same file always gives the same model. Each
round raises the log likelihood of the file plus the log prior. Missing readings are taken as
missing by chance; hidden nodes are learned through what hangs on them.
"""

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.inference.expected import (
    Machine,
    Slotted,
    compile_machine,
    counts,
    routes,
    run,
    slotted,
)
from claywit.inference.network import Floats
from claywit.inference.routes import Route
from claywit.inference.tree import Bools
from claywit.learning.leap import FARTHEST, leapt
from claywit.learning.numbers import Numbers, Start, Tally, elicited, log_prior, stepped
from claywit.learning.slots import Columns, columns_of, hidden_states, slots_of
from claywit.model.schema import Model

ENOUGH = 1e-6  # nats a piece that a round must gain for the fit to go on
ROUNDS = 200
OBSTRUCTED = 30  # pieces that must record an obstruction for its visibility rows to move
MOST_PIECES = 200_000

T = TypeVar("T")
Progress = Callable[[int, float], None]


@dataclass(frozen=True)
class Terms:
    """How far a fit goes: it stops when a round gains less than *enough* nats a piece."""

    enough: float = ENOUGH
    rounds: int = ROUNDS
    workers: int = 1


@dataclass(frozen=True)
class Fit:
    """A fitted model's numbers, and how they came about.

    objective: log likelihood plus log prior before each round, never falling.
    log_likelihood: at the start and at the end. tally: the counts of the last round.
    used: which pieces were used; the others are impossible under the model.
    """

    start: Start
    numbers: Numbers
    tally: Tally
    columns: Columns
    machine: Machine
    used: Bools
    objective: tuple[float, ...]
    log_likelihood: tuple[float, float]
    converged: bool
    obstructed: dict[str, int]


def fit(
    model: Model, cases: Cases, terms: Terms | None = None, tell: Progress | None = None
) -> Fit:
    """Return the numbers of *model* moved by what *cases* show.

    Args:
        model: where the fit starts, and what it is worth.
        cases: pieces of known origin, or partly known.
        terms: how far to go.
        tell: is called after each round with its number and what it gained, in nats a piece.

    Raises:
        CasesError: no piece says anything, none is possible, or there are too many.
    """
    terms = terms or Terms()
    if len(cases) > MOST_PIECES:
        raise CasesError(f"{len(cases):,} pieces, at most {MOST_PIECES:,} are fitted at once")
    obstructed = obstructions(model, cases)
    start = _start(model, cases, obstructed)
    columns = columns_of(start.slots)
    versions = [int(slot.picks.max()) + 1 for slot in start.slots]
    scopes = [slot.scope for slot in start.slots]
    machine = compile_machine(start.numbers.network, scopes, versions)
    possible = _possible(start, machine, columns, terms)
    used = possible[columns.column]
    if not used.any():
        raise CasesError("the model gives every piece probability 0; look at its zeros")
    live = Columns(columns.picks[:, possible], columns.weights[possible], columns.column)
    ways = routes(machine, live.picks, live.weights)
    climb = _climbed(start, machine, (ways, terms), tell)
    return Fit(
        start,
        climb.now,
        climb.tally,
        live,
        machine,
        used,
        tuple(climb.objective),
        (climb.log_likelihood[0], climb.log_likelihood[-1]),
        climb.done,
        obstructed,
    )


def _start(model: Model, cases: Cases, obstructed: dict[str, int]) -> Start:
    begun = elicited(model)
    slots = slots_of(begun.network, cases)
    if not slots:
        raise CasesError("no piece says anything about a node of the model")
    sighted = frozenset(
        node.name
        for node in model.nodes
        if node.visibility and obstructed[node.visibility.parent] >= OBSTRUCTED
    )
    return Start(begun, slots, sighted)


@dataclass
class _Climb:
    """How far a fit has come: the numbers, their counts, and what every round reached."""

    now: Numbers
    tally: Tally
    objective: list[float]
    log_likelihood: list[float]
    done: bool = False


def _climbed(
    start: Start,
    machine: Machine,
    how: tuple[Sequence[Route], Terms],
    tell: Progress | None,
) -> _Climb:
    """Climb from the elicited numbers until a plain round gains too little.

    Every other round a leap is tried; one that does not climb is taken back.
    """
    ways, terms = how
    pieces = sum(float(way.weights.sum()) for way in ways)

    def reached(numbers: Numbers) -> tuple[float, float, Tally]:
        logs, tally = _expected(start, numbers, machine, (ways, terms.workers))
        return logs + log_prior(start, numbers), logs, tally

    height, logs, tally = reached(start.numbers)
    climb = _Climb(start.numbers, tally, [height], [logs])
    before: Numbers | None = None  # where the last plain round began
    farthest = FARTHEST
    for number in range(1, terms.rounds + 1):
        plain = stepped(start, climb.now, climb.tally)
        leap = leapt(start, (before, climb.now, plain), farthest) if before else None
        height, logs, tally = reached(leap.numbers if leap else plain)
        took = leap if leap and height >= climb.objective[-1] else None
        if took and took.far == farthest:
            farthest *= 4
        elif leap and not took:
            farthest = max(farthest / 4, FARTHEST)
            height, logs, tally = reached(plain)
        gain = (height - climb.objective[-1]) / pieces
        before = None if took else climb.now
        climb.now, climb.tally = took.numbers if took else plain, tally
        climb.objective.append(height)
        climb.log_likelihood.append(logs)
        if tell:
            tell(number, gain)
        if not took and gain < terms.enough:
            climb.done = True
            break
    return climb


def obstructions(model: Model, cases: Cases) -> dict[str, int]:
    """Return for each node that hides others how many pieces record what it hides, or itself.

    Examiners who leave blank what they cannot see would teach a model that nothing is ever
    hidden, so visibility is learned only where recording it is the custom.
    """
    found: dict[str, int] = {}
    for node in model.nodes:
        if node.visibility and node.visibility.parent not in found:
            parent = model.node(node.visibility.parent)
            noted = np.zeros(len(cases), dtype=np.bool_)
            if parent.name in cases.codes:
                noted |= cases.codes[parent.name] >= 0
            for hidden in model.nodes:
                if hidden.visibility and hidden.visibility.parent == parent.name:
                    noted |= hidden_states(cases, hidden)
            found[parent.name] = int(noted.sum())
    return found


def _possible(start: Start, machine: Machine, columns: Columns, terms: Terms) -> Bools:
    """Return which columns the model does not exclude."""
    network = start.numbers.network
    given = slotted(network, machine, [slot.logs(network) for slot in start.slots])
    ways = routes(machine, columns.picks, columns.weights)
    blocks = _each(lambda way: run(machine, way, given).log_evidence, ways, terms.workers)
    return np.concatenate(list(blocks)) > -np.inf


def _each(work: Callable[[Route], T], ways: Sequence[Route], workers: int) -> Iterable[T]:
    if workers == 1 or len(ways) == 1:
        return map(work, ways)
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(work, ways))


def _expected(
    start: Start, now: Numbers, machine: Machine, how: tuple[Sequence[Route], int]
) -> tuple[float, Tally]:
    """Return the log likelihood of the numbers *now*, and the counts expected under them."""
    network = now.network
    given = slotted(network, machine, [slot.logs(network) for slot in start.slots])

    def work(way: Route) -> tuple[float, list[Floats]]:
        return _block(machine, way, given)

    total, summed = 0.0, [np.zeros_like(table) for table in given.tables]
    for logs, found in _each(work, *how):  # in the order of the blocks, whoever worked them
        total += logs
        for slot, more in enumerate(found):
            summed[slot] += more
    families = {
        name: summed[i].reshape(network.table(name)[1].shape)
        for i, name in enumerate(machine.nodes)
    }
    return total, Tally(families, tuple(summed[len(machine.nodes) :]))


def _block(machine: Machine, way: Route, given: Slotted) -> tuple[float, list[Floats]]:
    block = run(machine, way, given)
    return float(way.weights @ block.log_evidence), counts(machine, block, given)
