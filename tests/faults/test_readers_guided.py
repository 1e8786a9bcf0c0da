"""Every reader, fuzzed by what its code did, those of files from outside for an hour in all.

Only where `atheris` is there. An input over which a reader does not keep its word is kept.
"""

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from readers import READERS
from trials import LONG

SECONDS = 20
# What comes from somebody else: an hour in all.
HOUR = (
    "model (YAML)", "evidence (YAML)", "model (JSON)", "pieces (CSV)", "pieces (JSONL)",
    "pieces (Parquet)", "model (BIF)", "model (XMLBIF)", "model (UAI)", "certificate",
    "certificate of a liar", "bundle", "bundle of a liar", "photograph", "verbal scale (YAML)",
    "draft of the bench", "casebook",
)  # fmt: skip
AT_HAND = importlib.util.find_spec("atheris") is not None


@pytest.mark.skipif(not (LONG and AT_HAND), reason="under `make faults`, where atheris is there")
@pytest.mark.parametrize("name", READERS)
def test_no_input_that_the_code_itself_leads_to_breaks_a_promise(name, tried, tmp_path):
    seconds = 3600 // len(HOUR) if name in HOUR else SECONDS
    done = subprocess.run(
        [sys.executable, Path(__file__).with_name("guided.py"), name, str(seconds), tmp_path / "c"],
        capture_output=True, text=True, check=False, timeout=900,
    )  # fmt: skip
    kept = [f"{one}: {one.read_bytes()!r}" for one in tmp_path.glob("*-*")]
    assert done.returncode == 0, f"{done.stderr[-4000:]}\n{kept}"
    count = int(re.findall(r"number_of_executed_units:\s*(\d+)", done.stderr)[-1])
    covered = re.findall(r"cov: (\d+)", done.stderr)
    tried(
        f"{name}: guided by coverage", count,
        f"{seconds} s, each read or refused with one line; branches reached: {covered[0]} by the"
        f" whole files, {covered[-1]} in the end",
    )  # fmt: skip
