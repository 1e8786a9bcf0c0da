"""What to look at next: what each trait not yet seen is expected to say about the question.

The gain of a trait is the mutual information between the question and what would be read,
given all findings: the doubt (entropy) there is, less the doubt expected to be left (Lindley
1956, from memory). *Not visible* is one of the things that may be read.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, product

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import LogTable, own_table, parent_tables
from claywit.inference.network import Floats, Network
from claywit.inference.piece import (
    Piece,
    compile_scopes,
    evidence_tables,
    leaf_nodes,
    log_total,
    switches,
)
from claywit.inference.propagation import Loaded, load, propagate
from claywit.inference.tree import Ints
from claywit.model.schema import Model, Node
from claywit.model.tables import LogNormal, Normal

PARTS = 12  # into which the readings of a measure are sorted
WIDTH = 6  # how many of the best single traits are tried in pairs
THIRDS = 4  # how many are tried as the third of a plan
RARELY = 0.001  # a chance below which a change of words does not keep one looking
LEADS = 1e-9  # by how much another state must lead for an answer to count as overturned
Reading = tuple[LogTable, ...]
Shares = Mapping[str, Mapping[str, float]]


@dataclass(frozen=True)
class Words:
    """How an attribution is worded by the shares of *nodes*."""

    nodes: tuple[str, ...]
    say: Callable[[Shares], str]


@dataclass(frozen=True)
class Step:
    """One trait, or several read one after the other, and what that is expected to be worth.

    bits: expected gain on the question. overturns: the probability that another state of
    the question leads afterwards. rewords: the probability that the attribution is then worded
    otherwise; None where no words were asked for.
    """

    nodes: tuple[str, ...]
    bits: float
    minutes: float
    overturns: float
    rewords: float | None

    @property
    def bits_per_minute(self) -> float:
        """Return the expected gain for each minute of looking."""
        return self.bits / self.minutes


@dataclass(frozen=True)
class Advice:
    """Single steps and pairs, the best per minute first, and what was left out as too risky.

    doubt: entropy of the question in bits; nothing can be worth more.
    plan: the best pair with the best third, where three are open.
    may_stop: no reading of a single trait, nor of a pair of the best, that has a chance of one in
    a thousand changes the words of the attribution; where no words were asked for, no reading at
    all changes the leader.
    """

    question: str
    doubt: float
    singles: tuple[Step, ...]
    pairs: tuple[Step, ...]
    plan: Step | None
    may_stop: bool
    too_risky: tuple[str, ...]


def open_traits(model: Model, findings: Iterable[Finding]) -> tuple[str, ...]:
    """Return the traits not yet seen of which it is known that there is something to read.

    A trait that depends on another (the fill of a crack) is open once that one has been
    read so that it applies.
    """
    seen = {finding.node: finding for finding in findings}

    def applies(node: Node) -> bool:
        found = {parent: seen.get(parent) for parent in node.applies_if}
        return all(f is not None and f.state in node.applies_if[p] for p, f in found.items())

    return tuple(n.name for n in model.nodes if n.is_trait and n.name not in seen and applies(n))


def advise(
    piece: Piece,
    question: str,
    candidates: Iterable[str],
    *,
    risk: float = 1.0,
    words: Words | None = None,
) -> Advice:
    """Return what each of *candidates* is worth, and each pair of the best of them.

    The readings of a measure are sorted into a dozen parts, so its worth is never overstated;
    of a leaf with several measures the first is valued. Traits riskier than *risk* are listed
    and not valued.

    Args:
        piece: the findings; its network is asked.
        question: what is to be settled.
        candidates: the traits that could be read.
        risk: the most that a look may risk, from 0 to 1.
        words: how the attribution is worded by the shares of some nodes.
    """
    model = piece.network.model
    looks = {name: model.node(name).examine for name in candidates}
    minutes = {n: look.minutes for n, look in looks.items() if look and look.risk <= risk}
    room = _make_room(piece, question, list(minutes), words)
    before = _answers(room, {}, np.zeros((1, 0), dtype=np.intp))[0]
    singles = _ranked(_step(room, (name,), minutes, before) for name in minutes)
    best = [step.nodes[0] for step in singles[:WIDTH]]
    pairs = _ranked(_step(room, two, minutes, before) for two in combinations(best, 2))
    threes = [(*pairs[0].nodes, n) for n in best if n not in pairs[0].nodes] if pairs else []
    plans = _ranked(_step(room, three, minutes, before) for three in threes[:THIRDS])
    may_stop = not any(
        step.overturns > 0 if step.rewords is None else step.rewords > RARELY
        for step in (*singles, *pairs)
    )
    doubt = float(_entropy((before @ room.onto)[np.newaxis])[0])
    too_risky = tuple(name for name in looks if name not in minutes)
    plan = plans[0] if plans else None
    return Advice(question, doubt, singles, pairs, plan, may_stop, too_risky)


def _ranked(steps: Iterable[Step]) -> tuple[Step, ...]:
    return tuple(sorted(steps, key=lambda step: (-step.bits_per_minute, step.nodes)))


@dataclass(frozen=True)
class _Room:
    """The findings, with room for every reading of every candidate, compiled once.

    fixed: how many slots hold findings. slots: the slots of each candidate; table 0 of a
    slot is "not read", the others one for each reading. readings: how many there are.
    onto: from joint states of the roots to states of the question, shape (joint states, states).
    """

    loaded: Loaded
    slot_count: int
    fixed: int
    slots: Mapping[str, tuple[int, ...]]
    readings: Mapping[str, int]
    log_findings: float
    onto: Floats
    words: Callable[[Floats], str] | None


def _make_room(piece: Piece, question: str, names: Sequence[str], words: Words | None) -> _Room:
    network = piece.network
    asked = tuple(dict.fromkeys([question, *(words.nodes if words else ())]))
    found, _ = evidence_tables(network, piece.findings, frozenset(asked))
    scopes = [table.scope for table in found]
    tables = list(switches(found))
    slots: dict[str, tuple[int, ...]] = {}
    counts: dict[str, int] = {}
    for name in names:
        readings = _readings(network, network.model.node(name))
        counts[name] = len(readings)
        spoken_of = sorted({table.scope for reading in readings for table in reading})
        slots[name] = tuple(range(len(scopes), len(scopes) + len(spoken_of)))
        scopes += spoken_of
        tables += [_columns(network, scope, readings) for scope in spoken_of]
    tree = compile_scopes(network, scopes, asked)
    loaded = load(tree, tables)
    picks = np.zeros((len(scopes), 1), dtype=np.intp)
    picks[: len(found)] = 1
    log_findings = float(log_total(propagate(loaded, picks))[0])
    onto = {
        name: np.eye(len(network.states[name]))[tree.root_states[:, tree.roots.index(name)]]
        for name in asked
    }

    def worded(joint: Floats) -> str:
        assert words  # noqa: S101 - only called where there are words
        shares = {name: joint @ onto[name] / joint.sum() for name in asked}
        return words.say(
            {n: dict(zip(network.states[n], s.tolist(), strict=True)) for n, s in shares.items()}
        )

    return _Room(
        loaded,
        len(scopes),
        len(found),
        slots,
        counts,
        log_findings,
        onto[question],
        worded if words else None,
    )


def _columns(network: Network, scope: tuple[str, ...], readings: Sequence[Reading]) -> Floats:
    """Return the tables of one slot: not read, then each reading; zeros where it is silent."""
    silent = np.zeros(int(np.prod([len(network.states[name]) for name in scope])))
    columns = [silent]
    for reading in readings:
        own = [np.ravel(table.values) for table in reading if table.scope == scope]
        columns.append(own[0] if own else silent)
    return np.stack(columns, axis=1)


def _readings(network: Network, node: Node) -> list[Reading]:
    """Return everything that may be read of a trait, as tables over its parents or itself."""
    findings = [Finding(node.name, state=state) for state in node.state_names]
    if node.measured:
        name = next(iter(node.measured))
        limits = [
            Measure(low=low, high=high) for low, high in pairwise([None, *_edges(node), None])
        ]
        findings = [Finding(node.name, measures={name: one}) for one in limits]
    if node.visibility:
        findings.append(Finding(node.name, not_visible=True))
    if node.name in leaf_nodes(network):
        return [parent_tables(network, finding) for finding in findings]
    return [(own_table(network, finding),) for finding in findings]


def _edges(node: Node) -> list[float]:
    """Return limits that part the expected readings of a leaf's first measure about evenly."""
    spread = np.linspace(-2, 2, 9)
    points: list[float] = []
    if node.dimensions:
        name = next(iter(node.measured))
        for cavity in node.dimensions.cavity.values():
            points += [cavity[name] * (1 - s.mean) for s in node.dimensions.shrinkage.values()]
        for entry in node.dimensions.unfiled.values():
            points += list(entry.dimensions[name].mean + entry.dimensions[name].sd * spread)
    for density in (row.density for row in node.rows):
        if isinstance(density, LogNormal):
            points += list(density.median * np.exp(density.log_sd * spread))
        elif isinstance(density, Normal):
            points += list(density.mean + density.sd * spread)
        elif density:
            points += list(density.location + density.scale * spread)
    edges = np.quantile(points, np.linspace(0, 1, PARTS + 1)[1:-1])
    return sorted({float(edge) for edge in edges})


def _answers(room: _Room, at: Mapping[str, int], readings: Ints) -> Floats:
    """Return P(question, readings given the findings), shape (columns, states).

    Args:
        room: the compiled findings and candidates.
        at: which column of *readings* belongs to which candidate.
        readings: the numbers of the readings, shape (columns, candidates read).
    """
    picks = np.zeros((room.slot_count, len(readings)), dtype=np.intp)
    picks[: room.fixed] = 1
    for name, column in at.items():
        picks[list(room.slots[name])] = readings[:, column] + 1
    joint: Floats = np.exp(propagate(room.loaded, picks).T - room.log_findings)
    return joint


def _step(
    room: _Room, names: tuple[str, ...], minutes: Mapping[str, float], before: Floats
) -> Step:
    counts = [range(room.readings[name]) for name in names]
    readings = np.array(list(product(*counts)), dtype=np.intp)
    joint = _answers(room, {name: i for i, name in enumerate(names)}, readings)
    share = joint.sum(axis=1) / before.sum()
    about, now = joint @ room.onto, before @ room.onto
    gain = float(_entropy(now[np.newaxis])[0]) - float(share @ _entropy(about))
    leading = about[:, int(np.argmax(now))]
    overturned = about.max(axis=1) > leading * (1 + LEADS)
    bits = gain if gain > 1e-12 else 0.0  # what rounding leaves of nothing
    rewords = None
    if room.words and len(names) <= 2:
        said = room.words(before)
        # What hardly ever happens is not worded: all of it together stays below RARELY.
        differs = [
            p > RARELY / len(share) and room.words(row) != said
            for p, row in zip(share, joint, strict=True)
        ]
        rewords = float(share[differs].sum())
    return Step(
        names, bits, sum(minutes[n] for n in names), float(share[overturned].sum()), rewords
    )


def _entropy(weights: Floats) -> Floats:
    """Return the entropy in bits of each row of weights, which need not sum to 1."""
    total = weights.sum(axis=1, keepdims=True)
    shares = np.divide(weights, total, out=np.zeros_like(weights), where=total > 0)
    logs = np.log2(shares, out=np.zeros_like(shares), where=shares > 0)
    entropy: Floats = -(shares * logs).sum(axis=1)
    return entropy
