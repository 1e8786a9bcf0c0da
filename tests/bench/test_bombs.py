"""Files that are small on disk and large in memory, brought to the pages that take a file."""

import subprocess
import sys

import pytest

from claywit.bench.asked import MOST_YAML
from claywit.bench.otherside import MOST
from claywit.bench.pages import evaluation

MEASURE = r"""
import re, sys
from pathlib import Path
from claywit.bench import otherside
from claywit.bench.pages import evaluation
from claywit.errors import ClaywitError
from claywit.records.files import read_demonstration

read = {"dispute": lambda text: otherside.party(text, read_demonstration()),
        "model": otherside.other_model,
        "evaluation": evaluation._read}[sys.argv[1]]
begin, part, end = (text.encode() for text in sys.argv[2:5])
most = int(sys.argv[5])
try:
    read(begin + part * ((most - 20) // len(part)) + end)
except ClaywitError as wrong:
    # Not ru_maxrss: that begins with what the process that started this one had.
    peak = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]
    print(int(peak) // 1024, wrong)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak is read from /proc")
@pytest.mark.parametrize(
    "bomb",
    [
        ("evaluation", '{"a":[', "[],", "[]]}", evaluation.MOST),
        ("evaluation", '{"a":[', "{},", "{}]}", evaluation.MOST),
        ("dispute", '{"a":[', "[],", "[]]}", MOST["theirs"]),
        ("dispute", "a: [", "a,", "a]", MOST_YAML),
        ("dispute", "a: [", "a,", "a]", MOST["theirs"]),
        ("model", "a: [", "a,", "a]", MOST_YAML),
    ],
    ids=lambda bomb: f"{bomb[0]}-{bomb[2]}-{bomb[4]}",
)
def test_the_largest_file_that_is_read_stays_within_the_bound_of_the_bench(bomb):
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, *map(str, bomb)], capture_output=True, text=True, check=True
    )
    megabytes, _, said = done.stdout.partition(" ")
    assert said.strip()
    assert 20 < int(megabytes) < 280
