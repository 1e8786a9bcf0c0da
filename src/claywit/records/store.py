"""The file of a casebook: SQLite, one table of objects by their digest, and the log.

Whoever acknowledges a save has seen COMMIT return with the log on the disk (`synchronous=FULL`).
Writers wait for each other (`BEGIN IMMEDIATE`), so the log cannot fork. Everything else that a
casebook knows is read off the log, so there is nothing that could disagree with it.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import Self

from claywit.errors import CasebookError
from claywit.records.log import EMPTY, Entry, Head, Kind, following

MAX_OBJECT = 64_000_000
WAIT = 30.0  # seconds for another writer
_DAMAGED = "is damaged; take the last backup, and keep this file as it is"


class Store:
    """An open casebook; use it as a context manager, so that the file is left in one piece."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        """Keep the *connection*; `opening` makes one."""
        self.connection = connection
        self.path = path

    def __enter__(self) -> Self:
        """Return the store."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        """Close the file."""
        with suppress(sqlite3.Error):
            self.connection.close()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Keep other writers out, and save all that is added or nothing of it.

        Raises:
            CasebookError: the file may not be written, the disk is full, or another program
                does not let go of it.
        """
        with self.explained():
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self.connection.execute("ROLLBACK")
                raise

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Let all that is read come from one moment, whatever others write meanwhile."""
        with self.explained():
            self.connection.execute("BEGIN")
            try:
                yield
            finally:
                with suppress(sqlite3.Error):
                    self.connection.execute("ROLLBACK")

    def put(self, content: bytes) -> str:
        """Add an object, unless it is there, and return its digest."""
        if len(content) > MAX_OBJECT:
            raise CasebookError(f"{len(content):,} bytes; a casebook keeps at most {MAX_OBJECT:,}")
        digest = sha256(content).hexdigest()
        with self.explained():
            self.connection.execute(
                "INSERT INTO objects VALUES (?, ?) ON CONFLICT DO NOTHING", (digest, content)
            )
        return digest

    def append(self, now: datetime, kind: Kind, *, case: str, subject: str) -> Entry:
        """Add an entry to the end of the log; call it inside `writing`."""
        entry = following(self.head(), now, kind, case=case, subject=subject)
        with self.explained():
            self.connection.execute(
                "INSERT INTO log VALUES (?, ?, ?)", (entry.sequence, case, entry.canonical())
            )
        return entry

    def head(self) -> Head:
        """Return the length of the log, and the hash of its last entry."""
        with self.explained():
            query = "SELECT sequence, entry FROM log ORDER BY sequence DESC LIMIT 1"
            row = self.connection.execute(query).fetchone()
        return Head(row[0], sha256(row[1]).hexdigest()) if row else EMPTY

    def rows(self, case: str | None = None) -> list[tuple[int, bytes]]:
        """Return sequence and bytes of the entries, of one *case* or of all, in order."""
        where, values = ("", ()) if case is None else ('WHERE "case" = ?', (case,))
        with self.explained():
            query = f"SELECT sequence, entry FROM log {where} ORDER BY sequence"  # noqa: S608
            return list(self.connection.execute(query, values))

    def count(self, case: str | None = None) -> int:
        """Return how many entries there are, of one *case* or of all."""
        where, values = ("", ()) if case is None else ('WHERE "case" = ?', (case,))
        with self.explained():
            query = f"SELECT count(*) FROM log {where}"  # noqa: S608
            (found,) = self.connection.execute(query, values).fetchone()
            return int(found)

    def newest(self, case: str | None, but: int, most: int) -> list[tuple[int, bytes]]:
        """Return as `rows`, the newest first: *most* of them at most, *but* so many passed over."""
        where, values = ("", ()) if case is None else ('WHERE "case" = ?', (case,))
        with self.explained():
            query = (
                f"SELECT sequence, entry FROM log {where}"  # noqa: S608
                " ORDER BY sequence DESC LIMIT ? OFFSET ?"
            )
            return list(self.connection.execute(query, (*values, most, but)))

    def column_of_cases(self) -> dict[int, str]:
        """Return the case that the column beside each entry names, for checking."""
        with self.explained():
            return dict(self.connection.execute('SELECT sequence, "case" FROM log').fetchall())

    def digests(self) -> list[str]:
        """Return the digests under which objects are stored."""
        with self.explained():
            found = self.connection.execute("SELECT digest FROM objects ORDER BY digest")
            return [digest for (digest,) in found]

    def get(self, digest: str) -> bytes:
        """Return an object, whose bytes are those of its digest.

        Raises:
            CasebookError: it is missing, or was altered.
        """
        with self.explained():
            query = "SELECT bytes FROM objects WHERE digest = ?"
            row = self.connection.execute(query, (digest,)).fetchone()
        if row is None:
            raise CasebookError(f"{self.path}: object {digest[:12]}… is missing; `casebook check`")
        content = bytes(row[0])
        if sha256(content).hexdigest() != digest:
            raise CasebookError(f"{self.path}: object {digest[:12]}… was altered; `casebook check`")
        return content

    def damage(self) -> list[str]:
        """Return what SQLite itself finds wrong with the file."""
        try:
            found = self.connection.execute("PRAGMA integrity_check(20)").fetchall()
        except (sqlite3.DatabaseError, UnicodeDecodeError) as wrong:
            return [str(explain(self.path, wrong))]
        return [str(line) for (line,) in found if line != "ok"]

    @contextmanager
    def explained(self) -> Iterator[None]:
        """Turn what SQLite meets into an error that a person can put right."""
        try:
            yield
        except (sqlite3.Error, UnicodeDecodeError) as wrong:
            raise explain(self.path, wrong) from None


def explain(path: Path, wrong: sqlite3.Error | UnicodeDecodeError) -> CasebookError:
    """Return what SQLite met, as something that a person can put right.

    SQLite quotes a damaged file in its message, which is then no text: a UnicodeDecodeError.
    """
    if isinstance(wrong, UnicodeDecodeError):
        return CasebookError(f"{path}: {_DAMAGED}")
    code = getattr(wrong, "sqlite_errorname", "")
    told = {
        "SQLITE_FULL": "the disk is full; nothing was saved; make room and do it again",
        "SQLITE_BUSY": f"another program has kept it for {WAIT:g} s; close that, and do it again",
        "SQLITE_READONLY": "cannot be written; nothing was saved; allow writing to file and folder",
        "SQLITE_IOERR": "the disk refused (full, or gone?); nothing was saved",
        "SQLITE_CANTOPEN": "cannot be opened; is it there, and the folder writable?",
        "SQLITE_NOTADB": "is no casebook; make one with `claywit casebook new`",
        "SQLITE_CORRUPT": _DAMAGED,
    }
    for name, text in told.items():
        if code.startswith(name):
            return CasebookError(f"{path}: {text}")
    return CasebookError(f"{path}: {wrong}")
