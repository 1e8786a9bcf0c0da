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


def partitions(folder: Path) -> list[Path]:
    """Return the files of a folder by name, but for those whose names begin with `_` or `.`.

    Raises:
        CasesError: there are none, they are of several kinds, or two differ in their endings only.
    """
    named = [path for path in folder.iterdir() if not path.name.startswith(("_", "."))]
    files = sorted(path for path in named if path.suffix.lower() in KINDS)
    kinds = {kind_of(path) for path in files}
    if len(kinds) != 1:
        found = " and ".join(sorted(kinds)) or "no file"
        endings = ", ".join(KINDS)
        raise CasesError(f"{folder}: holds {found}; files of one kind are expected, as {endings}")
    if len({path.stem for path in files}) < len(files):
        raise CasesError(f"{folder}: two files differ in their endings only; rename one")
    return files
