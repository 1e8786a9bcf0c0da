"""How far conclusions drift from one model to another on the same pieces."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median

import numpy as np

from claywit.evidence.cases import Cases
from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import leaders, tables_of
from claywit.inference.propagation import load, propagate
from claywit.inference.sheet import Reading, compile_sheet
from claywit.inference.tree import Ints
from claywit.model.renaming import Renamed
from claywit.model.schema import Model

STEP = 2_000  # pieces weighed at once
LOG10 = float(np.log(10))


@dataclass(frozen=True)
class Move:
    """One piece: the leading states before and after, and how far the odds of the first moved.

    bans: log10 odds of the state that led before, after less before.
    """

    piece: str
    before: str
    after: str
    bans: float


@dataclass(frozen=True)
class TargetDrift:
    """The drift of one target over all pieces that both models can weigh.

    changed: the pieces whose leading state changed. largest: the farthest move of all.
    median: the middle of the moves, signs aside, in bans.
    """

    target: str
    changed: tuple[Move, ...]
    largest: Move | None
    median: float


@dataclass(frozen=True)
class Drift:
    """What became of the conclusions on a file of pieces.

    pieces: how many both models could weigh. excluded: pieces whose findings one of the
    models says cannot stand together. left_out: findings that only the old model can weigh,
    by node.
    """

    pieces: int
    excluded: tuple[str, ...]
    left_out: Mapping[str, int]
    targets: tuple[TargetDrift, ...]


def drift(
    old: Network,
    new: Network,
    names: Renamed,
    blocks: Iterable[Cases],
    seen: Callable[[int], None] = lambda _: None,
) -> Drift:
    """Return how the targets that both models have drift on the pieces in *blocks*.

    *old* goes by the new names, *blocks* by its own. Traits alone are weighed: what is hidden
    or asked about is not evidence, though the file may know it. *seen* is told now and then
    how many pieces were weighed.
    """
    targets = tuple(t for t in old.model.targets if t in new.states and t in old.states)
    tally = _Tally(old, new, {target: [] for target in targets})
    count = 0
    for cases in blocks:
        evidence = {node.name for node in cases.model.weighable} - {*cases.model.targets}
        asked = frozenset(cases.model.by_name) - evidence
        for start in range(0, len(cases), STEP):
            rows = range(start, min(start + STEP, len(cases)))
            found = [_read(cases, row, asked, names) for row in rows]
            tally.add([cases.names[row] for row in rows], found)
            count += len(rows)
            seen(count)
    told = tuple(_told(target, moves) for target, moves in tally.moves.items())
    return Drift(tally.pieces, tuple(tally.excluded), tally.left_out, told)


def _read(cases: Cases, row: int, asked: frozenset[str], names: Renamed) -> tuple[Finding, ...]:
    said = cases.findings(row, without=asked)
    return tuple(_under(names, finding) for finding in said if not finding.not_applicable)


@dataclass
class _Tally:
    """What became of the pieces so far."""

    old: Network
    new: Network
    moves: dict[str, list[Move]]
    pieces: int = 0
    excluded: list[str] = field(default_factory=list)
    left_out: Counter[str] = field(default_factory=Counter)

    def add(self, pieces: Sequence[str], found: Sequence[Sequence[Finding]]) -> None:
        """Weigh what was *found* on some pieces in both models."""
        known = [[f for f in one if _fits(f, self.old.model, self.new.model)] for one in found]
        for one, kept in zip(found, known, strict=True):
            self.left_out.update(f.node for f in one if f not in kept)
        sides = [_weighed(self.old, found, [*self.moves]), _weighed(self.new, known, [*self.moves])]
        lives = np.ones(len(pieces), dtype=np.bool_)
        for side in sides:
            for log_joint in side.values():
                lives &= (log_joint > -np.inf).any(axis=0)
        self.excluded += [pieces[i] for i in np.flatnonzero(~lives).tolist()]
        self.pieces += int(lives.sum())
        for target, moves in self.moves.items():
            states = self.old.states[target], self.new.states[target]
            before, after = (side[target] for side in sides)
            led = leaders(before), leaders(after)
            moves += [
                _move(pieces[i], states, (led[0][i], led[1][i]), (before[:, i], after[:, i]))
                for i in np.flatnonzero(lives).tolist()
            ]


def _weighed(
    network: Network, found: Sequence[Sequence[Finding]], targets: Sequence[str]
) -> dict[str, Floats]:
    """Return log P(state, findings) of each target, shape (states, pieces)."""
    readings, picks = _numbered(network, found, frozenset(targets))
    told: dict[str, Floats] = {}
    for target in targets:
        sheet = compile_sheet(network, readings, (target,))
        chosen = np.zeros((len(sheet.scopes), len(found)), dtype=np.intp)
        for node, slots in sheet.slots.items():
            chosen[list(slots)] = picks[node]
        told[target] = np.full((len(network.states[target]), len(found)), -np.inf)
        loaded = load(sheet.tree, sheet.tables)
        told[target][sheet.tree.root_states[:, 0]] = propagate(loaded, chosen)
    return told


def _numbered(
    network: Network, found: Sequence[Sequence[Finding]], asked: frozenset[str]
) -> tuple[dict[str, list[Reading]], dict[str, Ints]]:
    """Return the different findings on each node as tables, and which of them each piece has.

    They have numbers from 1; 0 is a piece without a finding there.
    """
    forms: dict[str, dict[str, int]] = {}  # of each node, the number of every finding on it
    readings: dict[str, list[Reading]] = {}
    picks: dict[str, Ints] = {}
    for i, findings in enumerate(found):
        for finding in findings:
            numbers, key = forms.setdefault(finding.node, {}), repr(finding)
            if key not in numbers:
                numbers[key] = len(numbers) + 1
                read = tables_of(network, finding, asked)
                readings.setdefault(finding.node, []).append(read)
            own = picks.setdefault(finding.node, np.zeros(len(found), dtype=np.intp))
            own[i] = numbers[key]
    return readings, picks


def _move(
    piece: str,
    states: tuple[tuple[str, ...], tuple[str, ...]],
    led: tuple[int, int],
    logs: tuple[Floats, Floats],
) -> Move:
    """Return how one piece moved: each pair is of the old model and of the new."""
    state, now = states[0][led[0]], states[1][led[1]]
    held = states[1].index(state) if state in states[1] else -1
    one = _log10_odds(logs[0], led[0])
    other = _log10_odds(logs[1], held) if held >= 0 else -np.inf
    return Move(piece, state, now, 0.0 if one == other else other - one)  # both certain: no move


def _log10_odds(log_joint: Floats, k: int) -> float:
    rest = np.logaddexp.reduce(np.delete(log_joint, k))
    return float(log_joint[k] - rest) / LOG10


def _told(target: str, moves: list[Move]) -> TargetDrift:
    changed = tuple(move for move in moves if move.before != move.after)
    largest = max(moves, key=lambda move: abs(move.bans), default=None)
    return TargetDrift(target, changed, largest, median([abs(m.bans) for m in moves] or [0.0]))


def _under(names: Renamed, finding: Finding) -> Finding:
    """Return *finding* in the words of the new model."""
    node = names.nodes.get(finding.node, finding.node)
    states, likelihood = names.states.get(node, {}), finding.likelihood
    return replace(
        finding,
        node=node,
        state=None if finding.state is None else states.get(finding.state, finding.state),
        likelihood=likelihood and {states.get(s, s): value for s, value in likelihood.items()},
    )


def _fits(finding: Finding, old: Model, new: Model) -> bool:
    """Return whether *new* has the words and units for *finding*."""
    node = new.by_name.get(finding.node)
    if node is None or (finding.not_visible and not node.visibility):
        return False
    if finding.matrix is not None and finding.matrix not in new.reading_matrices:
        return False
    if finding.likelihood is not None and set(finding.likelihood) != set(node.state_names):
        return False
    if finding.state is not None and finding.state not in node.state_names:
        return False
    units = old.node(finding.node).measured
    return all(node.measured.get(name) == units[name] for name in finding.measures or ())
