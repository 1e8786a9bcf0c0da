"""Files of many pieces in, a block of columns at a time."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
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
from claywit.records.disk import plain_file
from claywit.records.jsonl import read_jsonl
from claywit.records.kinds import kind_of
from claywit.records.parquet import read_parquet
from claywit.records.rejects import Rejects
from claywit.records.rows import Rows

BLOCK = 10_000
_HEADS = 50  # whose meanings are kept: lines of JSONL may have any keys


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
    noted.refuse_over(path)
    for part in read_blocks(path, model, block=block):
        noted.count(part.read, len(part.cases))
        for one in part.refused:
            noted.add(path, one)
        if len(part.cases):
            yield part.cases


@dataclass(frozen=True)
class Block:
    """A part of a file: *read* pieces, of which *cases* can be used; the others were *refused*.

    size: how many bytes of the file it is.
    """

    read: int
    cases: Cases
    refused: tuple[Refused, ...]
    size: int


def read_blocks(path: Path, model: Model, *, block: int = BLOCK) -> Iterator[Block]:
    """Yield the pieces of a file in blocks of at most *block*, each with its rejects.

    Raises:
        CasesError: the file cannot be read, or its columns do not fit the model.
    """
    seen = Seen()
    typings: dict[tuple[tuple[str, Part], ...], Typing] = {}
    for rows in _blocks(path, model, block):
        key = tuple(rows.head.parts.items())
        if len(typings) >= _HEADS:
            typings.clear()
        typing = typings.setdefault(key, Typing(model, rows.head))
        cases, refused = typing.typed(rows.raw())
        again = seen.again(digests(cases.names))
        if again.any():
            why = "this id was used before in the file; each piece stands once"
            twice = np.flatnonzero(again).tolist()
            refused += [Refused(int(cases.lines[i]), cases.names[i], why) for i in twice]
            cases = cases.take(np.flatnonzero(~again))
        every = sorted([*rows.refused, *refused], key=lambda one: one.line)
        yield Block(len(rows), cases, tuple(every), rows.size)


def _blocks(path: Path, model: Model, size: int) -> Iterator[Rows]:
    kind = kind_of(path)
    if kind == "parquet":
        yield from read_parquet(path, model, size)
        return
    with plain_file(path, CasesError) as stream:
        if kind == "csv":
            yield from read_csv(stream, path, model, size)
        else:
            yield from read_jsonl(stream, model, size)


def digests(names: Iterable[str]) -> NDArray[np.uint64]:
    """Return 8 bytes for each id: two of ten million share them with a chance of 3 in a million."""
    text = b"".join(blake2b(name.encode(), digest_size=8).digest() for name in names)
    return np.frombuffer(text, dtype=np.uint64)


class Seen:
    """The digests of the ids so far: ten million take 80 MB."""

    def __init__(self) -> None:
        """Begin without any."""
        self._runs: list[NDArray[np.uint64]] = []  # each sorted, each longer than the next

    def again(self, found: NDArray[np.uint64]) -> NDArray[np.bool_]:
        """Return which were there before, here or earlier, and remember them."""
        again = np.ones(len(found), dtype=np.bool_)
        again[np.unique(found, return_index=True)[1]] = False
        for run in self._runs:
            at = np.minimum(np.searchsorted(run, found), len(run) - 1)
            again |= run[at] == found
        self._keep(np.sort(found[~again]))
        return again

    def _keep(self, run: NDArray[np.uint64]) -> None:
        while len(run) and self._runs and len(self._runs[-1]) < 2 * len(run):
            run = np.sort(np.concatenate([self._runs.pop(), run]))
        if len(run):
            self._runs.append(run)
