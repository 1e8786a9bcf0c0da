"""What looks like a slip: a measure that nothing predicts, two readings that rarely meet.

Neither is an error: the piece may be a stranger, or rare. Both are worth a second look before
an answer is believed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log, sqrt

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import expected_sizes, uncertainty
from claywit.inference.network import Network
from claywit.inference.piece import Piece
from claywit.model.schema import Node
from claywit.model.tables import LogNormal, Normal
from claywit.reasoning.explanation import log_evidence

# Common practice, no source: six scale units is beyond any honest slip of the callipers, and
# of the demo pieces none holds a pair rarer than a third of what its parts would have it.
FAR = 6.0
RARE = log(5)


@dataclass(frozen=True)
class FarMeasure:
    """A measured value that lies far from what every state in the file predicts.

    scales: how many of its scale units the nearest prediction is away; for measures that
        shrink together the root mean square over them.
    """

    node: str
    scales: float


@dataclass(frozen=True)
class RarePair:
    """Two findings that are met together *times* less often than if they had no bearing."""

    one: str
    other: str
    times: float


def far_measures(network: Network, findings: Sequence[Finding]) -> tuple[FarMeasure, ...]:
    """Return the measured findings that lie far from every filed prediction."""
    found = []
    for finding in findings:
        values = {n: m for n, m in (finding.measures or {}).items() if m.value is not None}
        if values:
            scales = _least_distance(network, network.model.node(finding.node), values)
            if scales > FAR:
                found.append(FarMeasure(finding.node, scales))
    return tuple(found)


def _least_distance(network: Network, node: Node, values: Mapping[str, Measure]) -> float:
    """Return the distance to the nearest prediction, in its own scale units."""
    names = list(values)
    at = np.array([values[n].value for n in names], dtype=np.float64)
    u = np.array([uncertainty(node, n, values[n]) for n in names])
    if not node.dimensions:
        rows = [i for i in range(len(node.rows)) if _is_filed(network, node, i)]
        return min((_scales(node, i, float(at[0]), float(u[0])) for i in rows), default=0.0)
    cavities = np.array([[c[n] for n in names] for c in node.dimensions.cavity.values()])
    shrunk = node.dimensions.shrinkage.values()
    mean, sd = np.array([s.mean for s in shrunk]), np.array([s.sd for s in shrunk])
    expected, scale = expected_sizes(cavities[:, np.newaxis], mean, sd, u)
    delta = at - expected
    q = (delta * np.linalg.solve(scale, delta[..., np.newaxis])[..., 0]).sum(axis=-1)
    return sqrt(q.min() / len(names))


def _is_filed(network: Network, node: Node, i: int) -> bool:
    """Return whether a row speaks of states in the file; an open state predicts anything."""
    given = node.rows[i].given
    return not any(
        network.model.node(parent).state(state).open
        for parent, states in given.items()
        for state in states
    )


def _scales(node: Node, i: int, value: float, u: float) -> float:
    density = node.rows[i].density
    if isinstance(density, LogNormal):
        if value <= 0:
            return np.inf
        return abs(log(value / density.median)) / sqrt(density.log_sd**2 + (u / value) ** 2)
    if isinstance(density, Normal):
        return abs(value - density.mean) / sqrt(density.sd**2 + u**2)
    return abs(value - density.location) / sqrt(density.scale**2 + u**2) if density else 0.0


def rare_pairs(piece: Piece) -> tuple[RarePair, ...]:
    """Return pairs of findings that rarely meet, the rarest first.

    The measure is P(one) P(other) / P(both) (Jensen et al. 1991 for two findings, from
    memory): above 1 the two disagree about what the piece is.
    """
    n = len(piece.findings)
    pairs = list(combinations(range(n), 2))
    # Each alone goes with the pairs: one more pass would cost as much as they do.
    alone, together = np.split(log_evidence(piece, [*([i] for i in range(n)), *pairs]), [n])
    one, other = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    with np.errstate(invalid="ignore"):  # a finding that is impossible by itself
        times = alone[one] + alone[other] - together
    names = [finding.node for finding in piece.findings]
    found = [
        (float(times[k]), names[one[k]], names[other[k]])
        for k in np.flatnonzero(times > RARE).tolist()
    ]
    rare = sorted(found, reverse=True)
    return tuple(RarePair(a, b, float(np.exp(min(size, 300)))) for size, a, b in rare)
