"""Killed, crowded, full, read-only: no acknowledged record is lost, and the log stays whole."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from desk import at, form, new, open_case, seeded

from claywit.errors import CasebookError
from claywit.records import casebook, opening
from claywit.records.case import case_names
from claywit.records.checking import check

HERE = Path(__file__).parent


def test_200_kills_lose_no_acknowledged_record_and_leave_the_log_whole(tmp_path):
    done = subprocess.run(
        [sys.executable, HERE / "killed.py", tmp_path, "200"], capture_output=True, text=True,
        check=True, timeout=200, env={**os.environ, "PYTHONPATH": str(HERE.parent)},
    )  # fmt: skip
    acknowledged, lost, faults = map(int, done.stdout.split())
    assert acknowledged > 50
    assert (lost, faults) == (0, 0)


def test_two_processes_at_once_neither_fork_the_log_nor_lose_an_entry(tmp_path):
    path = tmp_path / "c.db"
    new(path).__exit__(None, None, None)
    code = (
        "import sys; from pathlib import Path; from desk import *\n"
        "from claywit.records import casebook, opening\n"
        "for n in range(30):\n"
        " with opening.opened(Path(sys.argv[1]), write=True) as kept:\n"
        "  casebook.intake(kept, form(f'{sys.argv[2]}-{n}'), at(n), seeded(n))\n"
    )
    env = {**os.environ, "PYTHONPATH": str(HERE.parent)}
    running = [subprocess.Popen([sys.executable, "-c", code, path, who], env=env) for who in "ab"]
    assert [one.wait(timeout=100) for one in running] == [0, 0]
    with opening.opened(path) as kept:
        assert check(kept).faults == ()
        assert len(case_names(kept)) == 60


def test_a_full_disk_is_said_and_the_old_file_is_intact(tmp_path):
    with new(tmp_path / "c.db") as kept:
        open_case(kept)
        before = kept.head()
        pages = kept.connection.execute("PRAGMA page_count").fetchone()[0]
        kept.connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(CasebookError, match="the disk is full; nothing was saved"):
            casebook.intake(kept, form("p-2", story="x" * 3900), at(9), seeded(3))
        assert kept.head() == before
        assert check(kept).faults == ()


def test_a_casebook_opened_for_reading_only_is_not_written(tmp_path):
    with new(tmp_path / "c.db") as kept:
        open_case(kept)
        before = kept.head()
        kept.connection.execute("PRAGMA query_only = ON")
        with pytest.raises(CasebookError, match="cannot be written; nothing was saved"):
            casebook.intake(kept, form("p-2"), at(9), seeded(3))
        assert kept.head() == before
