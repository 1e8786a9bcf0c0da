"""Nothing that was acknowledged is lost, no file is half written, and all can be done again."""

import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from faults.disturbing import CAN_DISTURB
from trials import LONG, times

HERE = Path(__file__).parents[1]


@pytest.fixture
def scratch(tmp_path):
    """Return a folder in memory, where there is one: a real disk would be waited for at each sync."""
    memory = Path("/dev/shm")  # noqa: S108 - a folder of our own is made in it
    with TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else tmp_path) as folder:
        yield Path(folder)


def run(module, *arguments):
    """Run a module of this folder on its own, and return what it found."""
    done = subprocess.run(
        [sys.executable, "-m", f"faults.{module}", *map(str, arguments)],
        cwd=HERE, capture_output=True, text=True, check=False, timeout=7200 if LONG else 400,
        env={**os.environ, "PYTHONPATH": f"{HERE.parent / 'src'}:{HERE}", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


PLACE = "a system call that writes (casebook, certificate, keys, models, answers, batch, bench)"
TRIED = {
    "killed": f"a kill before {PLACE}",
    "power cut": "a power cut there: what was not synced is gone, or only its names are there",
    **{
        name: f"{name} from such a call, once or from then on"
        for name in ("ENOSPC", "EIO", "EROFS", "EACCES")
    },
    "short": "no file may grow beyond some size, so that a write is cut short",
    "SIGINT": "SIGINT before such a call, in each command",
    "SIGTERM": "SIGTERM before such a call, in each command",
    "closed": "nobody reads what is printed, in each command",
    "full": "what is printed goes to a full disk, in each command",
    "order": "a new name on the disk, by the order of calls",
}
WHOLE = "left all old or all new, lost nothing, and gave the same bytes when done again"
WELL = {
    "SIGINT": "ended with 130, no draft left, all old or all new",
    "SIGTERM": "ended with 143, no draft left, all old or all new",
    "closed": "ended with 0, what is written is whole",
    "full": "ended with 2 and one error, what is written is whole",
    "order": "came after the sync of the content and before the sync of the folder",
}


@pytest.mark.skipif(not CAN_DISTURB, reason="stops system calls of Linux on x86-64")
def test_kills_power_cuts_and_refusing_disks_leave_nothing_half_or_lost(scratch, tried):
    counts = times((40, 40, 8, 3), (500, 200, 60, 99))
    found = run("sweep", scratch, *counts, 8)
    ends, wrong = found["ends"], found["wrong"]
    assert (ends["killed"]["killed"], sum(ends["power cut"].values())) == counts[:2]
    for name, what in TRIED.items():
        count = sum(ends[name].values())
        bad = sum(one == name for one, *_ in wrong)
        told = ends[name].get("told")
        ended = f"{told:,} ended with one error, {count - told:,} without: " if told else ""
        tried(what, count, f"{ended}{count - bad:,} {WELL.get(name, WHOLE)}")
    assert wrong == []


def test_two_at_once_lose_nothing_and_neither_writes_over_the_other(scratch, tried):
    each = times(2, 25)
    found = run("racing", scratch, each)
    assert found["wrong"] == []
    ends = found["ends"]
    both = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 0)")
    one = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 2)")
    tried(
        f"two processes at once: {', '.join(ends)}", each * len(ends),
        f"{both:,} times both were done, {one:,} times one was and the other was told; nothing lost",
    )  # fmt: skip
