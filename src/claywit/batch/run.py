"""A whole batch: pieces in, answers out, begun again where it was stopped.

Finished parts wait in a folder beside the answer until all are there. A batch that was stopped
goes on with the parts that are missing, and gives the same bytes.
"""

import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from claywit.batch.about import Batch, Source, account_of, sources_of, this_run, used_by
from claywit.batch.folders import (
    ASIDE,
    begun,
    clear,
    done_before,
    forget_ids,
    ids_of,
    rejects_of,
    remove,
    whole,
)
from claywit.batch.jobs import Done, Job, Setup, part_path, refuse_empty, run_job
from claywit.batch.pools import RunAll
from claywit.records.cases import Seen, read_blocks
from claywit.records.disk import drafted, refuse_over, write_bytes
from claywit.records.kinds import delimiter_of, kind_of, partitions
from claywit.records.parquet import arrow
from claywit.records.rejects import Account
from claywit.report.batched import BatchAccount, BatchUsed
from claywit.report.digest import canonical_json

ACCOUNT = "account.json"
NOTHING = Account(0, 0, 0)


@dataclass(frozen=True)
class Progress:
    """How far a batch is: the pieces so far, and the share of all bytes that they were.

    new: the pieces, and the share, that were done in this run and not in one before.
    """

    account: Account
    share: float
    new: tuple[int, float]


Told = Callable[[Progress], None]


@dataclass(frozen=True)
class Finished:
    """The account of a whole batch, and where its rejects are.

    again: how many ids stand in more than one file of a folder.
    """

    account: Account
    rejects: Path
    again: int


def run(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    """Score a batch; *told* hears how far it is, again and again.

    Raises:
        CasesError: the pieces cannot be read or do not fit the model, or the parts that wait
            are of another batch.
        ModelError: the network is too entangled to be held in memory.
        ClaywitError: the answer cannot be written.
    """
    if batch.cases.is_dir():
        return _run_folder(batch, run_all, told)
    return _run_file(batch, run_all, told)


def _run_file(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    folder, rejects, about = (
        batch.output.with_name(f"{batch.output.name}.{end}")
        for end in ("parts", "rejects.csv", ACCOUNT)
    )
    for written in (batch.output, rejects, about):
        refuse_over(written, Path(batch.model_name), batch.cases)
    used = used_by(batch)
    setup = _setup(batch, folder, kind_of(batch.output), used)
    sources = sources_of([batch.cases])
    with begun(folder, this_run(batch, sources)):
        parts = _all_done(setup, _block_jobs(batch, sources[0][1]), run_all, told)
        account = _total(parts)
        if account.rejected or account.used:
            _join_rejects(folder, parts, rejects)
        if account.used:
            _assemble(setup, batch.output, parts)
            write_bytes(about, account_of(used, sources, account, again=0))
        remove(folder)  # of no use either where the pieces are what has to be mended
    refuse_empty(account, batch.cases, rejects)
    return Finished(account, rejects, 0)


def _join_rejects(folder: Path, parts: list[Done], rejects: Path) -> None:
    with drafted(rejects) as stream:
        for i, part in enumerate(parts):
            with whole(folder):
                lines = rejects_of(folder, part.name).read_bytes()
                own = lines if i == 0 else lines.split(b"\n", maxsplit=1)[1]
            stream.write(own)


def _run_folder(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    files = partitions(batch.cases)
    sources = sources_of(files)
    with begun(batch.output, this_run(batch, sources)):
        return _done_in_folder(batch, files, sources, run_all, told)


def _done_in_folder(
    batch: Batch, files: list[Path], sources: tuple[Source, ...], run_all: RunAll, told: Told
) -> Finished:
    folder, used = batch.output, used_by(batch)
    setup = _setup(batch, folder, kind_of(files[0]), used)
    kept = _kept_account(folder)
    if kept:  # all was done before
        forget_ids(folder)
        account = Account(kept.read, kept.used, kept.rejected)
        return Finished(account, folder / ASIDE, kept.again)
    every = sum(size for _, size, _ in sources)
    jobs = (
        Job(file.stem, file=file.absolute(), share=size / max(1, every))
        for file, (_, size, _) in zip(files, sources, strict=True)
    )
    parts = _all_done(setup, jobs, run_all, told)
    account = _total(parts)
    refuse_empty(account, batch.cases, folder / ASIDE)
    seen, again = Seen(), 0
    for part in parts:
        with whole(folder):
            ids = np.frombuffer(ids_of(folder, part.name).read_bytes(), dtype=np.uint64)
        again += int(seen.again(ids).sum())
    write_bytes(folder / ASIDE / ACCOUNT, account_of(used, sources, account, again=again))
    forget_ids(folder)
    clear(folder)
    return Finished(account, folder / ASIDE, again)


def _kept_account(folder: Path) -> BatchAccount | None:
    try:
        return BatchAccount.model_validate_json((folder / ASIDE / ACCOUNT).read_bytes())
    except (OSError, ValidationError):
        return None


def _setup(batch: Batch, folder: Path, kind: str, used: BatchUsed) -> Setup:
    if kind == "parquet":
        arrow()
    return Setup(
        batch.model_text,
        batch.model_name,
        batch.wanted,
        folder.absolute(),
        kind,
        delimiter_of(batch.output),
        batch.block,
        canonical_json(used),
    )


def _block_jobs(batch: Batch, size: int) -> Iterator[Job]:
    for number, block in enumerate(read_blocks(batch.cases, batch.model, block=batch.block)):
        yield Job(f"{number:06d}", block=block, share=block.size / max(1, size))


def _all_done(setup: Setup, jobs: Iterable[Job], run_all: RunAll, told: Told) -> list[Done]:
    """Return all parts in order; those that an earlier run finished are not done again."""
    before, now = _Tally(), _Tally()
    shares: dict[str, float] = {}  # in order

    def missing() -> Iterator[Job]:
        for job in jobs:
            shares[job.name] = job.share
            account = done_before(setup.folder, job.name)
            if account is None:
                yield job
            else:
                before.add(Done(job.name, account), job.share)

    for part in run_all(_Bound(setup), missing()):
        now.add(part, shares[part.name])
        whole = _plus(before.account, now.account)
        told(Progress(whole, before.share + now.share, (now.account.read, now.share)))
    found = before.done | now.done
    return [found[name] for name in shares]


@dataclass
class _Tally:
    """Parts as they come in."""

    done: dict[str, Done] = field(default_factory=dict)
    account: Account = NOTHING
    share: float = 0.0

    def add(self, part: Done, share: float) -> None:
        self.done[part.name] = part
        self.account = _plus(self.account, part.account)
        self.share += share


@dataclass(frozen=True)
class _Bound:
    """`run_job` with its setup, as one function that can travel."""

    setup: Setup

    def __call__(self, job: Job) -> Done:
        return run_job(self.setup, job)


def _plus(one: Account, other: Account) -> Account:
    return Account(one.read + other.read, one.used + other.used, one.rejected + other.rejected)


def _total(parts: list[Done]) -> Account:
    total = NOTHING
    for part in parts:
        total = _plus(total, part.account)
    if total.read != total.used + total.rejected:
        raise ArithmeticError("the account of the batch does not balance")  # our bug
    return total


def _assemble(setup: Setup, output: Path, parts: list[Done]) -> None:
    """Write the parts one after the other into the answer."""
    paths = [part_path(setup, part.name) for part in parts if part.account.used]
    with drafted(output) as stream:
        if setup.kind == "parquet":
            pa = arrow()
            with whole(setup.folder):
                schema = pa.parquet.read_schema(paths[0])
            with pa.parquet.ParquetWriter(stream, schema) as writer:
                for path in paths:
                    with whole(setup.folder):
                        table = pa.parquet.read_table(path)
                    writer.write_table(table)
            return
        for i, path in enumerate(paths):
            with whole(setup.folder):
                opened = path.open("rb")
            with opened as part:
                if i and setup.kind == "csv":
                    part.readline()
                shutil.copyfileobj(part, stream, 2**20)
