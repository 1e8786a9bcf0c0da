"""Parquet files of many pieces, read and written a block at a time."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from claywit.errors import CasesError
from claywit.evidence.cells import Refused
from claywit.evidence.columns import GROUP, ID, head
from claywit.model.schema import Model
from claywit.records.rows import Rows, name_fault

MAX_GROUP = 2**30  # bytes of a row group before compression, read as one


def arrow() -> Any:
    """Return pyarrow with its Parquet module.

    Raises:
        CasesError: it is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet
    except ImportError:
        raise CasesError(
            "Parquet needs one more package; install claywit[parquet], or use CSV or JSONL"
        ) from None
    return pa


def read_parquet(path: Path, model: Model, size: int) -> Iterator[Rows]:
    """Yield the rows of a Parquet file in blocks of *size*.

    Raises:
        CasesError: it is no Parquet file, or its columns do not fit the model.
    """
    pa = arrow()
    try:
        with pa.parquet.ParquetFile(path) as file:
            yield from _read(file, pa, path, model, size)
    except (pa.ArrowException, OSError) as wrong:
        said = str(wrong).split("\n", maxsplit=1)[0][:200]
        raise CasesError(f"{path}: not readable as Parquet: {said}") from None


def _read(file: Any, pa: Any, path: Path, model: Model, size: int) -> Iterator[Rows]:
    schema = file.schema_arrow
    heading = head(schema.names, model, str(path))
    wanted = [ID, *([GROUP] if GROUP in schema.names else []), *heading.parts]
    for name in wanted:
        _refuse_type(name, schema.field(name).type, pa, path)
    for i in range(file.metadata.num_row_groups):
        found = file.metadata.row_group(i).total_byte_size
        if found > MAX_GROUP:
            raise CasesError(
                f"{path}: row group {i + 1} holds {found:,} bytes; write the file in row"
                f" groups of at most {MAX_GROUP:,}"
            )
    line = 0
    for batch in file.iter_batches(batch_size=size, columns=wanted):
        columns = {name: batch.column(name).to_pylist() for name in wanted}
        block = Rows(heading)
        groups = columns.get(GROUP) or [None] * batch.num_rows
        cells = zip(*(columns[name] for name in heading.parts), strict=True)
        rows = cells if heading.parts else iter([()] * batch.num_rows)
        for name, group, row in zip(columns[ID], groups, rows, strict=True):
            line += 1
            text = "" if name is None else str(name).strip()
            fault = name_fault(text)
            if fault:
                block.refused.append(Refused(line, text[:120], fault))
                continue
            block.names.append(text)
            block.groups.append("" if group is None else str(group)[:120])
            block.lines.append(line)
            block.cells.append(row)
        if len(block):
            yield block


def _refuse_type(name: str, kind: Any, pa: Any, path: Path) -> None:
    types = pa.types
    inner = kind.value_type if types.is_dictionary(kind) else kind
    fits = (
        types.is_string(inner)
        or types.is_large_string(inner)
        or types.is_integer(inner)
        or types.is_floating(inner)
        or types.is_null(inner)
    )
    if not fits:
        raise CasesError(f"{path}: column {name} holds {kind}; text or numbers are expected")
