"""Where two examiners' readings of one piece agree, and how they differ."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot, inf
from typing import Literal

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import uncertainty
from claywit.model.schema import Model, Node

COVERAGE = 2  # times the standard uncertainty: about 95 % (GUM, JCGM 100:2008, 6.2; from memory)

Kind = Literal["same", "within", "only_a", "only_b", "visible", "state", "sure", "measure"]


@dataclass(frozen=True)
class Point:
    """One trait that at least one of two examiners read.

    kind: *same*: the same words; *within*: measured alike within their uncertainty; else what
    the dispute is about: a reading that only one has, whether the trait could be seen, which
    state it shows, how sure that is, or what it measures.
    """

    node: str
    kind: Kind
    a: Finding | None
    b: Finding | None

    @property
    def agreed(self) -> bool:
        """Return whether the two say the same."""
        return self.kind in ("same", "within")


def compare(model: Model, a: Sequence[Finding], b: Sequence[Finding]) -> tuple[Point, ...]:
    """Return every trait that one of two examiners read, in the order of the model's nodes."""
    by_a, by_b = ({finding.node: finding for finding in side} for side in (a, b))
    points = []
    for node in model.nodes:
        one, other = by_a.get(node.name), by_b.get(node.name)
        if one or other:
            points.append(Point(node.name, _kind(node, one, other), one, other))
    return tuple(points)


def tied(model: Model, nodes: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Return *nodes* in sets, those together of which one decides whether another applies.

    A crack has lips only where there is a crack: to take the one reading from A and the other
    from B would describe no piece.
    """
    parents = {
        name: model.by_name[name].applies_if if name in model.by_name else {} for name in nodes
    }
    sets: list[list[str]] = []
    for name in nodes:
        kin = [
            found for found in sets if any(name in parents[o] or o in parents[name] for o in found)
        ]
        sets = [found for found in sets if found not in kin]
        sets.append([*(other for found in kin for other in found), name])
    place = {name: i for i, name in enumerate(nodes)}
    ordered = (tuple(sorted(found, key=lambda n: place[n])) for found in sets)
    return tuple(sorted(ordered, key=lambda found: place[found[0]]))


def _kind(node: Node, a: Finding | None, b: Finding | None) -> Kind:
    if a is None or b is None:
        return "only_b" if a is None else "only_a"
    if a.not_visible or b.not_visible:
        return "same" if a.not_visible and b.not_visible else "visible"
    if a.measures and b.measures:
        return _measured(node, a.measures, b.measures)
    if _weighed(a) == _weighed(b):
        return "same"
    return "sure" if _favoured(node, a) & _favoured(node, b) else "state"


def _weighed(finding: Finding) -> tuple[object, ...]:
    """Return what counts of a reading; method, place and note do not."""
    return finding.state, finding.sure, finding.matrix, finding.likelihood


def _favoured(node: Node, finding: Finding) -> set[str]:
    if finding.likelihood is None:
        return {str(finding.state)}
    most = max(finding.likelihood.values())
    return {state for state in node.state_names if finding.likelihood[state] == most}


def _measured(node: Node, a: Mapping[str, Measure], b: Mapping[str, Measure]) -> Kind:
    if set(a) != set(b):
        return "measure"
    pairs = [((a[n], uncertainty(node, n, a[n])), (b[n], uncertainty(node, n, b[n]))) for n in a]
    if all(one == other for one, other in pairs):
        return "same"
    return "within" if all(_alike(one, other) for one, other in pairs) else "measure"


def _alike(one: tuple[Measure, float], other: tuple[Measure, float]) -> bool:
    (m, u), (n, v) = one, other
    if m.value is not None and n.value is not None:
        return abs(m.value - n.value) <= COVERAGE * hypot(u, v)
    (low, high), (bottom, top) = _limits(m, u), _limits(n, v)
    return low <= top and bottom <= high


def _limits(measure: Measure, u: float) -> tuple[float, float]:
    if measure.value is not None:
        return measure.value - COVERAGE * u, measure.value + COVERAGE * u
    return (
        -inf if measure.low is None else measure.low,
        inf if measure.high is None else measure.high,
    )
