"""Many pieces as columns: what a file of cases holds, typed by one model."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claywit.errors import CasesError
from claywit.evidence.findings import Finding, Measure
from claywit.model.schema import NOT_VISIBLE, Model, Node

Codes = NDArray[np.int16]
Floats = NDArray[np.float64]
Lines = NDArray[np.int64]


@dataclass(frozen=True)
class Cases:
    """A block of pieces as columns, typed by one model.

    model: the model whose nodes the columns are.
    names: the id of each piece.
    groups: the source collection of each piece, "" where none is given.
    lines: where each piece stands in its file: a line, or a row counted from 1.
    codes: for each discrete node with a column its index into `node.all_states`
        (`not_visible` last), -1 where not examined; shape (pieces,). Hidden nodes are
        columns like any other: the truth.
    values: for each measured node with a column its measures in the node's units, in the
        order of `node.measured`, nan where not measured; shape (pieces, measures).
    doubts: their standard uncertainties, nan where the model's own holds; as *values*.
    special: the findings in another form (half-certain, by a reading matrix, a likelihood,
        limits, a measure that is not visible), by row and node. There the columns say
        "not examined".
    """

    model: Model
    names: tuple[str, ...]
    groups: tuple[str, ...]
    lines: Lines
    codes: Mapping[str, Codes]
    values: Mapping[str, Floats]
    doubts: Mapping[str, Floats]
    special: Mapping[int, Mapping[str, Finding]]

    def __len__(self) -> int:
        """Return the number of pieces."""
        return len(self.names)

    def findings(self, row: int, without: Collection[str] = ()) -> tuple[Finding, ...]:
        """Return what was found on one piece as `bind` would have made it.

        In the order of the model's nodes; those on the nodes *without*, such as a known
        truth that is to be guessed, are left out.
        """
        special = self.special.get(row, {})
        named = (node for node in self.model.nodes if node.name not in without)
        found = (special.get(node.name) or self._finding(node, row) for node in named)
        return tuple(finding for finding in found if finding)

    def _finding(self, node: Node, row: int) -> Finding | None:
        if node.name in self.codes:
            return stated(node, int(self.codes[node.name][row]))
        if node.name not in self.values:
            return None
        values, doubts = self.values[node.name][row], self.doubts[node.name][row]
        measures = {
            name: Measure(value, None if np.isnan(u) else u)
            for name, value, u in zip(node.measured, values.tolist(), doubts.tolist(), strict=True)
            if not np.isnan(value)
        }
        return Finding(node.name, measures=measures) if measures else None

    def take(self, rows: Sequence[int] | NDArray[np.intp]) -> "Cases":
        """Return the pieces at *rows*, in that order."""
        at = np.asarray(rows, dtype=np.intp)
        chosen = at.tolist()
        return Cases(
            self.model,
            tuple(self.names[row] for row in chosen),
            tuple(self.groups[row] for row in chosen),
            self.lines[at],
            {name: column[at] for name, column in self.codes.items()},
            {name: column[at] for name, column in self.values.items()},
            {name: column[at] for name, column in self.doubts.items()},
            {i: self.special[row] for i, row in enumerate(chosen) if row in self.special},
        )


def stated(node: Node, code: int) -> Finding | None:
    """Return the plain finding that a code states, if it states one."""
    if code < 0:
        return None
    name = node.all_states[code]
    return Finding(node.name, not_visible=True) if name == NOT_VISIBLE else Finding(node.name, name)


def _taken(blocks: Iterable[Cases], most: int | None) -> list[Cases]:
    parts: list[Cases] = []
    count = 0
    for part in blocks:
        parts.append(part)
        count += len(part)
        if most is not None and count > most:
            raise CasesError(f"more than {most:,} pieces, which is the most that are taken at once")
    return parts


def joined(model: Model, blocks: Iterable[Cases], *, most: int | None = None) -> Cases:
    """Return the pieces of all *blocks* as one; a column that a block lacks says nothing there.

    Raises:
        CasesError: there are more than *most*; the blocks behind are not read then.
    """
    parts = _taken(blocks, most)
    sizes = [len(part) for part in parts]
    starts = np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp).tolist()
    discrete = [n for n in model.by_name if any(n in part.codes for part in parts)]
    measured = [n for n in model.by_name if any(n in part.values for part in parts)]

    def columns(kind: str, names: Sequence[str]) -> Iterator[tuple[str, Floats]]:
        for name in names:
            empty = [np.full((size, len(model.node(name).measured)), np.nan) for size in sizes]
            found = [getattr(p, kind).get(name, e) for p, e in zip(parts, empty, strict=True)]
            yield name, np.concatenate(found)

    return Cases(
        model,
        tuple(name for part in parts for name in part.names),
        tuple(group for part in parts for group in part.groups),
        np.concatenate([np.zeros(0, np.int64), *(part.lines for part in parts)]),
        {
            name: np.concatenate(
                [p.codes.get(name, np.full(len(p), -1, dtype=np.int16)) for p in parts]
            )
            for name in discrete
        },
        dict(columns("values", measured)),
        dict(columns("doubts", measured)),
        {
            start + row: found
            for start, part in zip(starts, parts, strict=False)
            for row, found in part.special.items()
        },
    )
