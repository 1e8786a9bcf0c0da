"""How far conclusions drift from one model to another on the same pieces."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from statistics import median

import numpy as np

from claywit.evidence.cases import Cases
from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import log_marginals
from claywit.model.renaming import Renamed
from claywit.model.schema import Model

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


@dataclass
class _Tally:
    pieces: int = 0
    excluded: list[str] = field(default_factory=list)
    left_out: dict[str, int] = field(default_factory=dict)
    moves: dict[str, list[Move]] = field(default_factory=dict)


def drift(
    old: Network,
    new: Network,
    names: Renamed,
    blocks: Iterable[Cases],
    seen: Callable[[int], None] = lambda _: None,
) -> Drift:
    """Return how the targets that both models have drift on the pieces in *blocks*.

    *old* goes by the new names, *blocks* by its own. Traits alone are weighed: what is hidden
    or asked about is not evidence, though the file may know it. *seen* is told how many
    pieces were weighed, after each.
    """
    targets = [t for t in old.model.targets if t in new.states and t in old.states]
    tally = _Tally(moves={target: [] for target in targets})
    count = 0
    for cases in blocks:
        hidden = frozenset(n.name for n in cases.model.nodes if not n.is_trait)
        asked = hidden | frozenset(cases.model.targets)
        for row, piece in enumerate(cases.names):
            said = cases.findings(row, without=asked)
            found = [_under(names, finding) for finding in said if not finding.not_applicable]
            _weigh(tally, piece, found, (old, new), targets)
            count += 1
            seen(count)
    told = tuple(_told(target, moves) for target, moves in tally.moves.items())
    return Drift(tally.pieces, tuple(tally.excluded), tally.left_out, told)


def _weigh(
    tally: _Tally,
    piece: str,
    found: list[Finding],
    networks: tuple[Network, Network],
    targets: list[str],
) -> None:
    old, new = networks
    known = [finding for finding in found if _fits(finding, old.model, new.model)]
    for finding in found:
        if finding not in known:
            tally.left_out[finding.node] = tally.left_out.get(finding.node, 0) + 1
    before = log_marginals(old, found, targets)[1]
    after = log_marginals(new, known, targets)[1]
    if any(np.all(side[t] == -np.inf) for side in (before, after) for t in targets):
        tally.excluded.append(piece)
        return
    tally.pieces += 1
    for target in targets:
        tally.moves[target].append(_move(piece, target, old, new, before[target], after[target]))


def _move(
    piece: str, target: str, old: Network, new: Network, before: Floats, after: Floats
) -> Move:
    first = int(before.argmax())
    state = old.states[target][first]
    held = new.states[target].index(state) if state in new.states[target] else -1
    one = _log10_odds(before, first)
    other = _log10_odds(after, held) if held >= 0 else -np.inf
    same = one == other  # both certain, which is no move
    return Move(piece, state, new.states[target][int(after.argmax())], 0.0 if same else other - one)


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
