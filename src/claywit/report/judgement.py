"""How sure, how robust, how typical: the sections of a report that judge its answer.

Probabilities are decimal strings at 12 significant digits, weights are in bans at 9 decimals.
"""

from claywit.model.values import Value
from claywit.report.values import Decimal, Range, Span


class Dated(Value):
    """A date as an EDTF interval (ISO 8601-2), the periods it spans and the share they hold."""

    date: str
    periods: tuple[str, ...]
    share: Decimal


class Attributed(Value):
    """The words that the policy allows, what they mean, and all its other words with theirs."""

    policy: str
    version: str
    digest: str
    source: str
    grade: str
    words: str
    means: str
    node: str
    state: str
    share: Decimal
    dated: Dated | None
    definitions: dict[str, str]


class Outside(Value):
    """Bounds that hold if up to *epsilon* of every row is anything at all.

    holds_to: the largest such share at which the leader surely leads; 0 if none.
    """

    epsilon: float
    shares: dict[str, Range]
    posterior_bans: Span | None
    holds_to: float


class Intervals(Value):
    """95 % intervals from drawn tables.

    leads: in what share of the draws the same state leads. exact_rows: how many rows of each
    node have no `n` and were not drawn.
    """

    draws: int
    seed: int
    shares: dict[str, dict[str, Range]]
    prior_bans: Span | None
    total_bans: Span | None
    posterior_bans: Span | None
    leads: Decimal
    exact_rows: dict[str, int]


class Explains(Value):
    """A state that the findings raise by more than their conflict."""

    node: str
    state: str
    bans: float
    posterior: Decimal


class Between(Value):
    """Jensen's measure between two groups."""

    groups: tuple[str, str]
    bans: float


class Conflicting(Value):
    """Jensen's measure in bans: above 0 the findings are rarer together than apart."""

    total_bans: float
    within_bans: dict[str, float]
    between: tuple[Between, ...]
    explained_by: Explains | None


class GroupTypical(Value):
    """How a group fits: the share of all pieces, and of the leader's, that fit as badly.

    apart_bans: how far it stands apart from the rest of the findings.
    """

    name: str
    label: str
    overall: Decimal
    under_leader: Decimal | None
    apart_bans: float


class Typical(Value):
    """Whether the model covers the piece, by simulation; *p* is calibrated, 5 % false alarms."""

    pieces: int
    seed: int
    leader: str
    overall: Decimal
    under_leader: Decimal | None
    groups: tuple[GroupTypical, ...]
    stranger: str
    p: Decimal
    alarm: bool
    open_leads: bool
    unchecked: tuple[str, ...]


class DoubtfulRow(Value):
    """How far the doubt behind one row moves the odds: one standard deviation, in bans."""

    node: str
    kind: str
    row: str
    n: float
    sd_bans: float


class Turning(Value):
    """A number whose change alone turns the answer; *times* is the ratio of its odds.

    state, row: the share, and for which states of the parents it holds; `otherwise` for a row
    that holds where no other does. For a measure *state*, *now* and *then* are null, and *times*
    is said of its density.
    """

    node: str
    kind: str
    state: str | None
    row: str
    now: float | None
    then: float | None
    times: float
    leader: str


class LessSure(Value):
    """The odds if a reading were only nine in ten sure, and how sure it must be.

    least: below it another state leads; null if even a guess would do.
    """

    node: str
    bans: float | None
    least: float | None
    leader: str | None


class OtherPrior(Value):
    """The leader's posterior by the factor on its prior odds, and where the order turns."""

    state: str
    prior: Decimal
    times: dict[str, Decimal]
    rival: str
    turns_at: Decimal | None


class Sensitive(Value):
    """What the answer owes to single numbers, readings and the prior.

    numbers: how many were varied. sd_bans: the doubt of all rows together, first order.
    not_varied: findings whose rows a half-certain reading bends.
    """

    numbers: int
    sd_bans: float | None
    doubts: tuple[DoubtfulRow, ...]
    turning: tuple[Turning, ...]
    readings: tuple[LessSure, ...]
    prior: OtherPrior | None
    not_varied: tuple[str, ...]


class Rival(Value):
    """Another state of the question: the leader's odds against it, and what it has on its side.

    strongest: the finding that speaks most for it, by what would be lost without it.
    """

    state: str
    posterior: Decimal
    bans: float | None
    strongest: str | None
    strongest_bans: float | None


class Look(Value):
    """One trait, or several one after the other.

    bits: expected gain on the question. overturns: the chance that another state leads then.
    rewords: the chance that the attribution is then worded otherwise; null for a plan of three.
    views: where on the piece to look.
    """

    nodes: tuple[str, ...]
    labels: tuple[str, ...]
    views: tuple[str, ...]
    bits: float
    minutes: float
    bits_per_minute: float
    overturns: float
    rewords: float | None


class Suggested(Value):
    """What to look at next, the best per minute first, and whether one may stop."""

    doubt_bits: float
    looks: tuple[Look, ...]
    pairs: tuple[Look, ...]
    plan: Look | None
    may_stop: bool
    too_risky: tuple[str, ...]
    statement: str
