"""Nothing that was acknowledged is lost, no file is half written, and all can be done again."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from faults.disturbing import CAN_DISTURB
from trials import LONG, times

HERE = Path(__file__).parents[1]


def run(module, *arguments):
    """Run a module of this folder on its own, and return what it found."""
    done = subprocess.run(
        [sys.executable, "-m", f"faults.{module}", *map(str, arguments)],
        cwd=HERE, capture_output=True, text=True, check=False, timeout=7200 if LONG else 400,
        env={**os.environ, "PYTHONPATH": f"{HERE.parent / 'src'}:{HERE}", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.skipif(not CAN_DISTURB, reason="stops system calls of Linux on x86-64")
def test_kills_power_cuts_and_refusing_disks_leave_nothing_half_or_lost(tmp_path, tried):
    kills, cuts, failures = times(40, 500), times(40, 500), times(15, 250)
    found = run("sweep", tmp_path, kills, cuts, failures, 8)
    wrong = found["wrong"]
    assert found["kills"] == kills
    assert found["cuts"] >= cuts
    tried(
        "a kill before a system call that writes: casebook, certificate, keys, models, answers, batch, bench",
        found["kills"], _whole(found["kills"], wrong, "killed"),
    )  # fmt: skip
    tried(
        "a power cut there: what was not synced is gone, or only the names are there",
        found["cuts"], _whole(found["cuts"], wrong, "power cut"),
    )  # fmt: skip
    for name, ends in found["failures"].items():
        count = sum(ends.values())
        assert count >= min(failures, 15)
        what = "no file may grow beyond some size, so a write is cut short"
        if name != "short":
            what = f"{name} from a system call that writes, once or from then on"
        tried(
            what, count,
            f"{ends.get('told', 0):,} ended with one error, {ends.get('done', 0):,} could do without;"
            f" {_whole(count, wrong, name)}",
        )  # fmt: skip
    tried(
        "the order of calls for a name that appears: content synced, name given, folder synced",
        found["names"], f"{found['names'] - str(wrong).count('out of order'):,} in that order",
    )  # fmt: skip
    assert wrong == []


def _whole(count, wrong, what):
    bad = sum(what in place for place, _ in wrong)
    return f"{count - bad:,} times all old or all new, nothing lost, and the same bytes when done again"


def test_two_at_once_lose_nothing_and_neither_writes_over_the_other(tmp_path, tried):
    each = times(2, 40)
    found = run("racing", tmp_path, each)
    assert found["wrong"] == []
    ends = found["ends"]
    both = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 0)")
    one = sum(count for one in ends.values() for end, count in one.items() if end == "(0, 2)")
    tried(
        f"two processes at once: {', '.join(ends)}", each * len(ends),
        f"{both:,} times both were done, {one:,} times one was and the other was told; nothing lost",
    )  # fmt: skip
