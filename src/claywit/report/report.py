"""The report as plain data: everything that is printed, drawn or signed comes from here.

Probabilities are decimal strings at 12 significant digits, weights are in bans at 9
decimals, and a weight that is not finite is null with `excludes` saying which side.
"""

from typing import Literal

from pydantic import Field

from claywit.model.values import Value
from claywit.report.judgement import (
    Attributed,
    Conflicting,
    Intervals,
    Outside,
    Rival,
    Sensitive,
    Suggested,
    Typical,
)
from claywit.report.values import Decimal, Named, Shares

FORMAT = "claywit-report/1"


class ModelUsed(Value):
    """Which model was used, and on what it rests."""

    name: str
    version: str
    title: str
    status: Literal["demonstration", "elicited", "measured"]
    digest: str
    reference_pieces: float


class EvidenceUsed(Value):
    """Which evidence was weighed; *object* holds the fields of the Object ID standard."""

    piece: str
    digest: str
    examiner: str
    object: dict[str, str | list[str]]


class StateText(Value):
    """A state as a person reads it."""

    label: str
    date: str
    open: bool


class NodeText(Value):
    """A node as a person reads it."""

    label: str
    states: dict[str, StateText]


class Seen(Value):
    """One finding as it was entered."""

    node: str
    label: str
    group: str
    reading: str
    form: Literal["state", "half_certain", "matrix", "likelihood", "not_visible", "measured"]
    hidden: bool  # on a node that cannot be looked at: taken as given, not read from the piece
    method: str = ""
    where: str = ""
    note: str = ""
    implied_by: tuple[str, str] | None = None


class Left(Value):
    """A trait that was not weighed, and why."""

    node: str
    label: str
    why: str


class Misfit(Value):
    """What looks like a slip: a measure *size* scale units off, or a pair *size* times too rare."""

    kind: Literal["far_measure", "rare_pair"]
    nodes: tuple[str, ...]
    size: float


class Weighed(Value):
    """One finding's weight of evidence, three ways; *factor* is 10 to the chained weight.

    excludes: the side that the finding rules out, in turn or alone; a weight that is null
    has no limit, or there was nothing left to move.
    """

    node: str
    reading: str
    group: str
    bans: float | None
    alone_bans: float | None
    left_out_bans: float | None
    factor: float | None
    excludes: Literal["for", "against", "neither"] = "neither"
    averages_over: tuple[str, ...]


class GroupWeighed(Value):
    """A group's weight of evidence; the chained weights of the groups add to the total.

    share_bans: its order-free (Shapley) share, which adds to the total too; null where a
        side is ruled out.
    """

    name: str
    label: str
    nodes: tuple[str, ...]
    bans: float | None
    alone_bans: float | None
    left_out_bans: float | None
    share_bans: float | None


class Scaled(Value):
    """What a verbal scale says of the total, with its cut-points, or why it says nothing."""

    scale: str
    source: str
    term: str | None
    why: str
    bands: dict[str, float | None]


class Rests(Value):
    """A prior on which the numbers rest, and who said it."""

    node: str
    origin: Literal["model", "client"]
    p: dict[str, Decimal]


class Explained(Named):
    """The move from prior to posterior for one proposition against another, in bans."""

    target: str
    for_: str = Field(alias="for")
    against: str
    chosen: Literal["stated", "named", "leading"]
    prior_bans: float | None
    total_bans: float | None
    posterior_bans: float | None
    prior_odds: float | None
    posterior_odds: float | None
    total_factor: float | None
    strongest_for: str | None
    strongest_against: str | None
    findings: tuple[Weighed, ...]
    groups: tuple[GroupWeighed, ...]
    rests_on: tuple[Rests, ...]
    verbal: Scaled


class Conditions(Value):
    """Under what conditions the readings were made, as far as the evidence says."""

    locked_at: str
    masked: bool | None
    stated_at: str
    engagement: dict[str, str | list[str]]


class Report(Named):
    """One assessment: what was asked, what was seen, what follows, and why."""

    format: Literal["claywit-report/1"]
    model: ModelUsed
    evidence: EvidenceUsed
    question: str
    leading: str
    prior: Shares
    posterior: Shares
    prior_log10_odds: dict[str, dict[str, float | None]]
    log10_odds: dict[str, dict[str, float | None]]
    excluded_by_model: dict[str, tuple[str, ...]]
    log10_evidence: float
    explanation: Explained
    nodes: dict[str, NodeText]
    findings: tuple[Seen, ...]
    not_examined: tuple[Left, ...]
    not_applicable: tuple[Left, ...]
    not_used: tuple[tuple[str, str], ...]
    unknown_events: tuple[tuple[str, str], ...]
    misfits: tuple[Misfit, ...]
    conditions: Conditions
    priors_from_client: tuple[str, ...]
    attribution: Attributed | None = None
    rivals: tuple[Rival, ...] = ()
    intervals: Intervals | None = None
    outer: Outside | None = None
    conflict: Conflicting | None = None
    typicality: Typical | None = None
    sensitivity: Sensitive | None = None
    next: Suggested | None = None
    statement: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
