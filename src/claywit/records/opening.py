"""Open a casebook, make one, or copy one: which file is a casebook, and how it is laid out."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from random import Random
from urllib.parse import quote

from claywit.errors import CasebookError
from claywit.records.disk import confirm, drafts_folder
from claywit.records.kept import Begun, canonical
from claywit.records.log import Head
from claywit.records.store import MAX_OBJECT, WAIT, Store, explain

APPLICATION = 0x636C_7763  # "clwc", kept in the header of the file
FORMAT = 1
LABELS = (f"PRAGMA application_id = {APPLICATION}", f"PRAGMA user_version = {FORMAT}")
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


@contextmanager
def _draft_of(path: Path) -> Iterator[Path]:
    """Let a new file be made in a folder beside it, and then appear under its own name, whole."""
    try:
        with drafts_folder(path) as folder:
            draft = folder / path.name
            os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            yield draft
            with draft.open("rb") as stream:
                os.fsync(stream.fileno())
            path.hardlink_to(draft)  # unlike a rename, this never replaces a file
            try:
                confirm(path)
            except OSError:
                path.unlink()
                raise
    except FileExistsError:
        raise CasebookError(f"{path}: is there already; choose another name") from None
    except OSError as wrong:
        raise CasebookError(f"{path}: cannot be made: {wrong.strerror}") from None


def begin(path: Path, now: datetime, rng: Random) -> Head:
    """Make an empty casebook at *path*, whole or not at all.

    Raises:
        CasebookError: something is there already, or the folder may not be written.
    """
    with _draft_of(path) as draft, Store(_connect(draft, "rw"), draft) as store:
        with store.explained():
            store.connection.execute("PRAGMA journal_mode = WAL")
        with store.writing():
            for line in (*LABELS, *SCHEMA):
                store.connection.execute(line)
            record = canonical(Begun(id=rng.randbytes(16).hex()))
            entry = store.append(now, "begun", case="", subject=store.put(record))
    return Head(entry.sequence, entry.hash)


def copy(store: Store, path: Path) -> None:
    """Write the whole casebook, as it stands at one moment, to a file that is not there yet.

    Raises:
        CasebookError: it is there already, or cannot be written.
    """
    with _draft_of(path) as draft:
        with store.explained():
            store.connection.execute("VACUUM INTO ?", (str(draft),))
        with Store(_connect(draft, "rw"), draft) as written, written.explained():
            written.connection.execute("PRAGMA journal_mode = WAL")


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
        raise explain(path, wrong) from None
    return connection


def _refuse_foreign(store: Store) -> None:
    """Refuse a file that is laid out otherwise: its triggers or views could say anything."""
    connection = store.connection
    with store.explained():
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
