"""Nothing that was acknowledged is lost, no file is half written, and all can be done again."""

import json
import os
import subprocess
import sys
from collections import Counter, defaultdict
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


def started(module, *arguments):
    """Start a module of this folder on its own."""
    return subprocess.Popen(
        [sys.executable, "-m", f"faults.{module}", *map(str, arguments)],
        cwd=HERE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": f"{HERE.parent / 'src'}:{HERE}", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip


def found(process):
    """Return what it found."""
    out, err = process.communicate(timeout=7200 if LONG else 400)
    assert process.returncode == 0, err[-3000:]
    return json.loads(out.splitlines()[-1])


def swept(scratch, counts, shares):
    """Return how often what ended how, and what went wrong, in so many runs with their own seeds."""
    running = []
    for seed in range(shares):
        (scratch / str(seed)).mkdir()
        each = [count if count == EVERY else count // shares for count in counts]
        running.append(started("sweep", scratch / str(seed), *each, seed, shares))
    ends, wrong = defaultdict(Counter), []
    for one in map(found, running):
        wrong += one["wrong"]
        for what, count in one["ends"].items():
            ends[what] += count
    return ends, wrong


EVERY = 1_000_000  # more than there are
FAILURES = ("ENOSPC", "EIO", "EROFS", "EACCES")
PLACE = "a system call that writes (casebook, certificate, keys, models, answers, batch, bench)"
TRIED = {
    "killed": f"a kill before {PLACE}",
    "power cut": "a power cut there: what was not synced is gone, or only its names are there",
    **{name: f"{name} from such a call, once or from then on" for name in FAILURES},
    "short": "no file may grow beyond some size, so that a write is cut short",
    "SIGINT": "SIGINT before such a call of a command",
    "SIGTERM": "SIGTERM before such a call of a command",
    "closed": "nobody reads what a command prints",
    "full": "what a command prints goes to a full disk",
    "order": "a new name on the disk, by the order of calls",
}
UNREADABLE = {
    "unreadable": "EACCES on each file in turn that a command opens to read",
    "torn": "EIO on each read of each such file",
}
WHOLE = "left all old or all new, lost nothing, and gave the same bytes when done again"
REFUSED = "ended with one error that names the file, nothing changed"
WELL = {
    "unreadable": REFUSED,
    "torn": REFUSED,
    "SIGINT": "ended with 130, no draft left, all old or all new",
    "SIGTERM": "ended with 143, no draft left, all old or all new",
    "closed": "ended with 0, what is written is whole",
    "full": "ended with 2 and one error, what is written is whole",
    "order": "came after the sync of the content and before the sync of the folder",
}


# How many kills, power cuts, failures of each kind, short writes, stops, commands that cannot read.
COUNTS = times((40, 40, 8, 8, 3, 6), (500, 200, 80, 80, 28, 0))
ALONE = [tuple(c if i == k else 0 for i, c in enumerate(COUNTS)) for k in range(len(COUNTS) - 1)]


@pytest.mark.skipif(not CAN_DISTURB, reason="stops system calls of Linux on x86-64")
@pytest.mark.parametrize("counts", times([COUNTS], ALONE), ids=str)
def test_kills_power_cuts_and_refusing_disks_leave_nothing_half_or_lost(counts, scratch, tried):
    ends, wrong = swept(scratch, counts, times(1, 2))
    assert (ends["killed"]["killed"], sum(ends["power cut"].values())) == counts[:2]
    _tell(ends, wrong, TRIED, tried)


@pytest.mark.skipif(
    not (LONG and CAN_DISTURB), reason="under `make faults`; takes a quarter of an hour"
)
def test_each_write_that_fails_leaves_nothing_half_or_lost(scratch, tried):
    ends, wrong = swept(scratch, (0, 0, EVERY, 0, 0, 0), 2)
    each = {name: f"{name} from each such call in turn" for name in FAILURES}
    _tell(ends, wrong, each, tried)


@pytest.mark.skipif(
    not (LONG and CAN_DISTURB), reason="under `make faults`; a few in the trial above"
)
def test_each_file_that_cannot_be_read_is_named_in_one_error(scratch, tried):
    ends, wrong = swept(scratch, (0, 0, 0, 0, 0, EVERY), 2)
    _tell(ends, wrong, UNREADABLE, tried)


def _tell(ends, wrong, trials, tried):
    for name, what in trials.items():
        count = sum(ends[name].values())
        if not count:
            continue
        bad = sum(one == name for one, *_ in wrong)
        told = ends[name].get("told")
        ended = f"{told:,} ended with one error, {count - told:,} without: " if told else ""
        tried(what, count, f"{ended}{count - bad:,} {WELL.get(name, WHOLE)}")
    assert not wrong, json.dumps(wrong, indent=1)


def test_two_at_once_lose_nothing_and_neither_writes_over_the_other(scratch, tried):
    each = times(2, 25)
    raced = found(started("racing", scratch, each))
    assert raced["wrong"] == []
    ends = raced["ends"]
    both = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 0)")
    one = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 2)")
    tried(
        f"two processes at once: {', '.join(ends)}", each * len(ends),
        f"{both:,} times both were done, {one:,} times one was and the other was told; nothing lost",
    )  # fmt: skip
