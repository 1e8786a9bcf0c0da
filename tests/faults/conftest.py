"""What the trials of faults share: how often each is tried, and the page that they write."""

import os
import re
from pathlib import Path

import pytest
from golden import REWRITE

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "reliability.md"
LONG = os.environ.get("CLAYWIT_FAULTS") == "long"


def times(short, long):
    """Return how often to try: `short` in the routine suite, `long` under `make faults`."""
    return long if LONG else short


@pytest.fixture(scope="module")
def tried(request):
    """Keep what was tried, how often, and what happened: `tried(what, times, happened)`.

    The table of a module `test_readers.py` stands in the page between `<!-- readers -->` and
    `<!-- end of readers -->`. `CLAYWIT_REWRITE=1 make faults` writes it; without that, a trial
    that has no row in the page fails, so that the page cannot fall behind.
    """
    part = request.module.__name__.rpartition("test_")[2]
    rows = []

    def keep(what, count, happened):
        rows.append((what, count, happened))
        if not REWRITE:
            assert f"| {what} |" in _table(part), f"{PAGE.name} has no row for: {what}"

    yield keep
    if REWRITE and LONG and rows:
        lines = [f"| {what} | {count:,} | {happened} |" for what, count, happened in rows]
        _write(
            part, "\n".join(["| what was tried | times | what happened |", "|---|---|---|", *lines])
        )


def _marks(part):
    return f"<!-- {part} -->\n", f"<!-- end of {part} -->\n"


def _table(part):
    start, end = _marks(part)
    text = PAGE.read_text(encoding="utf-8")
    return text.partition(start)[2].partition(end)[0]


def _write(part, table):
    start, end = _marks(part)
    text = PAGE.read_text(encoding="utf-8")
    assert start in text, f"{PAGE.name} has no place for {part}"
    found = re.escape(start) + ".*?" + re.escape(end)
    PAGE.write_text(
        re.sub(found, lambda _: f"{start}{table}\n{end}", text, flags=re.S), encoding="utf-8"
    )
