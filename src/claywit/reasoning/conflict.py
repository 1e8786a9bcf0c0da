"""Do the findings agree with each other?

Jensen's measure (Jensen et al. 1991, from memory) is the logarithm of
P(one) P(another) ... / P(all): above 0 the findings are rarer together than if they had no
bearing on each other, as happens where one is misread or two pieces were mixed up; below 0 they
support each other. A state whose probability the findings raise by more than that much
explains the conflict away.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import Piece, log_shares
from claywit.reasoning.explanation import NATS_PER_BAN, GroupWeight, log_evidence

ROUNDING = 1e-6  # bans


@dataclass(frozen=True)
class Explaining:
    """A state of a hidden node that the findings raise by *bans*, and its posterior."""

    node: str
    state: str
    bans: float
    posterior: float


@dataclass(frozen=True)
class Conflict:
    """Jensen's measure in bans: of all findings, within each group, between pairs of groups.

    explained_by: the state that the findings raise most, if by more than the conflict of all
    findings or, where they agree on the whole, of the worst pair of groups; None where there
    is no conflict or nothing explains it.
    """

    total: float
    within: tuple[tuple[str, float], ...]
    between: tuple[tuple[str, str, float], ...]
    explained_by: Explaining | None


def conflict(
    piece: Piece,
    groups: Sequence[GroupWeight],
    log_prior: Mapping[str, Floats],
    log_posterior: Mapping[str, Floats],
) -> Conflict:
    """Return how the findings of *piece* agree.

    Args:
        piece: the findings.
        groups: which findings belong together.
        log_prior: log P(state), a hidden node each.
        log_posterior: log P(state, findings), a hidden node each.
    """
    place = {finding.node: i for i, finding in enumerate(piece.findings)}
    members = [[place[name] for name in group.nodes] for group in groups]
    names = [group.name for group in groups]
    pairs = list(combinations(range(len(groups)), 2))
    n = len(place)
    both = (members[a] + members[b] for a, b in pairs)
    every = chain(([i] for i in range(n)), members, both, [range(n)])
    logs = log_evidence(piece, every) / NATS_PER_BAN
    alone, of_group, of_pair = logs[:n], logs[n : n + len(groups)], logs[n + len(groups) : -1]
    within = [float(alone[own].sum() - g) for own, g in zip(members, of_group, strict=True)]
    between = [
        float(of_group[a] + of_group[b] - p) for (a, b), p in zip(pairs, of_pair, strict=True)
    ]
    total = float(alone.sum() - logs[-1])
    worst = max([total, *between], default=0.0)
    return Conflict(
        total,
        tuple(zip(names, within, strict=True)),
        tuple((names[a], names[b], size) for (a, b), size in zip(pairs, between, strict=True)),
        _explaining(piece, worst, log_prior, log_posterior) if worst > ROUNDING else None,
    )


def _explaining(
    piece: Piece, size: float, log_prior: Mapping[str, Floats], log_posterior: Mapping[str, Floats]
) -> Explaining | None:
    best: Explaining | None = None
    for name, before in log_prior.items():
        after = log_shares(log_posterior[name])
        with np.errstate(invalid="ignore"):
            lift = np.nan_to_num((after - before) / NATS_PER_BAN, nan=-np.inf)
        k = int(np.argmax(lift))
        if lift[k] > max(size, best.bans if best else 0.0):
            state = piece.network.states[name][k]
            best = Explaining(name, state, float(lift[k]), float(np.exp(after[k])))
    return best
