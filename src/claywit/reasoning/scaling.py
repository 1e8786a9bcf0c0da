"""One ratio for several measures: how large a piece is beside another, or beside a cavity."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.likelihood import uncertainty
from claywit.model.schema import Node


def one_ratio(logs: Sequence[float], variances: Sequence[float]) -> tuple[float, float, float]:
    """Return the mean of *logs*, its standard uncertainty, and how far the logs are from it.

    The mean is weighted by 1 / u²; the distance is the root of chi-squared over its degrees of
    freedom (least squares, in any textbook), 0 where a single log leaves none.
    """
    weights = 1 / np.array(variances)
    mean = float(weights @ logs / weights.sum())
    squares = float(weights @ (np.array(logs) - mean) ** 2)
    free = len(logs) - 1
    return mean, 1 / sqrt(float(weights.sum())), sqrt(squares / free) if free else 0.0


@dataclass(frozen=True)
class Scale:
    """A piece beside the cavity of a mould.

    ratio: size of the piece over that of the cavity; its shrinkage is 1 - ratio. u: standard.
    apart: how far the measures are from one ratio, in their standard uncertainties; None for one.
    pastes: for each paste how far this shrinkage is from its usual one, in standard deviations.
    """

    mould: str
    ratio: float
    u: float
    apart: float | None
    pastes: dict[str, float]


def scales(node: Node, finding: Finding) -> tuple[Scale, ...]:
    """Return the piece's scale beside each filed mould, in the order of the file.

    Empty where nothing was measured, or without any uncertainty.
    """
    known, read = node.dimensions, finding.measures or {}
    sizes = {
        name: (measure.value, uncertainty(node, name, measure))
        for name, measure in read.items()
        if measure.value is not None and measure.value > 0
    }
    if known is None or not sizes or min(u for _, u in sizes.values()) <= 0:
        return ()
    found = []
    for mould, cavity in known.cavity.items():
        logs = [log(value / cavity[name]) for name, (value, _) in sizes.items()]
        mean, u, apart = one_ratio(logs, [(u / value) ** 2 for value, u in sizes.values()])
        ratio = exp(mean)
        pastes = {
            paste: (1 - ratio - shrunk.mean) / sqrt(shrunk.sd**2 + (ratio * u) ** 2)
            for paste, shrunk in known.shrinkage.items()
        }
        found.append(Scale(mould, ratio, ratio * u, apart if len(logs) > 1 else None, pastes))
    return tuple(found)
