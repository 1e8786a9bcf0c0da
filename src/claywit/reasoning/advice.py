"""What to look at next: what each trait not yet seen is expected to say about the question.

The gain of a trait is the mutual information between the question and what would be read,
given all findings: the doubt (entropy) there is, less the doubt expected to be left (Lindley
1956, from memory). *Not visible* is one of the things that may be read.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations, product
from math import prod

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import (
    Piece,
    compile_scopes,
    evidence_tables,
    likeliest,
    log_total,
    switches,
)
from claywit.inference.propagation import Loaded, load, propagate
from claywit.inference.sheet import columns_of
from claywit.model.schema import Model, Node
from claywit.reasoning.readings import readings_of

WIDTH = 6  # how many of the best single traits are tried in pairs
MOST_READINGS = 5_000  # combinations that a plan may have
THIRDS = 4  # how many are tried as the third of a plan
RARELY = 0.001  # a chance below which a change of words does not keep one looking
LEADS = 1e-9  # by how much another state must lead for an answer to count as overturned
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
    a thousand changes the words of the attribution or the leader; where no words were asked for,
    no reading at all changes the leader.
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
    (before,) = _answers(room, [()])
    now = _Now(before[0], room.words(before)[0] if room.words else None)
    singles = _steps(room, [(name,) for name in minutes], minutes, now)
    best = [step.nodes[0] for step in singles[:WIDTH]]
    pairs = _steps(room, list(combinations(best, 2)), minutes, now)
    threes = [(*pairs[0].nodes, n) for n in best if n not in pairs[0].nodes] if pairs else []
    small = [t for t in threes if prod(room.readings[n] for n in t) <= MOST_READINGS]
    plans = _steps(room, small[:THIRDS], minutes, now)
    may_stop = not any(
        step.overturns > (0.0 if step.rewords is None else RARELY) or (step.rewords or 0) > RARELY
        for step in (*singles, *pairs)
    )
    doubt = float(entropy(before @ room.onto)[0])
    too_risky = tuple(name for name in looks if name not in minutes)
    plan = plans[0] if plans else None
    return Advice(question, doubt, singles, pairs, plan, may_stop, too_risky)


@dataclass(frozen=True)
class _Room:
    """The findings, with room for every reading of every candidate, compiled once.

    fixed: how many slots hold findings. slots: the slots of each candidate; table 0 of a
    slot is "not read", the others one for each reading. readings: how many there are.
    onto: from joint states of the roots to states of the question, shape (joint states, states).
    words: the words of the attribution by each row of P(joint state).
    """

    loaded: Loaded
    slot_count: int
    fixed: int
    slots: Mapping[str, tuple[int, ...]]
    readings: Mapping[str, int]
    log_findings: float
    onto: Floats
    words: Callable[[Floats], list[str]] | None


@dataclass(frozen=True)
class _Now:
    """P(joint state of the roots) before anything more is read, and how that is worded."""

    joint: Floats
    said: str | None


def _make_room(piece: Piece, question: str, names: Sequence[str], words: Words | None) -> _Room:
    network = piece.network
    asked = tuple(dict.fromkeys([question, *(words.nodes if words else ())]))
    found, _ = evidence_tables(network, piece.findings, frozenset(asked))
    scopes = [table.scope for table in found]
    tables = list(switches(found))
    slots: dict[str, tuple[int, ...]] = {}
    counts: dict[str, int] = {}
    for name in names:
        readings = readings_of(network, network.model.node(name), asked)
        counts[name] = len(readings)
        spoken_of = sorted({table.scope for reading in readings for table in reading})
        slots[name] = tuple(range(len(scopes), len(scopes) + len(spoken_of)))
        scopes += spoken_of
        tables += [columns_of(network, scope, readings) for scope in spoken_of]
    tree = compile_scopes(network, scopes, asked)
    loaded = load(tree, tables)
    picks = np.zeros((len(scopes), 1), dtype=np.intp)
    picks[: len(found)] = 1
    log_findings = float(log_total(propagate(loaded, picks))[0])
    onto = {
        name: np.eye(len(network.states[name]))[tree.root_states[:, tree.roots.index(name)]]
        for name in asked
    }

    return _Room(
        loaded,
        len(scopes),
        len(found),
        slots,
        counts,
        log_findings,
        onto[question],
        partial(_worded, words, network, onto) if words else None,
    )


def _worded(words: Words, network: Network, onto: Mapping[str, Floats], joint: Floats) -> list[str]:
    """Return the words for each row of P(joint state of the roots); *onto* sums it by node."""
    total = joint.sum(axis=1, keepdims=True)
    shares = {name: (joint @ states / total).tolist() for name, states in onto.items()}
    rows = (
        {name: dict(zip(network.states[name], shares[name][i], strict=True)) for name in onto}
        for i in range(len(joint))
    )
    return [words.say(row) for row in rows]


def _steps(
    room: _Room, sets: Sequence[tuple[str, ...]], minutes: Mapping[str, float], now: _Now
) -> tuple[Step, ...]:
    """Return what it is worth to read each set of traits, the best per minute first."""
    answers = _answers(room, sets)
    found = [
        _step(room, names, sum(minutes[n] for n in names), joint, now)
        for names, joint in zip(sets, answers, strict=True)
    ]
    return tuple(sorted(found, key=lambda step: (-step.bits_per_minute, step.nodes)))


def _answers(room: _Room, sets: Sequence[tuple[str, ...]]) -> list[Floats]:
    """Return P(joint state of the roots, readings given the findings) for all that may be read.

    For each set of traits one array, shape (combinations of readings, joint states).
    """
    picks = []
    for names in sets:
        counts = [range(1, room.readings[name] + 1) for name in names]
        every = list(product(*counts))
        readings = np.array(every, dtype=np.intp).reshape(len(every), len(names))
        block = np.zeros((room.slot_count, len(readings)), dtype=np.intp)
        block[: room.fixed] = 1
        for name, column in zip(names, readings.T, strict=True):
            block[list(room.slots[name])] = column
        picks.append(block)
    if not picks:
        return []
    joint = np.exp(propagate(room.loaded, np.concatenate(picks, axis=1)).T - room.log_findings)
    return np.split(joint, np.cumsum([block.shape[1] for block in picks])[:-1])


def _step(room: _Room, names: tuple[str, ...], minutes: float, joint: Floats, now: _Now) -> Step:
    share = joint.sum(axis=1) / now.joint.sum()
    about, before = joint @ room.onto, now.joint @ room.onto
    gain = float(entropy(before[np.newaxis])[0]) - float(share @ entropy(about))
    leading = about[:, likeliest(before)]
    overturned = about.max(axis=1) > leading * (1 + LEADS)
    bits = gain if gain > 1e-12 else 0.0  # what rounding leaves of nothing
    rewords = None
    if room.words and len(names) <= 2:
        # What hardly ever happens is not worded: all of it together stays below RARELY.
        often = np.flatnonzero(share > RARELY / len(share))
        said = room.words(joint[often])
        rewords = float(share[often[[words != now.said for words in said]]].sum())
    return Step(names, bits, minutes, float(share[overturned].sum()), rewords)


def entropy(weights: Floats) -> Floats:
    """Return the entropy in bits of each row of weights, which need not sum to 1."""
    total = weights.sum(axis=1, keepdims=True)
    shares = np.divide(weights, total, out=np.zeros_like(weights), where=total > 0)
    logs = np.log2(shares, out=np.zeros_like(shares), where=shares > 0)
    entropy: Floats = -(shares * logs).sum(axis=1)
    return entropy
