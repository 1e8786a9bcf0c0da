"""What was seen: findings as values, each in one of the forms in which a thing is seen."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """A measured value, or the limits it lies between, in the node's own unit.

    u: standard uncertainty; None where the model's own holds.
    low, high: limits of a value that was only bounded; None where there is no limit.
    """

    value: float | None = None
    u: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Finding:
    """One finding on one node, in just one of these forms.

    state: read for certain, or right with probability *sure*, or read by an examiner
        whose reading matrix is *matrix*.
    likelihood: P(what was seen | state) up to scale, largest 1, for every visible state.
    not_visible: something is in the way; a finding of its own.
    not_applicable: there is nothing to read; recorded, not weighed.
    measures: measured values by the name of the measure.

    implied_by: the events, earliest first, whose order this finding was read from.
    """

    node: str
    state: str | None = None
    sure: float | None = None
    matrix: str | None = None
    likelihood: Mapping[str, float] | None = None
    not_visible: bool = False
    not_applicable: bool = False
    measures: Mapping[str, Measure] | None = None
    why: str = ""
    method: str = ""
    where: str = ""
    note: str = ""
    implied_by: tuple[str, str] | None = None
