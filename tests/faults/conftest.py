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
    so that the page cannot fall behind.
    """
    part = request.module.__name__.rpartition("test_")[2].partition("_")[0]

    def keep(what, count, happened):
        tables.setdefault(part, []).append((what, count, happened))
        if not REWRITE:
            table = PAGE.read_text(encoding="utf-8").partition(f"<!-- {part} -->\n")[2]
            table = table.partition(f"<!-- end of {part} -->\n")[0]
            assert f"| {what} |" in table, f"{PAGE.name} has no row for: {what}"

    return keep


def _write(part, rows):
    start, end = f"<!-- {part} -->\n", f"<!-- end of {part} -->\n"
    lines = [f"| {what} | {count:,} | {happened} |" for what, count, happened in rows]
    table = "\n".join(["| what was tried | times | what happened |", "|---|---|---|", *lines])
    text = PAGE.read_text(encoding="utf-8")
    assert start in text, f"{PAGE.name} has no place for {part}"
    found = re.escape(start) + ".*?" + re.escape(end)
    text = re.sub(found, lambda _: f"{start}{table}\n{end}", text, flags=re.DOTALL)
    PAGE.write_text(text, encoding="utf-8")
