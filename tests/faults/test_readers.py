"""Every reader takes any bytes: it reads them, or says in one line what is wrong and where."""

from collections import Counter
from random import Random

import pytest
from mutants import mutant
from readers import READERS, reader, told
from trials import times


@pytest.mark.parametrize("name", READERS)
def test_whole_files_are_read(name):
    one = reader(name)
    assert [told(one, content).error for content in one.whole] == [""] * len(one.whole)


@pytest.mark.parametrize("name", READERS)
def test_altered_files_are_read_or_refused_with_one_line(name, tried):
    which, rng = reader(name), Random(f"8 {name}")  # noqa: S311 - a seed in sight
    count, found, longest = times(40, 15_000), Counter(), 0.0
    for i in range(count):
        content = mutant(rng, which)
        try:
            one = told(which, content)
        except BaseException as wrong:
            wrong.add_note(f"mutant {i} of seed '8 {name}': {content[:3000]!r}")
            raise
        found["refused" if one.error else "read"] += 1
        longest = max(longest, one.seconds)
    tried(
        f"{name}: altered",
        count,
        f"{found['read']:,} read, {found['refused']:,} refused; none took longer than {longest:.2f} s",
    )
