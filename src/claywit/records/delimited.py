"""CSV files of many pieces, a line at a time."""

import csv
from collections.abc import Callable, Iterator, Sequence
from operator import itemgetter
from pathlib import Path
from typing import BinaryIO

from claywit.errors import CasesError, warn_of_end
from claywit.evidence.cells import Refused
from claywit.evidence.columns import GROUP, ID, REMARK, head
from claywit.model.schema import Model
from claywit.records.cells import plain
from claywit.records.rows import MAX_HELD, MAX_LINE, Lines, Rows, add
from claywit.records.table import delimiter_in


def read_csv(stream: BinaryIO, where: Path, model: Model, size: int) -> Iterator[Rows]:
    """Yield the rows of a CSV file in blocks of *size*.

    Raises:
        CasesError: the first line is no head for this model.
    """
    lines = Lines(stream)
    number, first = next(iter(lines), (1, b""))
    names, delimiter = _head(first, where)
    heading = head(names, model, f"{where}:{number}")
    row = _picker([names.index(name) for name in heading.parts])
    at_id, at_group = names.index(ID), names.index(GROUP) if GROUP in names else None
    block = Rows(heading)
    for number, line in lines:
        if not (line or b"x").strip(b" \r\n\t,;"):
            continue  # spreadsheets leave empty lines behind
        cells = _cells(line, lines, delimiter, names)
        if isinstance(cells, str):
            block.refused.append(Refused(number, "", cells))
        else:
            add(
                block,
                number,
                plain(cells[at_id].strip()),
                "" if at_group is None else plain(cells[at_group].strip()),
                row(cells),
            )
        block.size += len(line or b"")
        if len(block) >= size or block.size >= MAX_HELD:
            yield block
            block = Rows(heading)
    if lines.unended:
        warn_of_end(f"{where}:{lines.unended}")
    if len(block):
        yield block


def _picker(wanted: Sequence[int]) -> Callable[[Sequence[str]], Sequence[str]]:
    """Return what takes the cells *wanted* out of a row."""
    if len(wanted) < 2:
        return lambda cells: [cells[i] for i in wanted]
    return itemgetter(*wanted)


def _head(line: bytes | None, where: Path) -> tuple[list[str], str]:
    if line is None:
        raise CasesError(f"{where}:1: the first line is longer than {MAX_LINE:,} bytes")
    if line.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in line:
        raise CasesError(f"{where}:1: not UTF-8 text; save the file as CSV UTF-8")
    text = _text(line.removeprefix(b"\xef\xbb\xbf"))
    if text is None:
        raise CasesError(f"{where}:1: not UTF-8 text; save the file as CSV UTF-8")
    if "\r" in text:
        raise CasesError(f"{where}:1: lines end in a carriage return alone; save as CSV UTF-8")
    if not text.strip():
        raise CasesError(f"{where}:1: no head; the first line names the columns, as id,group,shell")
    delimiter = delimiter_in(text)
    cells = _split(text, delimiter)
    if cells is None:
        raise CasesError(f"{where}:1: a quotation mark is not closed in the first line")
    names = [cell.strip() for cell in cells]
    if not names[-1]:
        raise CasesError(f"{where}:1: column {len(names)} has no name; give it one, or remove it")
    return names, delimiter


def _text(line: bytes) -> str | None:
    try:
        return line.decode("utf-8").rstrip("\r\n")
    except UnicodeDecodeError:
        return None


def _split(text: str, delimiter: str) -> list[str] | None:
    """Return the cells of a record, None where a quotation mark is not closed."""
    if '"' not in text:
        return text.split(delimiter)
    try:
        return next(csv.reader([text], delimiter=delimiter, strict=True), [])
    except csv.Error:
        return None


def _cells(
    line: bytes | None, lines: Lines, delimiter: str, names: Sequence[str]
) -> list[str] | str:
    """Return the cells of the record that begins with *line*, or why it cannot be read."""
    if line is None:
        return f"a line of more than {MAX_LINE:,} bytes"
    if b"\0" in line:
        return "holds a NUL byte"
    text = _text(line)
    if text is None:
        return "not UTF-8 text"
    cells = _split(text, delimiter)
    if cells is None:
        cells = _across_lines(line, lines, delimiter, names)
    if cells is None:
        return "a quotation mark is not closed"
    if len(cells) != len(names):
        kind = "too many" if len(cells) > len(names) else "too few"
        return f"{len(cells):,} cells, {kind}: the first line names {len(names):,} columns"
    return cells


def _across_lines(
    line: bytes, lines: Lines, delimiter: str, names: Sequence[str]
) -> list[str] | None:
    """Return the cells of a record with line breaks in its remarks, None if it is not one.

    Whatever does not belong to it is read again, so a stray mark costs one piece, not fifty.
    """
    following = lines.following()
    whole = line
    for used, (_, more) in enumerate(following, 1):
        if more is None or len(whole) > MAX_LINE:
            break
        whole += more
        if more.count(b'"') % 2 == 0:
            continue
        text = _text(whole)
        cells = None if text is None else _split_lines(text, delimiter)
        if cells and len(cells) == len(names) and _breaks_only_in_remarks(cells, names):
            lines.give_back(following[used:])
            return cells
        break
    lines.give_back(following)
    return None


def _split_lines(text: str, delimiter: str) -> list[str] | None:
    try:
        found = list(csv.reader(text.splitlines(keepends=True), delimiter=delimiter, strict=True))
    except csv.Error:
        return None
    return found[0] if len(found) == 1 else None


def _breaks_only_in_remarks(cells: Sequence[str], names: Sequence[str]) -> bool:
    return not any(
        "\n" in cell and not name.startswith(REMARK)
        for name, cell in zip(names, cells, strict=True)
    )
