"""How the file of a casebook is laid out: each layout there was, and the way from one to the next.

A layout is known by its number in the header of the file, and held to by the letter: triggers or
views of another's making could say anything. A casebook of an older layout is read as it is; who
writes in it brings it up to date first, in one transaction, in which not a byte of the log and no
object may change.
"""

from collections import Counter
from hashlib import sha256

from claywit import __version__
from claywit.errors import CasebookError
from claywit.records.store import Store

APPLICATION = 0x636C_7763  # "clwc", kept in the header of the file
_FIRST = (
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
# What replaces a row on INSERT passes those by: SQLite then deletes without asking a trigger.
_SECOND = (
    (
        "CREATE TRIGGER objects_insert BEFORE INSERT ON objects"
        " WHEN EXISTS (SELECT 1 FROM objects WHERE digest = NEW.digest)"
        " BEGIN SELECT RAISE(IGNORE); END"
    ),
    (
        "CREATE TRIGGER log_insert BEFORE INSERT ON log"
        " WHEN NEW.sequence IS NOT (SELECT coalesce(max(sequence), 0) + 1 FROM log)"
        " BEGIN SELECT RAISE(ABORT, 'log is only ever added to at its end'); END"
    ),
)
STEPS = (_FIRST, _SECOND)  # from layout 0, which is an empty file, to 1, to 2
NEWEST = len(STEPS)


def lay_out(store: Store, *, since: int = 0) -> None:
    """Bring a casebook of the layout *since* to the newest; call it inside `writing`."""
    for step in STEPS[since:]:
        for line in step:
            store.connection.execute(line)
    store.connection.execute(f"PRAGMA application_id = {APPLICATION}")
    store.connection.execute(f"PRAGMA user_version = {NEWEST}")


def bring_up_to_date(store: Store) -> None:
    """Lay out an older casebook as the newest are, all of it or nothing.

    Raises:
        CasebookError: it cannot be written, or would not be the same casebook after; then it stays.
    """
    if layout_of(store) == NEWEST:
        return
    with store.writing():
        since = layout_of(store)  # another program may have done it meanwhile
        before = _fingerprint(store)
        lay_out(store, since=since)
        if _fingerprint(store) != before:
            raise CasebookError(
                f"{store.path}: could not be brought from layout {since} to {NEWEST} unchanged;"
                " it was left as it is; take a copy, and report this"
            )


def layout_of(store: Store) -> int:
    """Return the layout of a casebook.

    Raises:
        CasebookError: it is no casebook, one of a newer claywit, or not laid out as it says.
    """
    connection = store.connection
    with store.explained():
        application = connection.execute("PRAGMA application_id").fetchone()[0]
        layout = int(connection.execute("PRAGMA user_version").fetchone()[0])
        found = connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL").fetchall()
    if application != APPLICATION:
        raise CasebookError(f"{store.path}: is no casebook; make one with `claywit casebook new`")
    if layout > NEWEST:
        raise CasebookError(
            f"{store.path}: has layout {layout}, and this claywit ({__version__}) knows layouts 1"
            f" to {NEWEST}; open it with a newer claywit"
        )
    expected = [line for step in STEPS[:layout] for line in step]
    there = Counter(sql for (sql,) in found)  # any value may be there, so none is sorted
    if layout < 1 or there != Counter(expected):
        raise CasebookError(
            f"{store.path}: its tables are not those of a casebook of layout {layout}; take the"
            " last backup"
        )
    return layout


def _fingerprint(store: Store) -> str:
    """Return a digest of every entry of the log, and of which objects there are."""
    found = sha256()
    for sequence, case, entry in store.connection.execute(
        'SELECT sequence, "case", entry FROM log ORDER BY sequence'
    ):
        found.update(f"{sequence} {case} ".encode() + sha256(entry or b"").digest())
    for row in store.connection.execute(
        "SELECT digest, length(bytes) FROM objects ORDER BY digest"
    ):
        found.update(str(row).encode())
    return found.hexdigest()
