"""Which kind of file of cases a path names."""

from pathlib import Path

from claywit.errors import CasesError

KINDS = {".csv": "csv", ".tsv": "csv", ".jsonl": "jsonl", ".ndjson": "jsonl", ".parquet": "parquet"}


def kind_of(path: Path) -> str:
    """Return `csv`, `jsonl` or `parquet`, as the ending of the name says.

    Raises:
        CasesError: it says nothing that is known.
    """
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        endings = ", ".join(KINDS)
        raise CasesError(f"{path}: what kind of file? end its name in one of {endings}")
    return kind


def delimiter_of(path: Path) -> str:
    """Return what parts the cells of a CSV file of that name when it is written."""
    return "\t" if path.suffix.lower() == ".tsv" else ","
