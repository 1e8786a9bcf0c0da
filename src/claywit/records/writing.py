"""Files of many pieces out, a block at a time: the same pieces, always the same bytes."""

import csv
import io
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, BinaryIO

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.records.cells import inert
from claywit.records.disk import drafted
from claywit.records.flat import Column, as_written, columns_of, refuse_special
from claywit.records.kinds import kind_of
from claywit.records.parquet import arrow


def write_cases(path: Path, blocks: Iterable[Cases]) -> int:
    """Write *blocks* of pieces to a CSV, JSONL or Parquet file, and return how many they were.

    All blocks have the columns of the first. Only JSONL holds findings in every form.

    Raises:
        CasesError: there is no piece, or a form of finding that the kind of file has no place for.
        ClaywitError: the file cannot be written.
    """
    write = {"csv": _csv, "jsonl": _jsonl, "parquet": _parquet}[kind_of(path)]
    delimiter = "\t" if path.suffix.lower() == ".tsv" else ","
    with drafted(path) as stream:
        count = write(stream, blocks, delimiter)
        if not count:
            raise CasesError(f"{path}: there is no piece to write")
    return count


def _csv(stream: BinaryIO, blocks: Iterable[Cases], delimiter: str) -> int:
    count, names = 0, None
    for cases in blocks:
        refuse_special(cases)
        columns = columns_of(cases)
        names = _same(names, columns)
        text = io.StringIO()
        sheet = csv.writer(text, delimiter=delimiter, lineterminator="\n")
        if not count:
            sheet.writerow(names)
        sheet.writerows(zip(*(_shown(column) for column in columns), strict=True))
        stream.write(text.getvalue().encode())
        count += len(cases)
    return count


def _shown(column: Column) -> list[str]:
    show = repr if column.is_number else inert
    return ["" if cell is None else show(cell) for cell in column.cells]


def _jsonl(stream: BinaryIO, blocks: Iterable[Cases], _: str) -> int:
    count = 0
    for cases in blocks:
        columns = columns_of(cases)
        names = [column.name for column in columns]
        for row, cells in enumerate(zip(*(column.cells for column in columns), strict=True)):
            piece: dict[str, Any] = {
                name: cell for name, cell in zip(names, cells, strict=True) if cell is not None
            }
            special = cases.special.get(row, {})
            piece |= {name: as_written(finding) for name, finding in special.items()}
            stream.write(f"{json.dumps(piece, ensure_ascii=False)}\n".encode())
        count += len(cases)
    return count


def _parquet(stream: BinaryIO, blocks: Iterable[Cases], _: str) -> int:
    pa = arrow()
    count, names, writer = 0, None, None
    for cases in blocks:
        refuse_special(cases)
        columns = columns_of(cases)
        names = _same(names, columns)
        kinds = [pa.float64() if column.is_number else pa.string() for column in columns]
        arrays = [pa.array(c.cells, kind) for c, kind in zip(columns, kinds, strict=True)]
        table = pa.table(arrays, names=names)
        writer = writer or pa.parquet.ParquetWriter(stream, table.schema)
        writer.write_table(table)
        count += len(cases)
    if writer:
        writer.close()
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
