"""What a plain install brings in: each library with a reason, none that binds its user."""

import re
import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path

from supply import asked_for, installed, licence, plain

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "reference" / "dependencies.md"
HEAVY = ("jinja2", "numpy", "pandas", "pgmpy", "PIL", "pydantic", "rich", "scipy", "starlette",
         "typst", "uvicorn", "yaml")  # fmt: skip


def test_every_library_that_is_asked_for_has_its_reason_and_licence():
    table = PAGE.read_text(encoding="utf-8").partition("\n## ")[0]
    rows = re.findall(r"^\| (\S+) \| (.+) \| (.+) \|$", table, re.MULTILINE)
    named = {plain(name): said for name, _, said in rows if name not in ("library", "---")}
    assert set(named) == asked_for()
    for name, said in named.items():
        first = re.split(r"[- ]", said)[0]
        assert first.lower() in licence(distribution(name)).lower(), name


def test_every_library_that_comes_along_states_its_licence():
    """That none binds its user is tried in `tests/faults/test_supply_install.py`."""
    every = installed(asked_for())
    assert len(every) > len(asked_for())
    assert not [name for name, found in every.items() if not licence(found).strip()]


def test_a_plain_install_stays_below_900_megabytes():
    files = [f for found in installed(asked_for()).values() for f in found.files or []]
    sizes = [path.stat().st_size for file in files if (path := Path(file.locate())).is_file()]
    assert 100e6 < sum(sizes) < 900e6


def test_help_imports_nothing_heavy():
    """So it is there in a blink; how long it takes is measured by `make bench`."""
    code = "import sys, claywit.cli; print('\\n'.join(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "claywit.cli" in found.stdout.split()
    assert not set(HEAVY) & {name.partition(".")[0] for name in found.stdout.split()}
