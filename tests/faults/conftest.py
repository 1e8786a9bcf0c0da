"""What the trials of faults share: the page that they write, and that it may not fall behind."""

import re
from pathlib import Path

import pytest
from golden import REWRITE
from trials import LONG

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "reliability.md"


@pytest.fixture(scope="session")
def tables():
    """Gather the rows of each part; `CLAYWIT_REWRITE=1 make faults` writes those that ran."""
    gathered = {}
    yield gathered
    if REWRITE and LONG:
        for part, rows in gathered.items():
            _write(part, rows)


@pytest.fixture
def tried(request, tables):
    """Keep what was tried, how often, and what happened: `tried(what, times, happened)`.

    The rows of `test_readers_images.py` belong to the part `readers`, which stands in the page
    between `<!-- readers -->` and `<!-- end of readers -->`. A trial that has no row there fails,
    so that the page cannot fall behind. A row of a trial that is no more is taken out by hand.
    """
    part = request.module.__name__.rpartition("test_")[2].partition("_")[0]

    def keep(what, count, happened):
        row = f"| {what} | {count:,} | {happened} |"
        tables.setdefault(part, {})[what] = row
        if not REWRITE:
            assert what in _rows(part), f"{PAGE.name} has no row for: {what}"

    return keep


def _rows(part):
    """Return the rows of a part's table in the page, by what was tried."""
    table = PAGE.read_text(encoding="utf-8").partition(f"<!-- {part} -->\n")[2]
    lines = table.partition(f"<!-- end of {part} -->\n")[0].splitlines()
    return {line.split(" | ")[0].removeprefix("| "): line for line in lines if line[:2] == "| "}


def _write(part, rows):
    """Write the rows of the trials that ran; those of trials that did not run stay."""
    head = ["| what was tried | times | what happened |", "|---|---|---|"]
    kept = [line for what, line in (_rows(part) | rows).items() if what != "what was tried"]
    table = "\n".join([*head, *kept])
    start, end = f"<!-- {part} -->\n", f"<!-- end of {part} -->\n"
    text = PAGE.read_text(encoding="utf-8")
    assert start in text, f"{PAGE.name} has no place for {part}"
    found = re.escape(start) + ".*?" + re.escape(end)
    text = re.sub(found, lambda _: f"{start}{table}\n{end}", text, flags=re.DOTALL)
    PAGE.write_text(text, encoding="utf-8")
