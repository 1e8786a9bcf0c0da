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
OTHERS = tuple(name for name in READERS if name not in OUTSIDE)
AT_HAND = importlib.util.find_spec("atheris") is not None


@pytest.mark.skipif(not (LONG and AT_HAND), reason="under `make faults`, where atheris is there")
@pytest.mark.parametrize(("names", "seconds"), [(OUTSIDE, 210), (OTHERS, 20)])
def test_no_input_that_the_code_itself_leads_to_breaks_a_promise(names, seconds, tried, tmp_path):
    guided = Path(__file__).with_name("guided.py")
    subprocess.run([sys.executable, guided, tmp_path, str(seconds), *names], check=True)
    broken = []
    for name, folder in zip(
        names, map(tmp_path.joinpath, map(str, range(len(names)))), strict=True
    ):
        said = folder / "log"
        log = said.read_text(encoding="utf-8", errors="replace") if said.exists() else "not begun"
        done = re.findall(r"number_of_executed_units:\s*(\d+)", log)
        if not done:
            inputs = [one.read_bytes() for one in folder.glob("*-*")]
            broken.append(f"{name}: {log[-3000:]}\n{inputs}")
            continue
        covered = re.findall(r"cov: (\d+)", log)
        tried(
            f"{name}: guided by coverage", int(done[-1]),
            f"{seconds} s, each read or refused with one line; branches reached: {covered[0]} by"
            f" the whole files, {covered[-1]} in the end",
        )  # fmt: skip
    assert not broken, "\n\n".join(broken)
