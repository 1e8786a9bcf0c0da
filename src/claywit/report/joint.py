"""A joint statement of two examiners, as plain data.

The form is that of experts' joint statements before a court, as the trade knows it: what is
agreed, what is not and why it matters, what would settle it, both opinions.
"""

from typing import Literal

from pydantic import Field

from claywit.model.values import Value
from claywit.report.report import EvidenceUsed, ModelUsed, NodeText
from claywit.report.values import Decimal, Named


class PartyUsed(Value):
    """One side: what it is called, its evidence, its model, what it asked, and how it read.

    stated: the two propositions of its file, if it states any.
    """

    name: str
    evidence: EvidenceUsed
    model: ModelUsed
    priors_from_client: tuple[str, ...]
    question: str
    stated: tuple[str, str] | None
    masked: bool | None
    locked_at: str


class Agreed(Value):
    """A reading that both have; *within*: measures alike within their uncertainty."""

    node: str
    label: str
    kind: Literal["same", "within"]
    reading_a: str
    reading_b: str


class Disagreed(Value):
    """One thing on which the opinions differ, and what it is worth, in bans.

    share_bans: its part of the difference, on the average over all orders of going over from
    A to B; null where no share can be given. in_a_bans, in_b_bans: what the other side's
    reading would change in A's opinion alone, and what its own changes in B's.
    """

    kind: Literal["reading", "within", "group", "priors", "model"]
    name: str
    nodes: tuple[str, ...]
    label: str
    reading_a: str
    reading_b: str
    why: str
    share_bans: float | None
    in_a_bans: float | None
    in_b_bans: float | None


class Settles(Value):
    """What would be left of the difference if one reading were settled, in bans.

    closes: the part of the difference that goes at least, whichever way it is settled.
    same_answer: in which case both would then find the same state likeliest.
    """

    name: str
    label: str
    views: tuple[str, ...]
    minutes: float
    left_if_a_bans: float
    left_if_b_bans: float
    closes: float
    same_answer: Literal["either way", "if a", "if b", "never"]


class Opinion(Value):
    """One opinion on the question, with the policy's *grade* for it and the *words* of that."""

    by: str
    leading: str | None
    said: str
    words: str
    grade: str
    shares: dict[str, Decimal] | None


class Joint(Named):
    """Two opinions on one piece, side by side; *difference_bans* is B's log odds less A's.

    accord: labels of the fewest readings that would bring both to the same leading state,
    whichever way each is settled; null where priors or models keep them apart.
    policy, grades: the policy of the words, and what each grade means, the highest first.
    """

    format: Literal["claywit-joint/1"] = "claywit-joint/1"
    piece: str
    object: dict[str, str | list[str]]
    parties: tuple[PartyUsed, PartyUsed]
    question: str
    for_: str = Field(alias="for")
    against: str
    chosen: Literal["stated", "named", "leading"]
    a_bans: float | None
    b_bans: float | None
    a_odds: float | None
    b_odds: float | None
    difference_bans: float | None
    agreed: tuple[Agreed, ...]
    disagreed: tuple[Disagreed, ...]
    grouped: Literal["", "many", "impossible"]
    settles: tuple[Settles, ...]
    accord: tuple[str, ...] | None
    opinions: tuple[Opinion, Opinion]
    weight: float
    policy: str
    grades: dict[str, str]
    linear: Opinion
    logarithmic: Opinion
    examiners_disagree: bool
    because: tuple[str, ...]
    answer: str
    statement: tuple[str, ...]
    nodes: dict[str, NodeText]
    cautions: tuple[str, ...]
