"""Open a casebook, make one, or copy one."""

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
from claywit.records.drafting import clear_drafts
from claywit.records.kept import Begun, canonical
from claywit.records.layout import bring_up_to_date, lay_out, layout_of
from claywit.records.log import Head
from claywit.records.store import MAX_OBJECT, WAIT, Store, explain


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
        with store.writing():
            lay_out(store)
            record = canonical(Begun(id=rng.randbytes(16).hex()))
            entry = store.append(now, "begun", case="", subject=store.put(record))
        _log_ahead(store)
    return Head(entry.sequence, entry.hash)


def _log_ahead(store: Store) -> None:
    """Let what is written from now on go to a log beside the file first.

    Only once its content is in a draft: what a closing connection cannot bring over from the log
    stays there, without an error, and the log of a draft does not move with it.
    """
    with store.explained():
        (mode,) = store.connection.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise CasebookError(f"{store.path}: cannot be written; see whether its disk is full")


def copy(store: Store, path: Path) -> None:
    """Write the whole casebook, as it stands at one moment, to a file that is not there yet.

    Raises:
        CasebookError: it is there already, or cannot be written.
    """
    with _draft_of(path) as draft:
        with store.explained():
            store.connection.execute("VACUUM INTO ?", (str(draft),))
        with Store(_connect(draft, "rw"), draft) as written:
            _log_ahead(written)


def opened(path: Path, *, write: bool = False) -> Store:
    """Return the casebook at *path*; to *write*, it is brought up to the newest layout first.

    Raises:
        CasebookError: there is none, or the file is not as claywit lays it out.
    """
    if not path.is_file():
        raise CasebookError(f"{path}: no casebook here; make one with `claywit casebook new`")
    store = Store(_connect_to(path, write=write), path)
    try:
        if write:
            clear_drafts(path)
            bring_up_to_date(store)
        else:
            layout_of(store)
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
    except (sqlite3.Error, UnicodeDecodeError) as wrong:
        if connection:
            connection.close()
        raise explain(path, wrong) from None
    return connection
