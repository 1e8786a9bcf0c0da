"""Files of many pieces out, a block at a time: the same pieces, always the same bytes."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any, BinaryIO

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.records.disk import drafted
from claywit.records.encoding import csv_rows, json_lines, parquet_writer
from claywit.records.flat import Column, as_written, columns_of, refuse_special
from claywit.records.kinds import delimiter_of, kind_of


def write_cases(path: Path, blocks: Iterable[Cases]) -> int:
    """Write *blocks* of pieces to a CSV, JSONL or Parquet file, and return how many they were.

    All blocks have the columns of the first. Only JSONL holds findings in every form.

    Raises:
        CasesError: there is no piece, or a form of finding that the kind of file has no place for.
        ClaywitError: the file cannot be written.
    """
    write = {"csv": _csv, "jsonl": _jsonl, "parquet": _parquet}[kind_of(path)]
    with drafted(path) as stream:
        count = write(stream, blocks, delimiter_of(path))
        if not count:
            raise CasesError(f"{path}: there is no piece to write")
    return count


def _csv(stream: BinaryIO, blocks: Iterable[Cases], delimiter: str) -> int:
    count, names = 0, None
    for cases in blocks:
        refuse_special(cases)
        columns = columns_of(cases)
        names = _same(names, columns)
        stream.write(csv_rows(columns, delimiter, head=not count))
        count += len(cases)
    return count


def _jsonl(stream: BinaryIO, blocks: Iterable[Cases], _: str) -> int:
    count = 0
    for cases in blocks:
        more: dict[int, dict[str, Any]] = {
            row: {name: as_written(finding) for name, finding in special.items()}
            for row, special in cases.special.items()
        }
        stream.write(json_lines(columns_of(cases), more))
        count += len(cases)
    return count


def _parquet(stream: BinaryIO, blocks: Iterable[Cases], _: str) -> int:
    count, names = 0, None
    with parquet_writer(stream) as write:
        for cases in blocks:
            refuse_special(cases)
            columns = columns_of(cases)
            names = _same(names, columns)
            write(columns)
            count += len(cases)
    return count


def _same(names: list[str] | None, columns: list[Column]) -> list[str]:
    found = [column.name for column in columns]
    if names is not None and names != found:
        more = next(iter(set(found) ^ set(names)))
        raise CasesError(
            f"column {more} is not in every part of the file, which only JSONL has a place for;"
            " end the name of the file in .jsonl"
        )
    return found
