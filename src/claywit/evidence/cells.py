"""Cells of a file of cases given the meaning that a model has for them.

What is plain, a state or a number, is read a column at a time. Everything else goes through
`meaning`, as in an evidence file, so that both are read alike and refused in the same words.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import repeat
from math import isnan, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.errors import EvidenceError
from claywit.evidence.binding import applicable
from claywit.evidence.cases import Cases, Codes, Floats
from claywit.evidence.columns import Head, Part
from claywit.evidence.findings import Finding
from claywit.evidence.meaning import FINEST, NOT_APPLICABLE
from claywit.evidence.said import Cell, meaning_of
from claywit.model.quantities import LEAST, MOST, UNITS, quantity
from claywit.model.schema import Model, Node
from claywit.model.values import is_number, number

Bools = NDArray[np.bool_]
_BLANK, _NOT_APPLICABLE, _ODD = -1, -2, -3
_REMEMBERED = 20_000  # different cells whose meaning is kept


@dataclass(frozen=True)
class Raw:
    """A block of pieces as written: *cells* by column, one list entry a piece."""

    names: Sequence[str]
    groups: Sequence[str]
    lines: Sequence[int]
    cells: Mapping[str, Sequence[Cell]]


@dataclass(frozen=True)
class Refused:
    """A piece that cannot be used: where it stands, its id, and why."""

    line: int
    name: str
    reason: str


@dataclass
class _Block:
    """What is known of a block so far; *faults* and *special* by row."""

    codes: dict[str, Codes]
    values: dict[str, Floats]
    doubts: dict[str, Floats]
    special: dict[int, dict[str, Finding]]
    blank_for: dict[str, set[int]]
    faults: dict[int, str]


@dataclass(frozen=True)
class Typing:
    """How the cells under one *head* are given the meaning that *model* has for them."""

    model: Model
    head: Head

    def typed(self, raw: Raw) -> tuple[Cases, list[Refused]]:
        """Return the pieces that can be used, and those that cannot, each with its reason."""
        block = _Block({}, {}, {}, {}, {}, {})
        for node in self.model.nodes:
            columns = self.head.by_node.get(node.name)
            if columns:
                cells = {part: raw.cells[name] for part, name in columns.items()}
                (self._measures if node.measured else self._states)(node, cells, block)
        self._refuse_where_nothing_applies(block, len(raw.names))
        cases = Cases(
            self.model,
            tuple(raw.names),
            tuple(raw.groups),
            np.array(raw.lines, dtype=np.int64),
            block.codes,
            block.values,
            block.doubts,
            block.special,
        )
        if not block.faults:
            return cases, []
        refused = [
            Refused(raw.lines[row], raw.names[row], why)
            for row, why in sorted(block.faults.items())
        ]
        return cases.take([row for row in range(len(cases)) if row not in block.faults]), refused

    def _states(self, node: Node, cells: Mapping[Part, Sequence[Cell]], block: _Block) -> None:
        lookup: dict[Cell, int] = {state: i for i, state in enumerate(node.all_states)}
        lookup |= {None: _BLANK, "": _BLANK, NOT_APPLICABLE: _NOT_APPLICABLE}
        main = cells.get(Part(node.name))
        more = [column for part, column in cells.items() if part.key]
        if main is None:
            codes = np.full(len(more[0]), _BLANK, dtype=np.int16)
        else:
            codes = np.array(_looked_up(lookup, main), dtype=np.int16)
        for column in more:
            codes[_filled(column)] = _ODD
        odd = np.flatnonzero(codes == _ODD).tolist()
        block.blank_for[node.name] = set(np.flatnonzero(codes == _NOT_APPLICABLE).tolist())
        codes[codes < 0] = _BLANK
        block.codes[node.name] = codes
        for row in odd:
            finding = self._odd(node, row, cells, block)
            if finding is None:
                continue
            if finding == Finding(node.name, finding.state, not_visible=finding.not_visible):
                codes[row] = len(node.states) if finding.not_visible else lookup[finding.state]
            else:
                block.special.setdefault(row, {})[node.name] = finding

    def _measures(self, node: Node, cells: Mapping[Part, Sequence[Cell]], block: _Block) -> None:
        count = len(next(iter(cells.values())))
        values = np.full((count, len(node.measured)), nan)
        doubts = values.copy()
        plain = dict(_plain_columns(node, cells))
        odd: Bools = np.zeros(count, dtype=np.bool_)
        for part, (i, into) in plain.items():
            column = (doubts if into == "u" else values)[:, i]
            given, strange = _numbers(cells[part], node.measured[list(node.measured)[i]])
            odd |= strange | ~(np.isnan(given) | np.isnan(column))  # given in two places
            np.copyto(column, given, where=np.isnan(column))
        for i, unit in enumerate(node.measured.values()):
            odd |= _doubtful(values[:, i], doubts[:, i], unit)
        for part in cells.keys() - plain.keys():
            odd |= _filled(cells[part])
        values[odd], doubts[odd] = nan, nan
        block.values[node.name], block.doubts[node.name] = values, doubts
        block.blank_for[node.name] = set()
        for row in np.flatnonzero(odd).tolist():
            finding = self._odd(node, row, cells, block)
            if finding is None:
                continue
            said = finding.measures or {}
            if not said or any(measure.value is None for measure in said.values()):
                block.special.setdefault(row, {})[node.name] = finding
                continue
            for i, name in enumerate(node.measured):
                if name in said:
                    values[row, i] = said[name].value
                    doubts[row, i] = nan if said[name].u is None else said[name].u

    def _odd(
        self, node: Node, row: int, cells: Mapping[Part, Sequence[Cell]], block: _Block
    ) -> Finding | None:
        """Return what cells that are not plain mean; note a fault, or that nothing applies."""
        said = {part: _stripped(column[row]) for part, column in cells.items()}
        held = tuple((part, cell) for part, cell in said.items() if cell is not None)
        if not held:
            return None
        finding: Finding | str
        try:
            finding = self._meaning(node.name, held)
        except TypeError:  # a mapping cannot be remembered by what it holds
            finding = meaning_of(self.model, node, dict(held))
        if isinstance(finding, str):
            block.faults.setdefault(row, f"{node.name}: {finding}")
            return None
        if finding.not_applicable:
            block.blank_for[node.name].add(row)
            return None
        return finding

    @cached_property
    def _meaning(self) -> Any:
        @lru_cache(maxsize=_REMEMBERED)
        def remembered(name: str, held: tuple[tuple[Part, Cell], ...]) -> Finding | str:
            return meaning_of(self.model, self.model.node(name), dict(held))

        return remembered

    def _refuse_where_nothing_applies(self, block: _Block, count: int) -> None:
        """Note a fault where a trait was read that another reading says there is nothing of."""
        doubtful: Bools = np.zeros(count, dtype=np.bool_)
        for node in self.model.nodes:
            if not node.applies_if or node.name not in block.blank_for:
                continue
            against: Bools = np.zeros(count, dtype=np.bool_)
            for parent, allowed in node.applies_if.items():
                codes = block.codes.get(parent, np.full(count, _BLANK, dtype=np.int16))
                states = self.model.node(parent).all_states
                met = [states.index(state) for state in allowed]
                against |= (
                    (codes >= 0)
                    & (codes < len(self.model.node(parent).states))
                    & ~np.isin(codes, met)
                )
            doubtful |= against & _found(block, node, count)
        for rows in block.blank_for.values():
            doubtful[list(rows)] = True
        doubtful[list(block.special)] = True
        for row in np.flatnonzero(doubtful).tolist():
            if row not in block.faults:
                self._check_applicable(block, row)

    def _check_applicable(self, block: _Block, row: int) -> None:
        one = Cases(
            self.model, ("",) * (row + 1), (), np.zeros(0, np.int64),
            block.codes, block.values, block.doubts, block.special,
        )  # fmt: skip
        found = {finding.node: finding for finding in one.findings(row)}
        for name, rows in block.blank_for.items():
            if row in rows:
                found[name] = Finding(name, not_applicable=True)
        try:
            applicable(self.model, found, lambda _: "")
        except EvidenceError as wrong:
            block.faults[row] = str(wrong).removeprefix(": ")


def _plain_columns(
    node: Node, cells: Mapping[Part, Sequence[Cell]]
) -> Iterator[tuple[Part, tuple[int, str]]]:
    """Yield the columns that may hold plain numbers, with the measure and what they say of it."""
    names = list(node.measured)
    for part in cells:
        if part.key in ("value", "u"):
            yield part, (names.index(part.measure), part.key)
        elif not part.key and len(names) == 1:
            yield part, (0, "value")


def _looked_up(lookup: Mapping[Cell, int], cells: Sequence[Cell]) -> list[int]:
    try:
        return list(map(lookup.get, cells, repeat(_ODD)))
    except TypeError:  # a mapping, which is said in another way
        return [_ODD if isinstance(cell, dict | list) else lookup.get(cell, _ODD) for cell in cells]


def _filled(column: Sequence[Cell]) -> Bools:
    return np.array([cell is not None and cell != "" for cell in column], dtype=np.bool_)


def _found(block: _Block, node: Node, count: int) -> Bools:
    if node.name in block.codes:
        return block.codes[node.name] >= 0
    if node.name in block.values:
        some: Bools = np.any(~np.isnan(block.values[node.name]), axis=1)
        return some
    return np.zeros(count, dtype=np.bool_)


def _stripped(cell: Cell) -> Cell:
    text = cell.strip() if isinstance(cell, str) else cell
    return None if text == "" or (isinstance(text, float) and isnan(text)) else text


def _numbers(column: Sequence[Cell], unit: str) -> tuple[Floats, Bools]:
    """Return the plain numbers of a column in *unit*, and where a cell is something else."""
    found = np.array(
        [
            float(cell) if cell.__class__ is str and is_number(cell) else _number(cell, unit)
            for cell in column
        ],
        dtype=np.float64,
    )
    found[np.isinf(found)] = nan
    strange = np.zeros(len(column), dtype=np.bool_)
    for row in np.flatnonzero(np.isnan(found)).tolist():
        strange[row] = not _blank(column[row])
    return found, strange


def _blank(cell: Cell) -> bool:
    return cell is None or cell == "" or cell != cell  # noqa: PLR0124 - nan


def _number(cell: Cell, unit: str) -> float:
    if _blank(cell):
        return nan
    try:
        return number(cell)
    except ValueError:
        pass
    try:
        return quantity(cell, unit) if isinstance(cell, str) else nan
    except ValueError:
        return nan


def _doubtful(values: Floats, doubts: Floats, unit: str) -> Bools:
    """Return where a plain number is one that `meaning` might refuse."""
    size = np.abs(values)
    small = (values <= 0) & (UNITS[unit].kind in ("length", "mass"))
    odd_size = (values != 0) & ~np.isnan(values) & ~((size >= LEAST) & (size <= MOST))
    stated = ~np.isnan(doubts)
    fine = stated & ((doubts <= 0) | (doubts < FINEST * size) | (doubts > MOST) | (doubts < LEAST))
    found: Bools = small | odd_size | fine | (stated & np.isnan(values))
    return found
