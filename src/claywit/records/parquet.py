"""Parquet files of many pieces, read and written a block at a time."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from claywit.errors import CasesError
from claywit.evidence.columns import GROUP, ID, head
from claywit.model.schema import Model
from claywit.records.disk import refuse_unplain
from claywit.records.rows import Rows, add

LONGEST_CELL = 1_000  # characters; what is longer is no state, and no name of a piece
MAX_GROUP = 2**30  # bytes of a row group before compression, read as one


def arrow() -> Any:
    """Return pyarrow with its Parquet module.

    Raises:
        CasesError: it is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.compute
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
    with explained(path):
        with pa.parquet.ParquetFile(path) as file:
            texts = [part.name for part in file.schema_arrow if _is_text(part.type, pa)]
        # By its dictionary: a long text said ten thousand times is held once. And not ahead: what
        # is read ahead is kept until the file is closed.
        with pa.parquet.ParquetFile(path, read_dictionary=texts, pre_buffer=False) as file:
            yield from _read(file, pa, path, model, size)


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn whatever a reader of Parquet stumbles over into an error that a person can put right.

    Raises:
        CasesError: there is no such file, it is none, or it is damaged.
    """
    refuse_unplain(path, CasesError)
    try:
        yield
    except (arrow().ArrowException, OSError, UnicodeError) as wrong:  # a damaged name is no text
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
        columns = {name: _cut(batch.column(name), pa).to_pylist() for name in wanted}
        block = Rows(heading, size=path.stat().st_size * batch.num_rows // file.metadata.num_rows)
        groups = columns.get(GROUP) or [None] * batch.num_rows
        cells = zip(*(columns[name] for name in heading.parts), strict=True)
        rows = cells if heading.parts else iter([()] * batch.num_rows)
        for name, group, row in zip(columns[ID], groups, rows, strict=True):
            line += 1
            named, source = ("" if one is None else str(one).strip() for one in (name, group))
            add(block, line, named, source, row)
        if len(block):
            yield block


def _cut(column: Any, pa: Any) -> Any:
    """Return a column with no text longer than what is refused anyway."""
    kind = column.type
    if not pa.types.is_dictionary(kind) or not _is_text(kind.value_type, pa):
        return column
    texts = pa.compute.utf8_slice_codeunits(column.dictionary, 0, LONGEST_CELL)
    return pa.DictionaryArray.from_arrays(column.indices, texts)


def _refuse_type(name: str, kind: Any, pa: Any, path: Path) -> None:
    types = pa.types
    inner = kind.value_type if types.is_dictionary(kind) else kind
    fits = (
        _is_text(inner, pa)
        or types.is_integer(inner)
        or types.is_floating(inner)
        or types.is_null(inner)
    )
    if not fits:
        raise CasesError(f"{path}: column {name} holds {kind}; text or numbers are expected")


def _is_text(kind: Any, pa: Any) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))
