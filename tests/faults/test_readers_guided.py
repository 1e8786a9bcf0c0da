"""Every reader, fuzzed for half a minute each by what its code did; only where `atheris` is there."""

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from readers import READERS
from trials import LONG

SECONDS = 30
AT_HAND = importlib.util.find_spec("atheris") is not None


@pytest.mark.skipif(not (LONG and AT_HAND), reason="under `make faults`, where atheris is there")
@pytest.mark.parametrize("name", READERS)
def test_no_input_that_the_code_itself_leads_to_breaks_a_promise(name, tried, tmp_path):
    done = subprocess.run(
        [sys.executable, Path(__file__).with_name("guided.py"), name, str(SECONDS), tmp_path / "c"],
        capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-4000:]
    count = int(re.findall(r"number_of_executed_units:\s*(\d+)", done.stderr)[-1])
    tried(f"{name}: guided by coverage", count, "read, or refused with one line")
