"""What the benchmarks share: the demo model, and the table that they write."""

import os
import platform
from pathlib import Path

import numpy as np
import pytest
from golden import REWRITE

from claywit.records import files

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "reference" / "performance.md"
START, END = "<!-- figures -->\n", "<!-- end of figures -->\n"


@pytest.fixture(scope="session")
def demo_model():
    return files.read_model(ROOT / "models" / "oskervane.yaml")


@pytest.fixture(scope="session")
def figures():
    """Gather figures; `CLAYWIT_REWRITE=1 make bench` writes them into the page."""
    gathered = []
    yield gathered
    if REWRITE and gathered:
        text = PAGE.read_text(encoding="utf-8")
        before, after = text.split(START)[0], text.split(END)[1]
        rows = [f"| {what} | {found} | {goal} |" for what, found, goal in gathered]
        table = "\n".join(["| what | found | goal |", "|---|---|---|", *rows])
        PAGE.write_text(f"{before}{START}{machine()}\n\n{table}\n{END}{after}", encoding="utf-8")


def machine():
    """Return what the figures were measured on, in a sentence."""
    cpu = platform.machine()
    described = Path("/proc/cpuinfo")
    if described.exists():
        lines = described.read_text(encoding="utf-8").splitlines()
        cpu = next((x.partition(":")[2].strip() for x in lines if x.startswith("model name")), cpu)
    return (
        f"Measured on {os.cpu_count()} cores ({cpu}), {platform.system()}, Python "
        f"{platform.python_version()}, numpy {np.__version__}."
    )
