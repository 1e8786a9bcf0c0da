"""A question sheet as a table for any spreadsheet program, and back.

One line for each state that is asked about. The columns to the right of the numbers are how an
answer finds its row again; the first lines hold the name of the expert and the confidence.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from claywit.errors import SheetError
from claywit.learning.blank import HOW, SURE, Blank, told
from claywit.learning.sheet import Sheet, checked_sheet
from claywit.model.source import MAX_BYTES, Document, Path
from claywit.records.cells import inert, plain
from claywit.records.table import table_rows

NUMBERS = ("lowest", "best", "highest")
COLUMNS = (
    "question",
    "how many",
    *NUMBERS,
    "confidence",
    "place",
    "node",
    "given",
    "state",
)


def as_table(blank: Blank) -> bytes:
    """Return the sheet as CSV, in UTF-8 with the mark that spreadsheet programs look for."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows([inert(cell) for cell in row] for row in _lines(blank))
    return text.getvalue().encode("utf-8-sig")


def _lines(blank: Blank) -> Iterator[Sequence[str]]:
    rest = ("", "", "")
    yield ("Your name, in the next column but one", "", blank.expert, *rest, "expert", *rest)
    yield ("Of 100 ranges like yours, how many hold the truth", "", f"{SURE}", *rest, "sure", *rest)
    model = blank.model
    yield (HOW, "", "", *rest, "how", *rest)
    yield ("Leave this line as it is", "", model.name, model.version, "", "", "model", *rest)
    for question in blank.questions:
        given = "; ".join(f"{p}={'|'.join(states)}" for p, states in question.given.items())
        ask = question.ask
        for state in question.listed:
            known = (question.place, question.node.name, given, state)
            yield (ask, told(question, state), "", *rest, *known)
            ask = ""
    for seed in blank.seeds.seeds if blank.seeds else ():
        yield (seed.ask, "the number itself", "", *rest, "seed", seed.id, "", "")


def from_table(text: bytes, name: str) -> tuple[Sheet, Document]:
    """Return the sheet in a filled table, with the document that knows its lines.

    Raises:
        SheetError: it cannot be read, a column is missing, or it is not of the form of a sheet.
    """
    if len(text) > MAX_BYTES:
        raise SheetError(f"{name}: more than the {MAX_BYTES:,} bytes that are read")
    rows = table_rows(io.BytesIO(text), name, SheetError)
    _, head = next(rows, (1, []))
    lacking = [column for column in COLUMNS if column not in head]
    if lacking:
        raise SheetError(f"{name}:1: no column {lacking[0]}; leave the columns as they were")
    data: dict[str, Any] = {"format": "claywit-sheet/1", "questions": [], "seeds": []}
    lines: dict[Path, int] = {(): 1}
    at: dict[tuple[str, ...], int] = {}
    for line, cells in rows:
        if not any(cells):
            continue
        if len(cells) != len(head):
            raise SheetError(f"{name}:{line}: {len(cells)} cells, and {len(head)} columns")
        row = {column: plain(cells[head.index(column)]) for column in COLUMNS}
        _take(row, data, lines, line, at)
    document = Document(name, data, lines)
    return checked_sheet(document), document


def _take(
    row: dict[str, str],
    data: dict[str, Any],
    lines: dict[Path, int],
    line: int,
    at: dict[tuple[str, ...], int],
) -> None:
    """Put one line into *data*, and where it stands into *lines*; *at* finds a question again."""
    place, node = row["place"], row["node"]
    numbers = {key: row[key] for key in NUMBERS}
    if place == "how":
        return
    if place in ("expert", "sure"):
        key = "confidence" if place == "sure" else place
        data[key], lines[key,] = row["lowest"], line
    elif place == "model":
        data["model"] = {"name": row["lowest"], "version": row["best"]}
        lines["model",] = line
    elif place == "seed":
        lines["seeds", len(data["seeds"])] = line
        data["seeds"].append({"id": node, "ask": row["question"], **numbers})
    else:
        known = (place, node, row["given"])
        if known not in at:
            at[known] = len(data["questions"])
            lines["questions", at[known]] = line
            asked = {"node": node, "place": place, "given": _given(row["given"]), "counts": {}}
            data["questions"].append({**asked, "ask": row["question"]})
        question = data["questions"][at[known]]
        if row["confidence"]:
            question["confidence"] = row["confidence"]
        question["counts"][row["state"]] = numbers
        lines["questions", at[known], "counts", row["state"]] = line


def _given(text: str) -> dict[str, list[str]]:
    parts = [part.partition("=") for part in text.split(";") if part.strip()]
    return {parent.strip(): states.strip().split("|") for parent, _, states in parts}
