"""One part of a batch, from pieces to a finished file: the same on every machine.

A part is done when its account stands beside it, which is written last. Parts are written whole
or not at all, so one that was begun twice, since a worker died, is still there once.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

import numpy as np

from claywit.batch.folders import ids_of, mark_done, rejects_of
from claywit.batch.rows import columns, no_rows
from claywit.batch.scorer import Scorer, Wanted, model_of, occurring, scorer_of
from claywit.batch.scoring import score
from claywit.errors import CasesError
from claywit.evidence.cells import Refused
from claywit.learning.zeros import why_impossible
from claywit.records.cases import Block, digests, read_blocks
from claywit.records.disk import drafted
from claywit.records.encoding import csv_rows, json_lines, parquet_writer
from claywit.records.flat import Column
from claywit.records.rejects import Account, Rejects


@dataclass(frozen=True)
class Setup:
    """What all parts of a batch share; it travels to the workers.

    model: the text of the model file, called *name*. folder: where the parts are written.
    kind: `csv`, `jsonl` or `parquet`. about: what the answers rest on, as JSON, for Parquet.
    """

    model: bytes
    name: str
    wanted: Wanted
    folder: Path
    kind: str
    delimiter: str
    block: int
    about: str


@dataclass(frozen=True)
class Job:
    """A part to be done: a *block* that was read already, or a whole *file*.

    share: of all bytes that are to be read.
    """

    name: str
    block: Block | None = None
    file: Path | None = None
    share: float = 0.0


@dataclass(frozen=True)
class Done:
    """A part that is done, and the account of its pieces."""

    name: str
    account: Account


class _Write(Protocol):
    def __call__(self, columns: Sequence[Column], /) -> None: ...


def run_job(setup: Setup, job: Job) -> Done:
    """Score one part, and write it with its rejects, its ids and its account.

    Raises:
        CasesError: the file of the part cannot be read, or does not fit the model.
        ClaywitError: the part cannot be written.
    """
    model = model_of(setup.model, setup.name)
    blocks: Iterable[Block]
    if job.file is not None:
        blocks = read_blocks(job.file, model, block=setup.block)
    else:
        blocks = [job.block] if job.block else []
    with (
        Rejects(rejects_of(setup.folder, job.name)) as rejects,
        drafted(ids_of(setup.folder, job.name)) as ids,
        drafted(part_path(setup, job.name)) as stream,
        _writer(setup, stream) as write,
    ):
        for block in blocks:
            read = occurring(block.cases, setup.wanted)
            scorer = scorer_of(setup.model, setup.name, setup.wanted, read)
            names = _score_block(scorer, block, rejects, job.file or setup.folder, write)
            if job.file:
                ids.write(digests(names).tobytes())
        account = rejects.account
        if not account.used:
            write(no_rows(scorer_of(setup.model, setup.name, setup.wanted, setup.wanted.weighed)))
    mark_done(setup.folder, job.name, account)
    return Done(job.name, account)


def part_path(setup: Setup, name: str) -> Path:
    """Return where a part is written."""
    ending = {"csv": "tsv" if setup.delimiter == "\t" else "csv"}.get(setup.kind, setup.kind)
    return setup.folder / f"{name}.{ending}"


def _score_block(
    scorer: Scorer, block: Block, rejects: Rejects, where: Path, write: _Write
) -> tuple[str, ...]:
    """Write what is said of the pieces of a block, and return the ids of those."""
    cases = block.cases
    possible = np.ones(len(cases), dtype=np.bool_)
    if len(cases):
        scored, possible = score(scorer, cases)
        good = cases if possible.all() else cases.take(np.flatnonzero(possible))
        if len(good):
            write(columns(scorer, good, scored))
        names = good.names
    else:
        names = ()
    aside = set(scorer.network.model.by_name) - set(scorer.wanted.weighed)
    refused = []
    for before, row in enumerate(np.flatnonzero(~possible).tolist()):
        why = why_impossible(scorer.network, cases.findings(row, without=aside), before)
        refused.append(Refused(int(cases.lines[row]), cases.names[row], why))
    rejects.count(block.read, len(names))
    for one in sorted([*block.refused, *refused], key=lambda one: one.line):
        rejects.add(where, one)
    return names


@contextmanager
def _writer(setup: Setup, stream: BinaryIO) -> Iterator[_Write]:
    if setup.kind == "parquet":
        with parquet_writer(stream, {"claywit": setup.about}) as write:
            yield write
        return
    head = True

    def write_rows(found: Sequence[Column]) -> None:
        nonlocal head
        if setup.kind == "jsonl":
            stream.write(json_lines(found))
        else:
            stream.write(csv_rows(found, setup.delimiter, head=head))
        head = False

    yield write_rows


def refuse_empty(account: Account, where: Path, rejects: Path) -> None:
    """Refuse a batch of which no piece could be scored; what was rejected stands in *rejects*.

    Raises:
        CasesError: as said.
    """
    if not account.used:
        why = f"; see {rejects}" if account.rejected else ""
        raise CasesError(f"{where}: {account.said()}; there is nothing to write{why}")
