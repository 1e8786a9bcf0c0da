"""Question sheets and seed questions from disk."""

from collections.abc import Sequence
from pathlib import Path

from claywit.errors import SheetError
from claywit.learning.answers import Party
from claywit.learning.blank import Blank, as_yaml
from claywit.learning.sheet import SeedFile
from claywit.learning.sheet import read_seeds as _read_seeds
from claywit.learning.sheet import read_sheet as _read_sheet
from claywit.model.source import MAX_BYTES
from claywit.records.disk import read_bytes, write_new
from claywit.records.spreadsheet import as_table, from_table

MOST_EXPERTS = 30
TABLE = ".csv"


def write_blank(path: Path, blank: Blank) -> None:
    """Write a sheet to be filled in: a table where the name ends in `.csv`, else YAML.

    Raises:
        ClaywitError: there is a file of that name already, or it cannot be written.
    """
    table = path.suffix.lower() == TABLE
    write_new(path, as_table(blank) if table else as_yaml(blank).encode())


def read_party(path: Path) -> Party:
    """Return the sheet in the file at *path*.

    Raises:
        SheetError: there is no such file, it holds no sheet, or names no expert.
    """
    text = read_bytes(path, MAX_BYTES, SheetError)
    read = from_table if path.suffix.lower() == TABLE else _read_sheet
    sheet, document = read(text, str(path))
    if not sheet.expert.strip():
        place = document.place(("expert",))
        raise SheetError(f"{place}: no name behind `expert`; write who filled in the sheet")
    return Party(sheet, document.place)


def read_panel(paths: Sequence[Path]) -> list[Party]:
    """Return the sheets of several experts, one each.

    Raises:
        SheetError: as `read_party`, or two sheets name the same expert.
    """
    if len(paths) > MOST_EXPERTS:
        raise SheetError(f"{len(paths)} sheets, at most {MOST_EXPERTS} are pooled")
    parties = [read_party(path) for path in paths]
    seen: dict[str, str] = {}
    for party in parties:
        place = party.place(("expert",))
        if party.name in seen:
            raise SheetError(
                f"{place}: {party.name} filled in {seen[party.name]} too; give one sheet an expert"
            )
        seen[party.name] = place.rpartition(":")[0] or place
    return parties


def read_seeds(path: Path) -> SeedFile:
    """Return the seed questions in the file at *path*.

    Raises:
        SheetError: there is no such file, or it holds no seed questions.
    """
    return _read_seeds(read_bytes(path, MAX_BYTES, SheetError), str(path))
