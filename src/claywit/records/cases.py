"""Files of many pieces in, a block of columns at a time."""

from collections.abc import Iterator
from hashlib import blake2b
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from claywit.errors import CasesError
from claywit.evidence.cases import Cases
from claywit.evidence.cells import Refused, Typing
from claywit.evidence.columns import Part
from claywit.model.schema import Model
from claywit.records.delimited import read_csv
from claywit.records.jsonl import read_jsonl
from claywit.records.kinds import kind_of
from claywit.records.parquet import read_parquet
from claywit.records.rejects import Rejects
from claywit.records.rows import Rows

BLOCK = 10_000


def read_cases(
    path: Path, model: Model, rejects: Rejects | None = None, *, block: int = BLOCK
) -> Iterator[Cases]:
    """Yield the pieces of a CSV, JSONL or Parquet file in blocks of at most *block*.

    What cannot be used goes to *rejects*, which keeps the account: each row with its reason,
    an id that was used before among them. Without *rejects* the first one is an error.

    Raises:
        CasesError: the file cannot be read, its columns do not fit the model, or as `Rejects`.
    """
    noted = rejects or Rejects(None)
    seen = _Seen()
    typings: dict[tuple[tuple[str, Part], ...], Typing] = {}
    for rows in _blocks(path, model, block):
        key = tuple(rows.head.parts.items())
        typing = typings.setdefault(key, Typing(model, rows.head))
        cases, refused = typing.typed(rows.raw())
        again = seen.again(cases.names)
        if again.any():
            why = "this id was used before in the file; each piece stands once"
            twice = np.flatnonzero(again).tolist()
            refused += [Refused(int(cases.lines[i]), cases.names[i], why) for i in twice]
            cases = cases.take(np.flatnonzero(~again))
        noted.count(len(rows), len(cases))
        for one in sorted([*rows.refused, *refused], key=lambda one: one.line):
            noted.add(path, one)
        if len(cases):
            yield cases


def _blocks(path: Path, model: Model, size: int) -> Iterator[Rows]:
    kind = kind_of(path)
    if kind == "parquet":
        yield from read_parquet(path, model, size)
        return
    try:
        with path.open("rb") as stream:
            if kind == "csv":
                yield from read_csv(stream, path, model, size)
            else:
                yield from read_jsonl(stream, model, size)
    except OSError as wrong:
        raise CasesError(f"{path}: cannot be read: {wrong.strerror}") from None


class _Seen:
    """The ids so far, as digests of 8 bytes: ten million take 80 MB.

    Two of ten million ids share a digest with a chance of 3 in a million.
    """

    def __init__(self) -> None:
        self._runs: list[NDArray[np.uint64]] = []  # each sorted, each longer than the next

    def again(self, names: tuple[str, ...]) -> NDArray[np.bool_]:
        """Return which of *names* were given before, here or earlier, and remember them."""
        text = b"".join(blake2b(name.encode(), digest_size=8).digest() for name in names)
        digests = np.frombuffer(text, dtype=np.uint64)
        again = np.ones(len(digests), dtype=np.bool_)
        again[np.unique(digests, return_index=True)[1]] = False
        for run in self._runs:
            at = np.minimum(np.searchsorted(run, digests), len(run) - 1)
            again |= run[at] == digests
        self._keep(np.sort(digests[~again]))
        return again

    def _keep(self, run: NDArray[np.uint64]) -> None:
        while len(run) and self._runs and len(self._runs[-1]) < 2 * len(run):
            run = np.sort(np.concatenate([self._runs.pop(), run]))
        if len(run):
            self._runs.append(run)
