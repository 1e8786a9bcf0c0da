"""What stands beside the answers of a batch, and in a row of them, as plain data."""

from typing import Literal

from pydantic import ConfigDict, Field

from claywit import __version__
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.report.limits import limits
from claywit.report.report import ModelUsed
from claywit.report.used import model_used


class BatchUsed(Value):
    """What every row of a batch rests on; the metadata of a Parquet file hold it as `claywit`.

    weighed: the nodes that were evidence; what else the files hold was set aside.
    weights, looks: whether the findings' weights, and what to look at next, were asked for.
    """

    claywit: str
    model: ModelUsed
    question: str
    targets: tuple[str, ...]
    weighed: tuple[str, ...]
    weights: bool
    looks: bool
    cautions: tuple[str, ...]


class BatchSource(Value):
    """A file of pieces."""

    name: str
    size: int = Field(description="bytes")


class BatchAccount(Value):
    """What became of the pieces: read = used + rejected; *again* are ids in more than one file."""

    format: Literal["claywit-account/1"] = "claywit-account/1"
    read: int
    used: int
    rejected: int
    again: int
    sources: tuple[BatchSource, ...]
    basis: BatchUsed


class BatchPart(Value):
    """That a part is done, and what became of its pieces."""

    format: Literal["claywit-part/1"] = "claywit-part/1"
    read: int
    used: int
    rejected: int


class BatchRun(Value):
    """Which batch the parts in a folder are of; another does not go on with them.

    model: its digest. options: what was asked. block: pieces of a part.
    sources: the name of each file, its size in bytes and its time in nanoseconds.
    """

    format: Literal["claywit-batch/1"] = "claywit-batch/1"
    claywit: str
    model: str
    options: dict[str, str | bool | tuple[str, ...]]
    output: str
    block: int
    sources: tuple[tuple[str, int, int], ...]


class BatchRow(Value):
    """The answer on one piece, a line of JSONL; a key that is missing says that there is no number.

    Every further key names a target and its state, as `mould.M04`, and holds its posterior.
    """

    model_config = ConfigDict(extra="allow", frozen=True)
    __pydantic_extra__: dict[str, float]

    id: str
    group: str | None = None
    leading: str
    rival: str
    findings: int
    log10_evidence: float
    prior_bans: float | None = None
    total_bans: float | None = None
    posterior_bans: float | None = None
    finding_1: str | None = None
    bans_1: float | None = None
    finding_2: str | None = None
    bans_2: float | None = None
    finding_3: str | None = None
    bans_3: float | None = None
    conflict_bans: float | None = None
    conflict: Literal["yes", "no"] | None = None
    stranger: str | None = None
    apart_bans: float | None = None
    stranger_p: float | None = Field(default=None, ge=0, le=1)
    atypical: Literal["yes", "no"] | None = None
    doubt_bits: float | None = None
    next: str | None = None
    next_bits: float | None = None


def batch_used(
    model: Model,
    question: str,
    *,
    targets: tuple[str, ...],
    weighed: tuple[str, ...],
    weights: bool,
    looks: bool,
) -> BatchUsed:
    """Return what the answers of a batch by *model* rest on."""
    used = model_used(model)
    return BatchUsed(
        claywit=__version__,
        model=used,
        question=question,
        targets=targets,
        weighed=weighed,
        weights=weights,
        looks=looks,
        cautions=limits([used]),
    )
