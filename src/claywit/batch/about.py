"""What a batch is to be, and what stands beside its answers."""

from dataclasses import asdict, dataclass
from pathlib import Path

from claywit import __version__
from claywit.batch.scorer import Wanted
from claywit.errors import CasesError
from claywit.model.schema import Model
from claywit.records.rejects import Account
from claywit.report.batched import BatchAccount, BatchRun, BatchSource, BatchUsed, batch_used
from claywit.report.digest import digest

Source = tuple[str, int, int]  # the name of a file, its size in bytes, its time in nanoseconds


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


def sources_of(files: list[Path]) -> tuple[Source, ...]:
    """Return the name, size and time of each file.

    Raises:
        CasesError: one is not there.
    """
    found = []
    for file in files:
        try:
            stat = file.stat()
        except OSError as wrong:
            raise CasesError(f"{file}: cannot be read: {wrong.strerror}") from None
        found.append((file.name, stat.st_size, stat.st_mtime_ns))
    return tuple(found)


def used_by(batch: Batch) -> BatchUsed:
    """Return what the answers rest on."""
    asked = batch.wanted
    return batch_used(
        batch.model,
        asked.question,
        targets=asked.targets,
        weighed=asked.weighed,
        weights=asked.weights,
        looks=asked.looks,
    )


def account_of(
    used: BatchUsed, sources: tuple[Source, ...], account: Account, *, again: int
) -> bytes:
    """Return the account file: what the answers rest on, and what became of the pieces."""
    whole = BatchAccount(
        **asdict(account),
        again=again,
        sources=tuple(BatchSource(name=name, size=size) for name, size, _ in sources),
        basis=used,
    )
    return f"{whole.model_dump_json(indent=2)}\n".encode()


def this_run(batch: Batch, sources: tuple[Source, ...]) -> BatchRun:
    """Return what tells this batch from another."""
    return BatchRun(
        claywit=__version__,
        model=digest(batch.model),
        options=asdict(batch.wanted),
        output=batch.output.name,
        block=batch.block,
        sources=sources,
    )
