"""The file of a casebook: SQLite, one table of objects by their digest, and the log.

Whoever acknowledges a save has seen COMMIT return with the log on the disk (`synchronous=FULL`).
Writers wait for each other (`BEGIN IMMEDIATE`), so the log cannot fork. Everything else that a
casebook knows is read off the log, so there is nothing that could disagree with it.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from random import Random
from types import TracebackType
from typing import Self
from urllib.parse import quote

from claywit.errors import CasebookError
from claywit.records.kept import Begun, canonical
from claywit.records.log import EMPTY, Entry, Head, Kind, following

APPLICATION = 0x636C_7763  # "clwc", kept in the header of the file
FORMAT = 1
MAX_OBJECT = 64_000_000
WAIT = 30.0  # seconds for another writer
SCHEMA = (
    "CREATE TABLE objects (digest TEXT PRIMARY KEY NOT NULL, bytes BLOB NOT NULL) STRICT",
    'CREATE TABLE log (sequence INTEGER PRIMARY KEY, "case" TEXT NOT NULL, entry BLOB) STRICT',
    'CREATE INDEX log_of_case ON log ("case", sequence)',
    *(
        f"CREATE TRIGGER {table}_{verb} BEFORE {verb.upper()} ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
        for table in ("objects", "log")
        for verb in ("update", "delete")
    ),
)
READ_ONLY = "opened for reading only"


class Store:
    """An open casebook; use it as a context manager, so that the file is left in one piece."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        """Keep the *connection*; see `begin` and `opened`."""
        self._connection = connection
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
            self._connection.close()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Keep other writers out, and save all that is added or nothing of it.

        Raises:
            CasebookError: the file may not be written, the disk is full, or another program
                does not let go of it.
        """
        with self._explained():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Let all that is read come from one moment, whatever others write meanwhile."""
        with self._explained():
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                with suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")

    def put(self, content: bytes) -> str:
        """Add an object, unless it is there, and return its digest."""
        if len(content) > MAX_OBJECT:
            raise CasebookError(f"{len(content):,} bytes; a casebook keeps at most {MAX_OBJECT:,}")
        digest = sha256(content).hexdigest()
        with self._explained():
            self._connection.execute(
                "INSERT INTO objects VALUES (?, ?) ON CONFLICT DO NOTHING", (digest, content)
            )
        return digest

    def append(self, now: datetime, kind: Kind, *, case: str, subject: str) -> Entry:
        """Add an entry to the end of the log; call it inside `writing`."""
        entry = following(self.head(), now, kind, case=case, subject=subject)
        with self._explained():
            self._connection.execute(
                "INSERT INTO log VALUES (?, ?, ?)", (entry.sequence, case, entry.canonical())
            )
        return entry

    def head(self) -> Head:
        """Return the length of the log, and the hash of its last entry."""
        with self._explained():
            query = "SELECT sequence, entry FROM log ORDER BY sequence DESC LIMIT 1"
            row = self._connection.execute(query).fetchone()
        return Head(row[0], sha256(row[1]).hexdigest()) if row else EMPTY

    def rows(self, case: str | None = None) -> list[tuple[int, bytes]]:
        """Return sequence and bytes of the entries, of one *case* or of all, in order."""
        where, values = ("", ()) if case is None else ('WHERE "case" = ?', (case,))
        with self._explained():
            query = f"SELECT sequence, entry FROM log {where} ORDER BY sequence"  # noqa: S608
            return list(self._connection.execute(query, values))

    def column_of_cases(self) -> dict[int, str]:
        """Return the case that the column beside each entry names, for checking."""
        with self._explained():
            return dict(self._connection.execute('SELECT sequence, "case" FROM log').fetchall())

    def digests(self) -> list[str]:
        """Return the digests under which objects are stored."""
        with self._explained():
            found = self._connection.execute("SELECT digest FROM objects ORDER BY digest")
            return [digest for (digest,) in found]

    def has(self, digest: str) -> bool:
        """Return whether an object is there."""
        with self._explained():
            query = "SELECT 1 FROM objects WHERE digest = ?"
            return self._connection.execute(query, (digest,)).fetchone() is not None

    def get(self, digest: str) -> bytes:
        """Return an object, whose bytes are those of its digest.

        Raises:
            CasebookError: it is missing, or was altered.
        """
        with self._explained():
            query = "SELECT bytes FROM objects WHERE digest = ?"
            row = self._connection.execute(query, (digest,)).fetchone()
        if row is None:
            raise CasebookError(f"{self.path}: object {digest[:12]}… is missing; `casebook check`")
        content = bytes(row[0])
        if sha256(content).hexdigest() != digest:
            raise CasebookError(f"{self.path}: object {digest[:12]}… was altered; `casebook check`")
        return content

    def damage(self) -> list[str]:
        """Return what SQLite itself finds wrong with the file."""
        try:
            found = self._connection.execute("PRAGMA integrity_check(20)").fetchall()
        except sqlite3.DatabaseError as wrong:
            return [str(wrong)]
        return [str(line) for (line,) in found if line != "ok"]

    def copy_to(self, path: Path) -> None:
        """Write the whole casebook to another file, which must not be there yet."""
        with self._explained():
            self._connection.execute("VACUUM INTO ?", (str(path),))

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as wrong:
            raise _explain(self.path, wrong) from None


def _explain(path: Path, wrong: sqlite3.Error) -> CasebookError:
    """Return what SQLite met, as something that a person can put right."""
    code = getattr(wrong, "sqlite_errorname", "")
    told = {
        "SQLITE_FULL": "the disk is full; nothing was saved; make room and do it again",
        "SQLITE_BUSY": f"another program has kept it for {WAIT:g} s; close that, and do it again",
        "SQLITE_READONLY": "cannot be written; nothing was saved; allow writing to file and folder",
        "SQLITE_IOERR": "the disk refused (full, or gone?); nothing was saved",
        "SQLITE_CANTOPEN": "cannot be opened; is it there, and the folder writable?",
        "SQLITE_NOTADB": "is no casebook; make one with `claywit casebook new`",
        "SQLITE_CORRUPT": "is damaged; take the last backup, and keep this file as it is",
    }
    for name, text in told.items():
        if code.startswith(name):
            return CasebookError(f"{path}: {text}")
    return CasebookError(f"{path}: {wrong}")


def begin(path: Path, now: datetime, rng: Random) -> Head:
    """Make an empty casebook at *path*, whole or not at all.

    Raises:
        CasebookError: something is there already, or the folder may not be written.
    """
    draft = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with Store(_connect(draft, "rw"), draft) as store:
            _lay_out(store)
            with store.writing():
                record = canonical(Begun(id=rng.randbytes(16).hex()))
                store.append(now, "begun", case="", subject=store.put(record))
            head = store.head()
        os.link(draft, path)  # unlike a rename, this never replaces a file
        _sync_folder(path)
    except FileExistsError:
        raise CasebookError(f"{path}: is there already; choose another name") from None
    except OSError as wrong:
        raise CasebookError(f"{path}: cannot be made: {wrong.strerror}") from None
    finally:
        for name in (draft, *(draft.with_name(draft.name + end) for end in ("-wal", "-shm"))):
            with suppress(OSError):
                name.unlink()
    return head


def _lay_out(store: Store) -> None:
    connection = store._connection  # noqa: SLF001 - a part of the store
    for line in (
        f"PRAGMA application_id = {APPLICATION}",
        f"PRAGMA user_version = {FORMAT}",
        "PRAGMA journal_mode = WAL",
        *SCHEMA,
    ):
        connection.execute(line)


def _sync_folder(path: Path) -> None:
    """Make sure that the name of a new file outlives a power cut."""
    handle = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def opened(path: Path, *, write: bool = False) -> Store:
    """Return the casebook at *path*.

    Raises:
        CasebookError: there is none, or the file is not as claywit lays it out.
    """
    if not path.is_file():
        raise CasebookError(f"{path}: no casebook here; make one with `claywit casebook new`")
    store = Store(_connect_to(path, write=write), path)
    try:
        _refuse_foreign(store)
    except BaseException:
        store.__exit__(None, None, None)
        raise
    return store


def _connect_to(path: Path, *, write: bool) -> sqlite3.Connection:
    if write:
        return _connect(path, "rw")
    try:
        return _connect(path, "rw" if os.access(path.parent, os.W_OK) else "ro")
    except CasebookError:
        # On a medium that cannot be written SQLite finds no room for its shared memory. With no
        # unfinished log beside the file, what stands in it is all there is.
        if path.with_name(path.name + "-wal").exists():
            raise
        return _connect(path, "ro&immutable=1")


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    address = f"file:{quote(str(path.absolute()))}?mode={mode}"
    connection: sqlite3.Connection | None = None
    try:
        connection = sqlite3.connect(address, uri=True, timeout=WAIT, isolation_level=None)
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 2 * MAX_OBJECT)
        for line in ("trusted_schema = OFF", "cell_size_check = ON", "synchronous = FULL",
                     "fullfsync = ON", "checkpoint_fullfsync = ON"):  # fmt: skip
            connection.execute(f"PRAGMA {line}")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.Error as wrong:
        if connection:
            connection.close()
        raise _explain(path, wrong) from None
    return connection


def _refuse_foreign(store: Store) -> None:
    """Refuse a file that is laid out otherwise: its triggers or views could say anything."""
    connection = store._connection  # noqa: SLF001 - a part of the store
    with store._explained():  # noqa: SLF001
        application = connection.execute("PRAGMA application_id").fetchone()[0]
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        found = connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL").fetchall()
    if application != APPLICATION:
        raise CasebookError(f"{store.path}: is no casebook; make one with `claywit casebook new`")
    if version != FORMAT:
        raise CasebookError(
            f"{store.path}: is laid out for another version of claywit ({version}, expected"
            f" {FORMAT}); use that version"
        )
    if sorted(sql for (sql,) in found) != sorted(SCHEMA):
        raise CasebookError(
            f"{store.path}: its tables are not those of a casebook; take the last backup"
        )
