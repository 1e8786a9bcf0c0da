"""How long it takes to check a certificate of the demo model."""

import subprocess
import sys
import time
from pathlib import Path

import pytest
from made import LATER, demo_case, issue, verify

pytestmark = pytest.mark.benchmark


def test_without_the_recheck_the_whole_process_takes_half_a_second(tmp_path):
    (tmp_path / "a.json").write_bytes(issue(*demo_case()).text)
    command = [
        Path(sys.executable).parent / "claywit",
        "verify",
        tmp_path / "a.json",
        "--no-recheck",
    ]
    taken = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        taken.append(time.perf_counter() - start)
    sys.stdout.write(f"\nverify --no-recheck, whole process: {min(taken):.2f} s\n")
    assert min(taken) <= 0.5


def test_the_recheck_takes_five_seconds_once_pgmpy_is_there():
    text = issue(*demo_case()).text
    verify(text)
    start = time.perf_counter()
    assert verify(text, now=LATER).valid
    taken = time.perf_counter() - start
    sys.stdout.write(f"\nverify with the recheck, pgmpy loaded: {taken:.2f} s\n")
    assert taken <= 5
