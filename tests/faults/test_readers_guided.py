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

# What comes from somebody else, for so many seconds each; the others for fewer.
OUTSIDE = (
    "model (YAML)", "evidence (YAML)", "certificate of a liar", "bundle of a liar", "bundle",
    "pieces (CSV)", "pieces (JSONL)", "pieces (Parquet)", "model (JSON)", "model (BIF)",
    "model (XMLBIF)", "model (UAI)", "certificate", "photograph", "verbal scale (YAML)",
    "draft of the bench", "casebook",
)  # fmt: skip
AT_HAND = importlib.util.find_spec("atheris") is not None


@pytest.mark.skipif(not (LONG and AT_HAND), reason="under `make faults`, where atheris is there")
@pytest.mark.parametrize("name", READERS)
def test_no_input_that_the_code_itself_leads_to_breaks_a_promise(name, tried, tmp_path):
    guided, seconds = Path(__file__).with_name("guided.py"), 210 if name in OUTSIDE else 20
    ended = subprocess.run(
        [sys.executable, guided, tmp_path, str(seconds), name],
        capture_output=True, text=True, errors="replace", check=False,
    )  # fmt: skip
    said = tmp_path / "log"
    log = said.read_text(encoding="utf-8", errors="replace") if said.exists() else ended.stderr
    done = re.findall(r"number_of_executed_units:\s*(\d+)", log)
    broken = [one.read_bytes() for one in tmp_path.glob("*-*")]
    assert done, log[-3000:]
    assert not broken, f"{log[-3000:]}\n{broken}"
    covered = re.findall(r"cov: (\d+)", log)
    tried(
        f"{name}: guided by coverage", int(done[-1]),
        f"{seconds} s, each read or refused with one line; branches reached: {covered[0]} by"
        f" the whole files, {covered[-1]} in the end",
    )  # fmt: skip
