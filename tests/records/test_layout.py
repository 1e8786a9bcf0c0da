"""Casebooks of every layout there was: read as they are, brought up to date whole or not at all."""

import os
import signal
import sqlite3

import pytest
from desk import at, evidence, seeded
from kept_before import casebook_of_layout_1

from claywit.errors import CasebookError
from claywit.records import casebook, layout, opening
from claywit.records.case import case_names
from claywit.records.checking import check


@pytest.fixture
def old(tmp_path):
    return casebook_of_layout_1(tmp_path / "c.db")


def layout_in(path):
    with sqlite3.connect(path) as connection:
        found = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    return found


def test_a_casebook_of_the_first_layout_is_read_and_left_as_it_is(old):
    with opening.opened(old) as kept:
        assert check(kept).faults == ()
        assert case_names(kept) == ["p-1", "p-2"]
    assert layout_in(old) == 1


def test_who_writes_brings_it_up_to_date_and_the_log_stays_the_same(old):
    with opening.opened(old) as kept:
        before, rows, objects = kept.head(), kept.rows(), kept.digests()
    with opening.opened(old, write=True) as kept:
        assert (kept.head(), kept.rows(), kept.digests()) == (before, rows, objects)
        casebook.seal(kept, "p-1", "more", at(40), seeded(4))
        assert check(kept, before).faults == ()
    assert layout_in(old) == layout.NEWEST


def test_a_bringing_up_to_date_that_ends_at_any_statement_leaves_the_old_casebook_whole(old):
    with opening.opened(old) as kept:
        before = kept.head()
    for statement in range(40):
        ended = _killed_at(old, statement)
        with opening.opened(old) as kept:
            assert check(kept, before).faults == ()
        if ended == 0:
            break
        assert layout_in(old) == 1, statement
    assert statement > 6
    assert layout_in(old) == layout.NEWEST


def _killed_at(path, statement):
    child = os.fork()
    if child == 0:
        store, seen = opening.opened(path), []

        def dies(_):
            seen.append(1)
            if len(seen) > statement:
                os.kill(os.getpid(), signal.SIGKILL)

        store.connection.set_trace_callback(dies)
        layout.bring_up_to_date(store)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def test_a_bringing_up_to_date_that_would_change_the_log_is_undone(old, monkeypatch):
    forged = ("DROP TRIGGER log_update", "UPDATE log SET entry = x'00' WHERE sequence = 2")
    monkeypatch.setattr(layout, "STEPS", (layout.STEPS[0], forged))
    before = old.read_bytes()
    with pytest.raises(CasebookError, match="could not be brought from layout 1 to 2 unchanged"):
        opening.opened(old, write=True)
    assert old.read_bytes() == before


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (3, "has layout 3, and this claywit .* knows layouts 1 to 2; open it with a newer"),
        (0, "its tables are not those of a casebook of layout 0; take the last backup"),
        (2, "its tables are not those of a casebook of layout 2; take the last backup"),
    ],
)
def test_a_casebook_of_another_layout_says_which_and_the_way_out(old, number, said):
    with sqlite3.connect(old) as connection:
        connection.execute(f"PRAGMA user_version = {number}")
    connection.close()
    for write in (False, True):
        with pytest.raises(CasebookError, match=said):
            opening.opened(old, write=write)


@pytest.mark.parametrize("line", [
    "INSERT OR REPLACE INTO log VALUES (2, 'p-1', x'00')", "REPLACE INTO log VALUES (99, '', x'00')",
    "INSERT INTO log VALUES (-1, '', x'00')",
])  # fmt: skip
def test_no_program_replaces_an_entry_or_leaves_a_gap_by_inserting(old, line):
    opening.opened(old, write=True).__exit__(None, None, None)
    with (
        sqlite3.connect(old) as connection,
        pytest.raises(sqlite3.IntegrityError, match="only ever"),
    ):
        connection.execute(line)
    connection.close()


def test_no_program_replaces_an_object_by_inserting(old):
    with opening.opened(old, write=True) as kept:
        digest = kept.digests()[0]
        kept.connection.execute("INSERT OR REPLACE INTO objects VALUES (?, x'00')", (digest,))
        assert check(kept).faults == ()
        casebook.lock(kept, "p-2", evidence("p-2", examiner="B"), at(50), name="e")
