"""The file of a casebook: it only ever adds, and what is done to it shows."""

import errno
import sqlite3

import pytest
from desk import START, new, open_case, opine, seeded
from faults.disturbing import CAN_DISTURB, disturbed

from claywit.errors import CasebookError
from claywit.records import opening
from claywit.records.case import read_case
from claywit.records.checking import check


def test_a_new_casebook_is_whole_and_holds_one_entry(kept):
    found = check(kept)
    assert (found.faults, found.entries, found.objects) == ((), 1, 1)


def test_a_casebook_never_replaces_a_file(tmp_path):
    (tmp_path / "c.db").write_text("mine")
    with pytest.raises(CasebookError, match="is there already"):
        opening.begin(tmp_path / "c.db", START, seeded(1))
    assert (tmp_path / "c.db").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["c.db"]


@pytest.mark.skipif(not CAN_DISTURB, reason="stops system calls of Linux on x86-64")
def test_whichever_write_of_a_new_casebook_fails_it_is_whole_or_not_there(tmp_path):
    def begun(failing):
        return disturbed(
            lambda: opening.begin(tmp_path / "c.db", START, seeded(1)) and 0,
            tmp_path,
            lambda number, _: errno.ENOSPC if number == failing else None,
        )

    changes = len(begun(-1).calls)
    assert changes > 20
    for failing in range(changes):
        (tmp_path / "c.db").unlink(missing_ok=True)
        ended = begun(failing)
        if (tmp_path / "c.db").exists():
            with opening.opened(tmp_path / "c.db") as kept:
                assert (check(kept).faults, check(kept).entries) == ((), 1)
        else:
            assert ended.status, f"said to be done without change {failing}"


def test_a_casebook_is_for_its_owner_only(tmp_path):
    opening.begin(tmp_path / "c.db", START, seeded(1))
    assert (tmp_path / "c.db").stat().st_mode & 0o077 == 0


def test_it_is_kept_as_the_design_asks(kept):
    ask = kept.connection.execute
    assert ask("PRAGMA journal_mode").fetchone() == ("wal",)
    assert ask("PRAGMA synchronous").fetchone() == (2,)  # FULL, as SQLite numbers it


def test_what_is_no_casebook_is_refused(tmp_path):
    for name, content in (
        ("text", b"hello"),
        ("empty", b""),
        ("cut", b"SQLite format 3\0" + b"x" * 90),
    ):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(CasebookError, match=r"is (no casebook|damaged)"):
            opening.opened(path)
    with pytest.raises(CasebookError, match="no casebook here"):
        opening.opened(tmp_path / "nowhere")


def test_a_file_with_a_trigger_of_its_own_is_refused(tmp_path):
    with new(tmp_path / "c.db") as kept:
        kept.connection.execute("CREATE TRIGGER t AFTER INSERT ON log BEGIN SELECT 1; END")
    with pytest.raises(CasebookError, match="its tables are not those of a casebook"):
        opening.opened(tmp_path / "c.db")


def test_a_file_whose_own_description_holds_bytes_is_refused(tmp_path):
    path = tmp_path / "c.db"
    with new(path) as kept:
        kept.connection.execute("PRAGMA writable_schema = ON")
        kept.connection.execute(
            "UPDATE sqlite_schema SET sql = CAST(sql AS BLOB) WHERE name = 'log_of_case'"
        )
    with pytest.raises(CasebookError, match=r"its tables are not those of a casebook|is damaged"):
        opening.opened(path)


@pytest.mark.parametrize(
    "line",
    [
        "DELETE FROM log",
        "UPDATE log SET entry = x'00'",
        "DELETE FROM objects",
        "UPDATE objects SET bytes = x'00'",
    ],
)
def test_the_file_itself_only_ever_adds(kept, line):
    open_case(kept)
    with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
        kept.connection.execute(line)


def tamper(kept, *lines):
    """Change the file as somebody would who has it and knows how."""
    for table in ("objects", "log"):
        for verb in ("update", "delete"):
            kept.connection.execute(f"DROP TRIGGER {table}_{verb}")
    for line in lines:
        kept.connection.execute(line)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("DELETE FROM log WHERE sequence = 3", "entry 3: missing; taken out"),
        ("DELETE FROM objects WHERE rowid = 4", "missing"),
        ("UPDATE objects SET bytes = x'00' WHERE rowid = 5", "altered"),
        ("UPDATE log SET \"case\" = 'p-9' WHERE sequence = 3", "filed under another case"),
        ("INSERT INTO objects VALUES ('ab', x'00')", "belongs to no entry"),
        ("UPDATE log SET sequence = -sequence WHERE sequence IN (3, 4)", "missing"),
        ("UPDATE log SET entry = CAST(replace(CAST(entry AS TEXT), '09:0', '08:0') AS BLOB) WHERE sequence = 2", "does not follow"),
    ],
)  # fmt: skip
def test_what_is_done_to_the_file_shows(kept, line, message):
    open_case(kept)
    opine(kept)
    tamper(kept, line)
    found = check(kept)
    assert any(message in fault for fault in found.faults), found.faults


def test_a_case_with_an_altered_object_is_not_read(kept):
    open_case(kept)
    tamper(kept, "UPDATE objects SET bytes = x'00'")
    with pytest.raises(CasebookError, match="was altered"):
        read_case(kept, "p-1")


def test_an_end_cut_off_the_file_shows_against_a_head_kept_outside(kept):
    open_case(kept)
    opine(kept)
    outside = kept.head()
    assert check(kept, outside).outside == "agrees"
    tamper(kept, "DELETE FROM log WHERE sequence = 5")
    assert check(kept, outside).outside == "disagrees"
    assert any("its end was cut off" in fault for fault in check(kept, outside).faults)


def test_a_casebook_so_damaged_that_sqlite_quotes_no_text_is_said_to_be_damaged(tmp_path):
    """The message of SQLite quotes the definition of a table, here in bytes that are no UTF-8."""
    with new(tmp_path / "c.db"):
        pass
    content = bytearray((tmp_path / "c.db").read_bytes())
    at = content.index(b"CREATE TABLE objects")
    content[at + 2] ^= 0xC5
    (tmp_path / "c.db").write_bytes(content)
    with pytest.raises(CasebookError, match="is damaged; take the last backup"):
        opening.opened(tmp_path / "c.db")
