"""The log of a casebook: a chain of entries, each holding the hash of the one before it.

An entry is the RFC 8785 form of its fields, and its hash is the SHA-256 of those bytes. To
change, drop, add or move one, every later entry would have to be made anew; and then the head
no longer is the one that was written down elsewhere.
"""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Annotated, Literal

import rfc8785
from pydantic import Field

from claywit.errors import CasebookError
from claywit.model.formats import OtherFormat, refuse_format
from claywit.model.values import Value

Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
CaseId = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,79}$")]
Time = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")]
Kind = Literal[
    "begun",
    "opened",
    "revised",
    "sealed",
    "photographed",
    "locked",
    "unmasked",
    "amended",
    "opined",
    "certified",
    "imported",
]
BEFORE_ALL = "0" * 64  # what the first entry holds in place of a hash


class Entry(Value):
    """One line of the log; *subject* is the SHA-256 of the record that it adds."""

    format: Literal["claywit-log/1"] = "claywit-log/1"
    sequence: Annotated[int, Field(ge=1, le=2**53, strict=True)]
    time: Time
    kind: Kind
    case: CaseId | Literal[""]
    subject: Digest
    previous: Digest

    def canonical(self) -> bytes:
        """Return the entry in canonical JSON (RFC 8785)."""
        return rfc8785.dumps(self.model_dump(mode="json"))

    @property
    def hash(self) -> str:
        """Return the SHA-256 of the canonical bytes."""
        return sha256(self.canonical()).hexdigest()


@dataclass(frozen=True)
class Head:
    """How many entries a log has, and the hash of the last of them."""

    length: int
    hash: str

    def __str__(self) -> str:
        """Return `LENGTH:HASH`, which `read_head` reads."""
        return f"{self.length}:{self.hash}"


EMPTY = Head(0, BEFORE_ALL)


def stamp(now: datetime) -> str:
    """Return a time as the log writes it: UTC, to the second."""
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def following(head: Head, now: datetime, kind: Kind, *, case: str, subject: str) -> Entry:
    """Return the entry that comes after *head*."""
    return Entry(
        sequence=head.length + 1,
        time=stamp(now),
        kind=kind,
        case=case,
        subject=subject,
        previous=head.hash,
    )


def read_entry(written: bytes) -> Entry:
    """Return the entry that *written* holds.

    Raises:
        ValueError: it is no entry, or not in its canonical bytes.
    """
    try:
        refuse_format(json.loads(written), Entry)
        entry = Entry.model_validate_json(written)
    except OtherFormat as wrong:
        raise ValueError(f"is of another version: {wrong}") from None
    except (ValueError, RecursionError):
        raise ValueError("is no log entry") from None
    if entry.canonical() != written:
        raise ValueError("is not in its canonical bytes")
    return entry


def entries_as_data(entries: Iterable[Entry]) -> str:
    """Return entries as JSON, each with its hash."""
    return json.dumps([{**entry.model_dump(), "hash": entry.hash} for entry in entries], indent=2)


def read_head(text: str) -> Head:
    """Return the head that *text* states: `LENGTH:HASH`, or the JSON of `head` or a certificate.

    Raises:
        CasebookError: it states none.
    """
    plain = re.fullmatch(r"\s*(\d{1,15}):([0-9a-f]{64})\s*", text, re.ASCII)
    if plain:
        return Head(int(plain[1]), plain[2])
    try:
        length, digest = _find_head(json.loads(text))
    except (ValueError, TypeError, KeyError, RecursionError):
        raise CasebookError(
            "no head found; give LENGTH:HASH as `casebook head` prints it, or a file that holds it"
        ) from None
    return Head(length, digest)


def _find_head(data: object) -> tuple[int, str]:
    """Return length and hash of the first object within *data* that holds both."""
    waiting = [data]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            length, digest = value.get("length"), value.get("hash", value.get("head"))
            whole = isinstance(length, int) and not isinstance(length, bool) and length >= 0
            if whole and re.fullmatch(r"[0-9a-f]{64}", str(digest)):
                return int(str(length)), str(digest)
            waiting += value.values()
        elif isinstance(value, list):
            waiting += value
    raise KeyError("head")


@dataclass(frozen=True)
class Chain:
    """What a walk along a log found: its entries, what breaks it, what is only odd."""

    entries: tuple[Entry, ...]
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    head: Head


def walk(rows: Iterable[tuple[int, bytes]]) -> Chain:
    """Return what is found in the *rows* (sequence, bytes) of a log, in the order stored."""
    entries: list[Entry] = []
    faults: list[str] = []
    notes: list[str] = []
    head, last_time = EMPTY, ""
    for sequence, written in rows:
        faults += _out_of_place(sequence, head.length + 1)
        try:
            entry = read_entry(written)
        except ValueError as wrong:
            faults.append(f"entry {sequence} {wrong}; it was altered")
            head = Head(sequence, sha256(written).hexdigest())
            continue
        if entry.sequence != sequence:
            faults.append(f"entry {sequence} calls itself {entry.sequence}; it was moved")
        if entry.previous != head.hash:
            faults.append(
                f"entry {sequence} does not follow the one before it; one of them was altered,"
                " moved, put in or taken out"
            )
        if entry.time < last_time:
            notes.append(f"entry {sequence} is dated before entry {sequence - 1}; a clock was off")
        last_time = max(last_time, entry.time)
        entries.append(entry)
        head = Head(sequence, sha256(written).hexdigest())
    return Chain(tuple(entries), tuple(faults), tuple(notes), head)


def _out_of_place(sequence: int, expected: int) -> list[str]:
    if sequence > expected:
        gone = f"entry {expected}" + (f" to {sequence - 1}" if sequence > expected + 1 else "")
        return [f"{gone}: missing; taken out"]
    return []


def against(rows: Iterable[tuple[int, bytes]], outside: Head) -> str | None:
    """Return how a log disagrees with a head that was kept *outside*; None if it does not."""
    length, found = 0, BEFORE_ALL
    for sequence, written in rows:
        length = sequence
        if sequence == outside.length:
            found = sha256(written).hexdigest()
    if outside.length > length:
        return (
            f"the log has {length} entries and the head kept outside says {outside.length};"
            " its end was cut off, or this is an older copy"
        )
    if (outside.length and found != outside.hash) or (
        not outside.length and outside.hash != BEFORE_ALL
    ):
        return (
            f"entry {outside.length} is not the one of the head kept outside; the log was"
            " written anew, or the head is of another casebook"
        )
    return None
