"""How many pieces a file holds of each mould, without a model: cases, or counts by mould."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

from claywit.errors import CasesError, did_you_mean
from claywit.model.schema import NOT_VISIBLE
from claywit.records.disk import plain_file
from claywit.records.jsonl import object_on
from claywit.records.kinds import kind_of
from claywit.records.parquet import arrow, explained
from claywit.records.rows import Lines
from claywit.records.table import table_rows

PIECES = "pieces"  # the column that makes it a file of counts
MAX_PIECES = 10**9


def tally(path: Path, node: str) -> dict[str, int]:
    """Return how many pieces there are of each state of *node*, by name.

    A file with a column `pieces` holds counts, any other one piece a row. A blank is a piece
    whose state is not known; it is left out, as is what was not visible.

    Raises:
        CasesError: the file cannot be read, has no such column, a count is no number, or
            a state is no plain name.
    """
    found: dict[str, int] = {}
    for place, row in _rows(path, node):
        name = _state(row.get(node), node, f"{path}:{place}")
        if name in ("", NOT_VISIBLE):
            continue
        found[name] = found.get(name, 0) + _pieces(row, f"{path}:{place}")
    if not found:
        raise CasesError(f"{path}: no piece whose {node} is known")
    return found


def _state(cell: object, node: str, place: str) -> str:
    if isinstance(cell, bool) or not (cell is None or isinstance(cell, str | int)):
        raise CasesError(
            f"{place}: {node}: not a plain name, so this piece cannot be counted for one state;"
            " name the state, or leave it blank"
        )
    return _text(cell)


def _pieces(row: Mapping[str, object], place: str) -> int:
    if PIECES not in row:
        return 1
    text = _text(row[PIECES])
    figures = text.lstrip("0") or text[-1:]
    if not (text.isascii() and text.isdigit()) or len(figures) > 10 or int(figures) > MAX_PIECES:
        raise CasesError(f"{place}: pieces: '{text[:40]}' is no count; write a whole number")
    return int(figures)


def _text(cell: object) -> str:
    return "" if cell is None else str(cell).strip()


def _rows(path: Path, node: str) -> Iterator[tuple[int, Mapping[str, object]]]:
    kind = kind_of(path)
    if kind == "parquet":
        yield from enumerate(_parquet(path, node), 1)
        return
    with plain_file(path, CasesError) as stream:
        yield from _json_lines(stream, path) if kind == "jsonl" else _csv(stream, path, node)


def _csv(stream: BinaryIO, path: Path, node: str) -> Iterator[tuple[int, Mapping[str, object]]]:
    rows = table_rows(stream, str(path), CasesError)
    _, names = next(rows, (1, []))
    _refuse_unknown(node, names, f"{path}:1")
    for line, cells in rows:
        if len(cells) > len(names):
            raise CasesError(f"{path}:{line}: more cells than the head names")
        yield line, dict(zip(names, cells, strict=False))


def _json_lines(stream: BinaryIO, path: Path) -> Iterator[tuple[int, Mapping[str, object]]]:
    for number, line in Lines(stream):
        if line is not None and not line.strip():
            continue
        try:
            yield number, object_on(line)
        except ValueError as wrong:
            raise CasesError(f"{path}:{number}: {str(wrong)[:200]}") from None


def _parquet(path: Path, node: str) -> Iterator[Mapping[str, object]]:
    pa = arrow()
    with explained(path), pa.parquet.ParquetFile(path) as file:
        names = file.schema_arrow.names
        _refuse_unknown(node, names, str(path))
        wanted = [node, *([PIECES] if PIECES in names else [])]
        for batch in file.iter_batches(columns=wanted):
            yield from batch.to_pylist()


def _refuse_unknown(node: str, names: Iterable[str], place: str) -> None:
    known = list(names)
    if node not in known:
        hint = did_you_mean(node, known)
        raise CasesError(f"{place}: no column {node}; {hint}, or name another with --node")
