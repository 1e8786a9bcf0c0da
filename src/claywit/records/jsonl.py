"""JSONL files of many pieces, one object a line."""

import json
from collections.abc import Iterator
from typing import Any, BinaryIO

from claywit.evidence.cells import Refused
from claywit.evidence.columns import GROUP, ID, MOST_COLUMNS, REMARK, Head, column
from claywit.model.jsontext import read_json
from claywit.model.schema import Model
from claywit.records.rows import LONGEST_ID, MAX_HELD, MAX_LINE, Lines, Rows, add


def read_jsonl(stream: BinaryIO, model: Model, size: int) -> Iterator[Rows]:
    """Yield the pieces of a JSONL file in blocks of *size*; every line has its own keys."""
    lines = iter(Lines(stream))
    known: dict[str, str] = {}  # a key of the file, and what is wrong with it
    while True:
        pieces: list[tuple[int, dict[str, Any]]] = []
        refused: list[Refused] = []
        held = 0
        for number, line in lines:
            if line is not None and not line.strip():
                continue
            piece = _piece(line, number, model, known)
            if isinstance(piece, Refused):
                refused.append(piece)
            else:
                pieces.append((number, piece))
            held += len(line or b"")
            if len(pieces) + len(refused) >= size or held >= MAX_HELD:
                break
        if not pieces and not refused:
            return
        used = dict.fromkeys(key for _, piece in pieces for key in piece)
        keys = [k for k in used if k not in (ID, GROUP) and not k.startswith(REMARK)]
        block = Rows(Head({key: column(key, model) for key in keys}), refused=refused, size=held)
        for number, piece in pieces:
            name, group = (_label(piece.get(key)) for key in (ID, GROUP))
            add(block, number, name, group, [piece.get(key) for key in keys])
        yield block


def _piece(
    line: bytes | None, number: int, model: Model, known: dict[str, str]
) -> dict[str, Any] | Refused:
    """Return the object on one line, if every one of its keys says something."""
    try:
        found = object_on(line)
    except ValueError as wrong:
        return Refused(number, "", str(wrong)[:200])
    for key in found:
        if key in (ID, GROUP):
            if isinstance(found[key], bool | list | dict):
                return Refused(number, "", f"{key}: a name is expected, as text or a number")
            continue
        if key.startswith(REMARK):
            continue
        if key not in known:
            if len(known) > MOST_COLUMNS:
                known.clear()
            known[key] = _key_fault(key, model)
        if known[key]:
            return Refused(number, str(found.get(ID, ""))[:LONGEST_ID], known[key])
    return found


def _label(written: str | float | None) -> str:
    return "" if written is None else str(written).strip()


def object_on(line: bytes | None) -> dict[str, Any]:
    """Return the object on one line of a JSONL file, None being a line too long to be read.

    Raises:
        ValueError: there is none, and what stands there instead.
    """
    if line is None:
        raise ValueError(f"a line of more than {MAX_LINE:,} bytes")
    try:
        text = line.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        found = read_json(text)
    except json.JSONDecodeError as wrong:
        raise ValueError(f"not readable as JSON: {wrong.msg}, at character {wrong.colno}") from None
    except UnicodeDecodeError:
        raise ValueError("not UTF-8 text") from None
    if not isinstance(found, dict):
        raise ValueError('one JSON object is expected, as {"id": "p-1", …}')  # noqa: TRY004
    return found


def _key_fault(key: str, model: Model) -> str:
    try:
        column(key, model)
    except ValueError as wrong:
        return str(wrong)
    return ""
