"""Columns as bytes of a CSV, JSONL or Parquet file."""

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, BinaryIO

from claywit.records.cells import inert
from claywit.records.flat import Column
from claywit.records.parquet import arrow


def csv_rows(columns: Sequence[Column], delimiter: str, *, head: bool) -> bytes:
    """Return the rows of *columns*, after their names if the *head* is wanted."""
    text = io.StringIO()
    sheet = csv.writer(text, delimiter=delimiter, lineterminator="\n")
    if head:
        sheet.writerow([column.name for column in columns])
    sheet.writerows(zip(*(_shown(column) for column in columns), strict=True))
    return text.getvalue().encode()


def _shown(column: Column) -> list[str]:
    show = repr if column.is_number else inert
    return ["" if cell is None else show(cell) for cell in column.cells]


def json_lines(columns: Sequence[Column], more: Mapping[int, Mapping[str, Any]] = {}) -> bytes:
    """Return an object a row, without what is empty; *more* keys for some rows."""
    names = [column.name for column in columns]
    lines = []
    for row, cells in enumerate(zip(*(column.cells for column in columns), strict=True)):
        piece = {name: cell for name, cell in zip(names, cells, strict=True) if cell is not None}
        lines.append(f"{json.dumps({**piece, **more.get(row, {})}, ensure_ascii=False)}\n")
    return "".join(lines).encode()


@contextmanager
def parquet_writer(stream: BinaryIO) -> Iterator[Callable[[Sequence[Column]], None]]:
    """Yield what writes columns as one row group of a Parquet file."""
    pa = arrow()
    writer: Any = None

    def write(columns: Sequence[Column]) -> None:
        nonlocal writer
        kinds = [pa.float64() if column.is_number else pa.string() for column in columns]
        arrays = [pa.array(c.cells, kind) for c, kind in zip(columns, kinds, strict=True)]
        table = pa.table(arrays, names=[column.name for column in columns])
        writer = writer or pa.parquet.ParquetWriter(stream, table.schema)
        writer.write_table(table)

    try:
        yield write
    finally:
        if writer:
            writer.close()
