"""Pieces as columns of cells, the way a file holds them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.evidence.columns import GROUP, ID
from claywit.evidence.findings import Finding, Measure
from claywit.model.schema import NOT_VISIBLE, Node


@dataclass(frozen=True)
class Column:
    """One column of a file; None for an empty cell.

    digits: how many significant digits a number is rounded to; None for it as it stands.
    """

    name: str
    is_number: bool
    cells: list[Any]
    digits: int | None = None


def columns_of(cases: Cases) -> list[Column]:
    """Return the columns of a block: id, group if there are any, then node by node."""
    found = [Column(ID, is_number=False, cells=list(cases.names))]
    if any(cases.groups):
        found.append(Column(GROUP, is_number=False, cells=[g or None for g in cases.groups]))
    for node in cases.model.nodes:
        if node.name in cases.codes:
            names = [*node.all_states, None]  # -1, not examined, is the last
            cells = [names[code] for code in cases.codes[node.name].tolist()]
            found.append(Column(node.name, is_number=False, cells=cells))
        elif node.name in cases.values:
            found += _measures(cases, node)
    return found


def _measures(cases: Cases, node: Node) -> Iterator[Column]:
    if node.visibility:
        hidden: list[str | None] = [None] * len(cases)
        for row, special in cases.special.items():
            if node.name in special and special[node.name].not_visible:
                hidden[row] = NOT_VISIBLE
        yield Column(node.name, is_number=False, cells=hidden)
    for i, measure in enumerate(node.measured):
        short = len(node.measured) == 1 and not node.visibility
        name = node.name if short else f"{node.name}.{measure}"
        doubts = cases.doubts[node.name][:, i]
        yield Column(name, is_number=True, cells=_numbers(cases.values[node.name][:, i]))
        if not np.isnan(doubts).all():
            yield Column(f"{name}.u", is_number=True, cells=_numbers(doubts))


def _numbers(values: np.typing.NDArray[np.float64]) -> list[float | None]:
    return [value if value == value else None for value in values.tolist()]  # noqa: PLR0124 - nan


def refuse_special(cases: Cases) -> None:
    """Refuse a form of finding that only JSONL has a place for.

    Raises:
        CasesError: as said, naming the piece and the node.
    """
    for row, special in cases.special.items():
        for finding in special.values():
            if not finding.not_visible:
                raise CasesError(
                    f"{cases.names[row]}: {finding.node} is no plain state or value, which only"
                    " JSONL has a place for; end the name of the file in .jsonl"
                )


def as_written(finding: Finding) -> str | Mapping[str, Any]:
    """Return a finding as an evidence file writes it, numbers in the node's own unit."""
    if finding.not_visible:
        return NOT_VISIBLE
    if finding.likelihood is not None:
        return {"likelihood": dict(finding.likelihood)}
    if finding.measures is not None:
        return {name: _as_measured(measure) for name, measure in finding.measures.items()}
    doubt = {"sure": finding.sure, "reading": finding.matrix}
    return {"state": finding.state, **{k: v for k, v in doubt.items() if v is not None}}


def _as_measured(measure: Measure) -> Mapping[str, Any]:
    if measure.value is not None:
        return {"value": measure.value} | ({"u": measure.u} if measure.u is not None else {})
    if measure.low is not None and measure.high is not None:
        return {"between": [measure.low, measure.high]}
    return {"above": measure.low} if measure.high is None else {"below": measure.high}
