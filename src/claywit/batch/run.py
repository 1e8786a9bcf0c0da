"""A whole batch: pieces in, answers out, begun again where it was stopped.

Finished parts wait in a folder beside the answer until all are there. A batch that was stopped
goes on with the parts that are missing, and gives the same bytes.
"""

import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from claywit import __version__
from claywit.batch.folders import begun, forget
from claywit.batch.jobs import (
    Done,
    Job,
    Setup,
    done_before,
    part_path,
    read_account,
    refuse_empty,
    run_job,
    scorer_of,
)
from claywit.batch.pools import RunAll
from claywit.batch.scorer import Wanted
from claywit.errors import CasesError
from claywit.model.schema import Model
from claywit.records.cases import Seen, read_blocks
from claywit.records.disk import drafted, refuse_over, write_bytes
from claywit.records.drafting import clear_dead
from claywit.records.kinds import KINDS, delimiter_of, kind_of
from claywit.records.parquet import arrow
from claywit.records.rejects import Account
from claywit.report.digest import digest

ACCOUNT, WHOLE = "account.json", "claywit-account/1"
Told = Callable[[Account], None]


@dataclass(frozen=True)
class Batch:
    """What is to be scored, and where the answer goes.

    cases: a file, or a folder of files. output: a file, or for a folder a folder.
    model_text: of the model file, whose name is *model_name*.
    """

    model: Model
    model_text: bytes
    model_name: str
    cases: Path
    output: Path
    wanted: Wanted
    block: int


@dataclass(frozen=True)
class Finished:
    """The account of a whole batch, and where its rejects are.

    again: how many ids stand in more than one file of a folder.
    """

    account: Account
    rejects: Path
    again: int


def run(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    """Score a batch; *told* hears the account so far, again and again.

    Raises:
        CasesError: the pieces cannot be read or do not fit the model, or the parts that wait
            are of another batch.
        ModelError: the network is too entangled to be held in memory.
        ClaywitError: the answer cannot be written.
    """
    # What is wrong with the model is said here, at once.
    scorer_of(batch.model_text, batch.model_name, batch.wanted)
    if batch.cases.is_dir():
        return _run_folder(batch, run_all, told)
    return _run_file(batch, run_all, told)


def _run_file(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    folder = batch.output.with_name(f"{batch.output.name}.parts")
    rejects = batch.output.with_name(f"{batch.output.name}.rejects.csv")
    for written in (batch.output, rejects):
        refuse_over(written, Path(batch.model_name), batch.cases)
    setup = _setup(batch, folder, kind_of(batch.output), head=True)
    with begun(folder, _described(batch, [batch.cases])):
        parts = _all_done(setup, _block_jobs(batch), run_all, told)
        account = _total(parts)
        if account.rejected or account.used:
            _join_rejects(folder, parts, rejects)
        if account.used:
            _assemble(setup, batch.output, parts)
        forget(folder)  # of no use either where the pieces are what has to be mended
    refuse_empty(account, batch.cases, rejects)
    return Finished(account, rejects, 0)


def _join_rejects(folder: Path, parts: list[Done], rejects: Path) -> None:
    with drafted(rejects) as stream:
        for i, part in enumerate(parts):
            lines = (folder / f"{part.name}.rejects.csv").read_bytes()
            stream.write(lines if i == 0 else lines.split(b"\n", maxsplit=1)[1])


def _run_folder(batch: Batch, run_all: RunAll, told: Told) -> Finished:
    files = partitions(batch.cases)
    kind = kind_of(files[0])
    setup = _setup(batch, batch.output, kind, head=True)
    with begun(batch.output, _described(batch, files)):
        return _done_in_folder(batch, setup, files, run_all, told)


def _done_in_folder(
    batch: Batch, setup: Setup, files: list[Path], run_all: RunAll, told: Told
) -> Finished:
    if (batch.output / ACCOUNT).exists():  # all was done before
        return _finished_before(batch.output)
    parts = _all_done(setup, (Job(file.stem, file=file) for file in files), run_all, told)
    account = _total(parts)
    refuse_empty(account, batch.cases, batch.output)
    seen, again = Seen(), 0
    for part in parts:
        ids = np.frombuffer((batch.output / f"{part.name}.ids").read_bytes(), dtype=np.uint64)
        again += int(seen.again(ids).sum())
    whole: dict[str, Any] = {"format": WHOLE, **asdict(account), "again": again}
    write_bytes(batch.output / ACCOUNT, json.dumps(whole, indent=2).encode())
    _forget_ids(batch.output)
    clear_dead(batch.output)
    return Finished(account, batch.output, again)


def _finished_before(folder: Path) -> Finished:
    """Return what an earlier run of the same batch said of the whole."""
    account = read_account(folder / ACCOUNT, WHOLE)
    if account is None:
        raise CasesError(
            f"{folder / ACCOUNT}: is damaged, or not {WHOLE}; remove {folder}, or choose another"
            " name"
        )
    again = json.loads((folder / ACCOUNT).read_bytes()).get("again", 0)
    _forget_ids(folder)
    return Finished(account, folder, again)


def _forget_ids(folder: Path) -> None:
    """Remove what told whether an id stands in two files."""
    for ids in folder.glob("*.ids"):
        with suppress(OSError):  # in nobody's way
            ids.unlink()


def partitions(folder: Path) -> list[Path]:
    """Return the files of a folder, in the order of their names.

    Raises:
        CasesError: there are none, they are of several kinds, two differ in their endings only,
            or one is called as rejects are.
    """
    files = sorted(path for path in folder.iterdir() if path.suffix.lower() in KINDS)
    kinds = {kind_of(path) for path in files}
    if len(kinds) != 1:
        found = " and ".join(sorted(kinds)) or "no file"
        endings = ", ".join(KINDS)
        raise CasesError(f"{folder}: holds {found}; files of one kind are expected, as {endings}")
    strange = [path.name for path in files if path.stem.endswith(".rejects")]
    if strange:
        raise CasesError(f"{folder}: {strange[0]} has the name of a file of rejects; rename it")
    if len({path.stem for path in files}) < len(files):
        raise CasesError(f"{folder}: two files differ in their endings only; rename one")
    return files


def _setup(batch: Batch, folder: Path, kind: str, *, head: bool) -> Setup:
    delimiter = delimiter_of(batch.output)
    if kind == "parquet":
        arrow()
    return Setup(
        batch.model_text,
        batch.model_name,
        batch.wanted,
        folder.absolute(),
        kind,
        delimiter,
        head,
        batch.block,
    )


def _described(batch: Batch, files: list[Path]) -> str:
    """Return which batch it is, to know it again when it was stopped."""
    try:
        sources = [[file.name, file.stat().st_size, file.stat().st_mtime_ns] for file in files]
    except OSError as wrong:
        raise CasesError(f"{batch.cases}: cannot be read: {wrong.strerror}") from None
    now = {
        "format": "claywit-batch/1",
        "claywit": __version__,
        "model": digest(batch.model),
        "wanted": asdict(batch.wanted),
        "output": batch.output.name,
        "block": batch.block,
        "sources": sources,
    }
    return json.dumps(now, indent=2)


def _block_jobs(batch: Batch) -> Iterator[Job]:
    for number, block in enumerate(read_blocks(batch.cases, batch.model, block=batch.block)):
        yield Job(f"{number:06d}", block=block)


def _all_done(setup: Setup, jobs: Iterator[Job], run_all: RunAll, told: Told) -> list[Done]:
    """Return all parts in order; those that an earlier run finished are not done again."""
    earlier: dict[str, Done] = {}
    order: list[str] = []

    def missing() -> Iterator[Job]:
        for job in jobs:
            order.append(job.name)
            before = done_before(setup, job.name)
            if before is None:
                yield job
            else:
                earlier[job.name] = before

    done: dict[str, Done] = {}
    account = Account(0, 0, 0)
    for part in run_all(_Bound(setup), missing()):
        done[part.name] = part
        account = _plus(account, part.account)
        told(_plus(account, _total(list(earlier.values()))))
    found = {**earlier, **done}
    return [found[name] for name in order]


@dataclass(frozen=True)
class _Bound:
    """`run_job` with its setup, as one function that can travel."""

    setup: Setup

    def __call__(self, job: Job) -> Done:
        return run_job(self.setup, job)


def _plus(one: Account, other: Account) -> Account:
    return Account(one.read + other.read, one.used + other.used, one.rejected + other.rejected)


def _total(parts: list[Done]) -> Account:
    total = Account(0, 0, 0)
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
            with pa.parquet.ParquetWriter(stream, pa.parquet.read_schema(paths[0])) as writer:
                for path in paths:
                    writer.write_table(pa.parquet.read_table(path))
            return
        for i, path in enumerate(paths):
            with path.open("rb") as part:
                if i and setup.kind == "csv":
                    part.readline()
                shutil.copyfileobj(part, stream, 2**20)
