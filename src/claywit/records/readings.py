"""Repeated readings from disk: a CSV file, a line at a time."""

from collections.abc import Sequence
from pathlib import Path

from claywit.errors import CasesError
from claywit.evidence.cells import Refused
from claywit.learning.readings import Collected, Reading, wide
from claywit.model.schema import Model
from claywit.model.values import duplicates
from claywit.records.disk import plain_file
from claywit.records.rejects import Rejects
from claywit.records.table import table_rows

LONG = ("piece", "examiner", "trait", "state")
WIDE = ("piece", "examiner")
MAX_COLUMNS = 2_000


def read_readings(path: Path, model: Model | None, rejects: Rejects) -> Collected:
    """Return the readings in a CSV file, either with a line for each or with a column a trait.

    A line that cannot be used goes to *rejects* with its reason, whole: none of its readings
    is used then.

    Raises:
        CasesError: the file cannot be read, its first line names no readings, or as `Rejects`.
    """
    rejects.refuse_over(path)
    collected = Collected(model)
    with plain_file(path, CasesError) as stream:
        rows = table_rows(stream, str(path), CasesError)
        _, names = next(rows, (1, []))
        _check_head(names, path)
        for line, cells in rows:
            if not any(cells):
                continue  # spreadsheets leave empty lines behind
            fault = _line(collected, names, cells)
            rejects.count(1, 0 if fault else 1)
            if fault:
                rejects.add(path, Refused(line, cells[0][:120], fault))
    return collected


def _line(collected: Collected, names: Sequence[str], cells: Sequence[str]) -> str:
    if len(cells) != len(names):
        return f"{len(cells)} cells, and the first line names {len(names)} columns"
    named = dict(zip(names, cells, strict=True))
    if "trait" not in names:
        return collected.add_all(list(wide(named)))
    known = {key: named[key] for key in LONG}
    return collected.add_all([Reading(**known, turn=named.get("turn", ""))])


def _check_head(names: Sequence[str], path: Path) -> None:
    if len(names) > MAX_COLUMNS:
        raise CasesError(f"{path}:1: {len(names):,} columns, at most {MAX_COLUMNS:,} are read")
    long = "trait" in names or "state" in names
    lacking = [name for name in (LONG if long else WIDE) if name not in names]
    if lacking:
        raise CasesError(
            f"{path}:1: no column {lacking[0]}; the first line is piece,examiner,trait,state (a"
            " line for each reading) or piece,examiner and then a column for each trait"
        )
    twice = duplicates(names)
    if twice or "" in names:
        what = f"column {twice[0]} stands twice" if twice else "a column has no name"
        raise CasesError(f"{path}:1: {what}; give each column its own name")
