"""How many pieces a file holds of each mould, without a model: cases, or counts by mould."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from claywit.errors import CasesError, did_you_mean
from claywit.model.schema import NOT_VISIBLE
from claywit.records.disk import read_bytes
from claywit.records.kinds import kind_of
from claywit.records.parquet import arrow

PIECES = "pieces"  # the column that makes it a file of counts
MAX_BYTES = 200_000_000
MAX_PIECES = 10**9


def tally(path: Path, node: str) -> dict[str, int]:
    """Return how many pieces there are of each state of *node*, by name.

    A file with a column `pieces` holds counts, any other one piece a row. A blank is a piece
    whose state is not known; it is left out, as is what was not visible.

    Raises:
        CasesError: the file cannot be read, has no such column, or a count is no number.
    """
    found: dict[str, int] = {}
    for place, row in _rows(path, node):
        name = str(row.get(node) or "").strip()
        if name in ("", NOT_VISIBLE):
            continue
        found[name] = found.get(name, 0) + _pieces(row, f"{path}:{place}")
    if not found:
        raise CasesError(f"{path}: no piece whose {node} is known")
    return found


def _pieces(row: Mapping[str, object], place: str) -> int:
    if PIECES not in row:
        return 1
    text = str(row[PIECES] if row[PIECES] is not None else "").strip()
    if not text.isascii() or not text.isdigit() or int(text[:12]) > MAX_PIECES:
        raise CasesError(f"{place}: pieces: '{text[:40]}' is no count; write a whole number")
    return int(text)


def _rows(path: Path, node: str) -> Iterator[tuple[int, Mapping[str, object]]]:
    kind = kind_of(path)
    if kind == "parquet":
        yield from enumerate(_parquet(path, node), 1)
        return
    content = read_bytes(path, MAX_BYTES, CasesError)
    if len(content) > MAX_BYTES:
        raise CasesError(f"{path}: more than the {MAX_BYTES:,} bytes that are read")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CasesError(f"{path}: not UTF-8 text; save the file as UTF-8") from None
    yield from _json_lines(text, path) if kind == "jsonl" else _csv(text, path, node)


def _csv(text: str, path: Path, node: str) -> Iterator[tuple[int, Mapping[str, object]]]:
    first = text.split("\n", 1)[0]
    delimiter = next((c for c in first if c in ",;\t"), ",")
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        names = [(name or "").strip() for name in reader.fieldnames or ()]
        _refuse_unknown(node, names, f"{path}:1")
        reader.fieldnames = names
        for row in reader:
            if None in row:
                raise CasesError(f"{path}:{reader.line_num}: more cells than the head names")
            yield reader.line_num, row
    except csv.Error as wrong:
        raise CasesError(f"{path}:{reader.line_num}: not readable as CSV: {wrong}") from None


def _json_lines(text: str, path: Path) -> Iterator[tuple[int, Mapping[str, object]]]:
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
        except (json.JSONDecodeError, RecursionError):
            raise CasesError(f"{path}:{number}: not readable as JSON") from None
        if not isinstance(row, dict):
            raise CasesError(f'{path}:{number}: one JSON object is expected, as {{"id": "p-1", …}}')
        yield number, row


def _parquet(path: Path, node: str) -> Iterator[Mapping[str, object]]:
    pa = arrow()
    try:
        with pa.parquet.ParquetFile(path) as file:
            names = file.schema_arrow.names
            _refuse_unknown(node, names, str(path))
            wanted = [node, *([PIECES] if PIECES in names else [])]
            for batch in file.iter_batches(columns=wanted):
                yield from batch.to_pylist()
    except (pa.ArrowException, OSError) as wrong:
        said = str(wrong).split("\n", maxsplit=1)[0][:200]
        raise CasesError(f"{path}: not readable as Parquet: {said}") from None


def _refuse_unknown(node: str, names: Iterable[str], place: str) -> None:
    known = list(names)
    if node not in known:
        hint = did_you_mean(node, known)
        raise CasesError(f"{place}: no column {node}; {hint}, or name another with --node")
