"""Columns as bytes of a CSV, JSONL or Parquet file."""

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, BinaryIO

from claywit.records.cells import inert_column
from claywit.records.flat import Column
from claywit.records.parquet import arrow


def csv_rows(columns: Sequence[Column], delimiter: str, *, head: bool) -> bytes:
    """Return the rows of *columns*, after their names if the *head* is wanted."""
    text = io.StringIO()
    sheet = csv.writer(text, delimiter=delimiter, lineterminator="\n")
    if head:
        sheet.writerow([column.name for column in columns])
    shown = [_texts(column) if column.is_number else _inert(column) for column in columns]
    rows = zip(*shown, strict=True)
    words = "".join("".join(s) for s, c in zip(shown, columns, strict=True) if not c.is_number)
    if any(mark in words for mark in ('"', "\r", "\n", delimiter)):
        sheet.writerows(rows)
    else:  # nothing to quote, which is several times as fast to find out at once
        text.writelines(f"{line}\n" for line in map(delimiter.join, rows))
    return text.getvalue().encode()


def _inert(column: Column) -> list[str]:
    return inert_column(["" if cell is None else cell for cell in column.cells])


def _texts(column: Column) -> list[str]:
    """Return the numbers of a column as they are written, "" for an empty cell."""
    if column.digits is None:
        return ["" if cell is None else repr(cell) for cell in column.cells]
    form = f"%.{column.digits}g"
    return ["" if cell is None else form % cell for cell in column.cells]


def _values(column: Column) -> list[Any]:
    """Return the cells of a column, rounded as they would be written."""
    if column.digits is None:
        return column.cells
    return [float(text) if text else None for text in _texts(column)]


def json_lines(columns: Sequence[Column], more: Mapping[int, Mapping[str, Any]] = {}) -> bytes:
    """Return an object a row, without what is empty; *more* keys for some rows."""
    names = [column.name for column in columns]
    lines = []
    for row, cells in enumerate(zip(*map(_values, columns), strict=True)):
        piece = {name: cell for name, cell in zip(names, cells, strict=True) if cell is not None}
        lines.append(f"{json.dumps({**piece, **more.get(row, {})}, ensure_ascii=False)}\n")
    return "".join(lines).encode()


@contextmanager
def parquet_writer(
    stream: BinaryIO, metadata: Mapping[str, str] = {}
) -> Iterator[Callable[[Sequence[Column]], None]]:
    """Yield what writes columns as one row group of a Parquet file, *metadata* in its schema."""
    pa = arrow()
    writer: Any = None

    def write(columns: Sequence[Column]) -> None:
        nonlocal writer
        kinds = [pa.float64() if column.is_number else pa.string() for column in columns]
        arrays = [pa.array(_values(c), kind) for c, kind in zip(columns, kinds, strict=True)]
        names = [column.name for column in columns]
        table = pa.table(arrays, names=names, metadata=dict(metadata) or None)
        writer = writer or pa.parquet.ParquetWriter(stream, table.schema)
        writer.write_table(table)

    try:
        yield write
    finally:
        if writer:
            writer.close()
