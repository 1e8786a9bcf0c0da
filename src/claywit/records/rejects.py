"""The reject file: every piece that could not be used, with its reason, and the account."""

import csv
import io
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.evidence.cells import Refused
from claywit.records.cells import inert
from claywit.records.disk import drafted, refuse_over

_SHOWN = 400  # characters of a reason


@dataclass(frozen=True)
class Account:
    """What became of the pieces of a file: *read* = *used* + *rejected*."""

    read: int
    used: int
    rejected: int

    def said(self) -> str:
        """Return the account as a sentence."""
        return f"{self.read:,} pieces read: {self.used:,} used, {self.rejected:,} rejected"


class Rejects(AbstractContextManager["Rejects"]):
    """The rejects of one reading, written as a CSV file (line, id, reason) when it ends well.

    Without a file the first reject is an error, so that no piece is ever lost in silence.
    """

    def __init__(self, path: Path | None) -> None:
        """Count from nothing; *path* is where the file will stand."""
        self._path, self._open = path, ExitStack()
        self._stream: BinaryIO | None = None
        self._read = self._used = self._rejected = 0

    def __enter__(self) -> Self:
        """Open a draft of the file."""
        if self._path:
            self._stream = self._open.enter_context(drafted(self._path))
            self._stream.write(_row(["line", "id", "reason"]))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Put the file in its place if nothing went wrong."""
        self._open.__exit__(kind, value, trace)

    @property
    def account(self) -> Account:
        """Return what became of the pieces so far."""
        if self._read != self._used + self._rejected:
            raise ArithmeticError("the account of the pieces does not balance")  # our bug
        return Account(self._read, self._used, self._rejected)

    def refuse_over(self, where: Path) -> None:
        """Refuse to put the rejects in the place of the file that is read.

        Raises:
            ClaywitError: both are one file.
        """
        refuse_over(self._path, where)

    def count(self, read: int, used: int) -> None:
        """Add a block that was *read*, of which *used* pieces went on."""
        self._read += read
        self._used += used

    def add(self, where: Path, refused: Refused) -> None:
        """Note a piece that did not go on.

        Raises:
            CasesError: there is no file to note it in.
        """
        if self._stream is None:
            named = f"{refused.name}: " if refused.name else ""
            raise CasesError(
                f"{where}:{refused.line}: {named}{refused.reason} (or note such lines with"
                " --rejects, and go on)"
            )
        self._rejected += 1
        reason = refused.reason
        shown = reason if len(reason) <= _SHOWN else f"{reason[:_SHOWN]}…"
        self._stream.write(_row([str(refused.line), inert(refused.name[:120]), inert(shown)]))

    def refuse(self, where: Path, cases: Cases, row: int, reason: str) -> None:
        """Note a piece that went on, and then turned out to be of no use."""
        self._used -= 1
        self.add(where, Refused(int(cases.lines[row]), cases.names[row], reason))


def _row(cells: list[str]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue().encode("utf-8", "backslashreplace")
