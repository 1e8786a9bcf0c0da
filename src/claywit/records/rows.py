"""Rows of a file of cases while they are read: line by line, never more than a block in memory."""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import BinaryIO

from claywit.evidence.cells import Raw, Refused
from claywit.evidence.columns import Head
from claywit.evidence.said import Cell

MAX_LINE = 1_000_000  # bytes
MAX_HELD = 50_000_000  # bytes of lines after which a block ends, however few pieces it has
_ACROSS = 50  # lines that a quoted remark may run across
LONGEST_ID = 120  # characters, as in an evidence file


@dataclass
class Rows:
    """A block while it is being read: pieces under one head, and what could not be read.

    size: how many bytes of the file it is.
    """

    head: Head
    names: list[str] = field(default_factory=list)
    groups: list[str] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    cells: list[Sequence[Cell]] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    size: int = 0

    def __len__(self) -> int:
        """Return the number of pieces read."""
        return len(self.names) + len(self.refused)

    def raw(self) -> Raw:
        """Return the pieces by column."""
        columns = list(zip(*self.cells, strict=True)) or [()] * len(self.head.parts)
        cells = dict(zip(self.head.parts, columns, strict=True))
        return Raw(self.names, self.groups, self.lines, cells)


def name_fault(name: str) -> str:
    """Return why a piece cannot have this id, "" if it can."""
    if not name:
        return "no id; give each piece its name"
    if len(name) > LONGEST_ID:
        return f"an id of {len(name):,} characters; at most {LONGEST_ID} are read"
    if not name.isprintable():
        return "the id holds a character that cannot be printed"
    return ""


def add(block: Rows, number: int, name: str, group: str, cells: Sequence[Cell]) -> None:
    """Add a piece to *block*, or note why its id or its group cannot be used."""
    fault = name_fault(name)
    if fault or not (group.isprintable() and len(group) <= LONGEST_ID):
        shown = name if len(name) <= LONGEST_ID else ""
        why = fault or "the group is too long or cannot be printed"
        block.refused.append(Refused(number, shown, why))
        return
    block.names.append(name)
    block.groups.append(group)
    block.lines.append(number)
    block.cells.append(cells)


class Lines:
    """The lines of a file, numbered from 1; None for one that is too long to be read."""

    def __init__(self, stream: BinaryIO) -> None:
        """Begin where *stream* stands."""
        self._stream, self._number = stream, 0
        self.unended = 0  # the number of the last line, once it was read, if it has no end
        self._back: deque[tuple[int, bytes | None]] = deque()

    def __iter__(self) -> Iterator[tuple[int, bytes | None]]:
        """Yield each line with its number."""
        while True:
            if self._back:
                yield self._back.popleft()
                continue
            line = self._stream.readline(MAX_LINE + 1)
            if not line:
                return
            self._number += 1
            if not line.endswith(b"\n") and len(line) <= MAX_LINE:
                self.unended = self._number
            if len(line) <= MAX_LINE:
                yield self._number, line
                continue
            while line and not line.endswith(b"\n"):
                line = self._stream.readline(MAX_LINE + 1)
            yield self._number, None

    def following(self) -> list[tuple[int, bytes | None]]:
        """Return the next few lines; `give_back` what is not used."""
        return list(islice(self, _ACROSS))

    def give_back(self, lines: Sequence[tuple[int, bytes | None]]) -> None:
        """Put *lines* back to be read again."""
        self._back.extendleft(reversed(lines))
