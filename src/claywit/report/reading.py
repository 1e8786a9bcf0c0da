"""A finding as a person would say it."""

import math
from collections.abc import Mapping
from typing import Literal

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import uncertainty
from claywit.model.schema import Node
from claywit.report.numbers import row_part

Form = Literal["state", "half_certain", "matrix", "likelihood", "not_visible", "measured"]


def form(finding: Finding) -> Form:
    """Return which form of finding this is."""
    if finding.not_visible:
        return "not_visible"
    if finding.measures:
        return "measured"
    if finding.likelihood:
        return "likelihood"
    if finding.matrix:
        return "matrix"
    return "half_certain" if finding.sure is not None else "state"


def reading(finding: Finding, node: Node) -> str:
    """Return what was read, with how sure it was, in the labels of the model."""
    kind = form(finding)
    if kind == "not_visible":
        return f"not visible ({finding.why})" if finding.why else "not visible"
    if finding.measures:
        return ", ".join(_measure(name, m, node) for name, m in finding.measures.items())
    if finding.likelihood:
        return _likelihood(finding.likelihood, node)
    label = _label(node, str(finding.state))
    if finding.matrix:
        return f"{label} (read with {finding.matrix})"
    return label if finding.sure is None else f"{label} (sure {row_part(finding.sure)})"


def _likelihood(stated: Mapping[str, float], node: Node) -> str:
    """Name the likeliest states first; states that are alike at the end are told together."""
    possible = {state: value for state, value in stated.items() if value > 0}
    if len(set(possible.values())) == 1:
        return " or ".join(_label(node, state) for state in possible)
    ranked = sorted(possible.items(), key=lambda pair: -pair[1])
    least = ranked[-1][1]
    alike = [state for state, value in ranked if value == least]
    told = ranked if len(alike) < 3 else ranked[: -len(alike)]
    shown = [f"{_label(node, state)} {value:.3g}" for state, value in told]
    return ", ".join([*shown, *([f"others {least:.3g}"] if len(told) < len(ranked) else [])])


def _label(node: Node, state: str) -> str:
    return node.state(state).label or state.replace("_", " ")


def _measure(name: str, measure: Measure, node: Node) -> str:
    unit = node.measured[name]
    shown = "" if len(node.measured) == 1 else f"{name.replace('_', ' ')} "
    unit = {"permille": "‰", "percent": "%", "1": "", "deg": "°"}.get(unit, unit)
    if measure.value is not None:
        u = uncertainty(node, name, measure)
        if not u:
            return f"{shown}{measure.value:.6g} {unit}".strip()
        decimals = 0 if u >= 1 else 1 - math.floor(math.log10(u))
        return f"{shown}{measure.value:.{decimals}f} ± {u:.3g} {unit}".strip()
    if measure.low is None:
        return f"{shown}below {measure.high:.6g} {unit}".strip()
    if measure.high is None:
        return f"{shown}above {measure.low:.6g} {unit}".strip()
    return f"{shown}between {measure.low:.6g} and {measure.high:.6g} {unit}".strip()
