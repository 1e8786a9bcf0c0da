"""Files that were cut short: refused, or read with a warning or a reject, or cut where a line ends."""

import warnings
from collections import Counter

import pytest
from readers import reader, told
from trials import times

from claywit.records.rejects import Account

# What ends with a mark, a length or a digest: no cut file is read as another one.
CLOSED = (
    "model (JSON)", "model (BIF)", "model (XMLBIF)", "model (UAI)", "certificate", "status list", "figures (canonical JSON)",
    "bundle", "casebook", "photograph", "pieces (Parquet)", "counts (Parquet)", "key (PEM)", "public key", "draft of the bench", "typed at the bench",
)  # fmt: skip
# What is made of lines: a file cut where one of them ends is a shorter file, and no reader can tell.
LINES = (
    "model (YAML)", "evidence (YAML)", "priors (YAML)", "intake form (YAML)", "question sheet (YAML)", "seed questions (YAML)",
    "question sheet (CSV)", "pieces (CSV)", "measured pieces (CSV, TSV)", "pieces (JSONL)", "counts (CSV)", "counts (JSONL)", "readings (CSV)",
)  # fmt: skip
CUTS = times(20, 1_000_000)  # of each file: at every byte under `make faults`


@pytest.mark.parametrize("name", CLOSED)
def test_no_cut_file_is_read_as_another(name, tried):
    found = _cut(name)
    assert not found["as another, warned"]
    assert not found["as another, at the end of a line"]
    said = f"{_every(name)}: {found['refused']:,} refused, {found['the same']:,} read as the whole (white space lost)"
    tried(f"{name}: cut short", found.total(), said)


@pytest.mark.parametrize("name", LINES)
def test_a_cut_file_of_lines_is_read_as_another_with_a_warning_or_where_a_line_ends(name, tried):
    found = _cut(name)
    said = (
        f"{_every(name)}: {found['refused']:,} refused, {found['the same']:,} read as the whole,"
        f" {found['as another, warned']:,} read with a warning or a reject,"
        f" {found['as another, at the end of a line']:,} cut where a line ends: a shorter file, which no reader can tell"
    )
    tried(f"{name}: cut short", found.total(), said)


def _step(whole):
    return -(-len(whole) // CUTS)


def _every(name):
    """Return where the files of a reader were cut, in words."""
    widest = max(map(_step, reader(name).whole))
    return "at every byte" if widest == 1 else f"at every byte, or every {widest}th of the longest"


def _cut(name):
    """Return how often a file of each golden was refused, or read as what."""
    which, found = reader(name), Counter()
    for whole in which.whole:
        expected = told(which, whole).read
        step = _step(whole)
        for end in range(len(whole) - 1, -1, -step):
            with warnings.catch_warnings(record=True) as noted:
                warnings.simplefilter("always")
                one = told(which, whole[:end])
            if one.error:
                found["refused"] += 1
            elif one.read == expected:
                found["the same"] += 1
            elif noted or _rejected(one.read):
                found["as another, warned"] += 1
            else:
                before, after = whole[:end].rstrip(b" "), whole[end : end + 1]
                ended = not before or before.endswith(b"\n") or after in (b"\n", b"\r")
                assert ended, (name, end, whole[:end][-80:])
                found["as another, at the end of a line"] += 1
    return found


def _rejected(read):
    """Return how many pieces the account of a file says were rejected."""
    return read[1].rejected if isinstance(read, tuple) and isinstance(read[1], Account) else 0
