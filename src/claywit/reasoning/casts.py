"""Pairs of pieces that look like casts of each other: one size times a ratio, and shared flaws.

A mould taken from a finished piece gives pieces that are smaller all over by one ratio, and that
carry the flaws of the first block. Two pieces from one mould in two pastes look alike too, so a
pair is a reason to lay the two side by side, not an answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, log, prod

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.likelihood import uncertainty
from claywit.inference.network import Network
from claywit.inference.piece import log_marginals
from claywit.model.schema import Model, Node
from claywit.reasoning.scaling import one_ratio

# Common practice, no source: two generations of clay and paste that shrink by 7 % each would be
# 0.86; a flaw that a quarter of all pieces has tells nothing; one chance pair in twenty is few.
LEAST_RATIO = 0.86
APART = 2.0
USUAL = 0.25
BY_CHANCE = 0.05


@dataclass(frozen=True)
class Pair:
    """Two pieces, the *larger* first.

    ratio: size of the smaller over that of the larger. u: its standard uncertainty.
    apart: how far the measures are from one ratio, in their standard uncertainties.
    shared: flaws that both have. differing: marks of the mould that were read differently.
    by_chance: how probable it is that another piece has all the shared flaws.
    """

    larger: int
    smaller: int
    ratio: float
    u: float
    apart: float
    shared: tuple[str, ...]
    differing: tuple[str, ...]
    by_chance: float


def casts(network: Network, pieces: Sequence[Sequence[Finding]]) -> tuple[Pair, ...]:
    """Return the pairs among *pieces* (the findings of each) that look like casts.

    The most telling pair, the one least likely by chance, comes first.
    """
    model = network.model
    sized = [node for node in model.nodes if node.dimensions]
    marks = {mark for node in sized for mark in marks_of(model, node)}
    if not marks:
        return ()
    usual, _ = log_marginals(network, (), sorted(marks))
    found = [
        pair
        for one, other in combinations(range(len(pieces)), 2)
        for node in sized
        if (pair := _pair(model, node, marks, usual, pieces, (one, other)))
    ]
    return tuple(sorted(found, key=lambda pair: (pair.by_chance, pair.larger, pair.smaller)))


def marks_of(model: Model, node: Node) -> list[str]:
    """Return the traits that come from the block, or from how worn it was, and nothing else."""
    cavities = set(node.dimensions.cavity) if node.dimensions else set()
    blocks = {p for p in node.parents if cavities <= set(model.node(p).state_names)}
    worn = {n.name for n in model.nodes if not n.is_trait and blocks & set(n.parents)}
    return [
        n.name
        for n in model.nodes
        if n.states and n.is_trait and blocks & set(n.parents) and set(n.parents) <= blocks | worn
    ]


def _pair(
    model: Model,
    node: Node,
    marks: set[str],
    usual: Mapping[str, np.ndarray],
    pieces: Sequence[Sequence[Finding]],
    pair: tuple[int, int],
) -> Pair | None:
    one, other = ({f.node: f for f in pieces[i]} for i in pair)
    if node.name not in one or node.name not in other:
        return None
    scaled = _ratio(node, one[node.name], other[node.name])
    if scaled is None:
        return None
    log_ratio, u, apart = scaled
    if apart > APART or abs(log_ratio) > -log(LEAST_RATIO):
        return None
    read = [n for n in sorted(marks) if _is_read(one.get(n)) and _is_read(other.get(n))]
    same = [n for n in read if one[n].state == other[n].state]
    chance = {n: _chance(model.node(n), str(one[n].state), usual[n]) for n in same}
    shared = tuple(n for n in same if chance[n] < USUAL)
    differing = tuple(n for n in read if n not in same)
    by_chance = prod(chance[n] for n in shared)
    if by_chance > BY_CHANCE or len(shared) < len(differing):
        return None
    larger, smaller = pair if log_ratio <= 0 else pair[::-1]
    ratio = exp(-abs(log_ratio))
    return Pair(larger, smaller, ratio, ratio * u, apart, shared, differing, by_chance)


def _is_read(finding: Finding | None) -> bool:
    return finding is not None and finding.state is not None


def _chance(node: Node, state: str, usual: np.ndarray) -> float:
    return exp(float(usual[node.all_states.index(state)]))


def _ratio(node: Node, one: Finding, other: Finding) -> tuple[float, float, float] | None:
    """Return ln(other / one), its standard uncertainty, and how far the measures are from it."""
    first, second = one.measures or {}, other.measures or {}
    logs, variances = [], []
    for name in node.measured:
        a, b = first.get(name), second.get(name)
        if a is None or b is None or not a.value or not b.value or min(a.value, b.value) <= 0:
            continue
        logs.append(log(b.value / a.value))
        variances.append(
            (uncertainty(node, name, a) / a.value) ** 2
            + (uncertainty(node, name, b) / b.value) ** 2
        )
    if len(logs) < 2 or min(variances) <= 0:
        return None
    return one_ratio(logs, variances)
