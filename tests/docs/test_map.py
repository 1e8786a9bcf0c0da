"""The map of the house in DEVELOPERS.md names every module."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_every_module_stands_in_the_map():
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    house = told.partition("## The house")[2].partition("## How one")[0]
    paths = (ROOT / "src" / "claywit").rglob("*.py")
    modules = {path.stem for path in paths if path.parent.name != "pages"}
    assert modules - set(re.findall(r"\w+", house)) == {"__init__"}
