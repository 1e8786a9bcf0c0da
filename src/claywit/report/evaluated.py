"""How good a model is on pieces of known truth, as plain data."""

from typing import Literal

from pydantic import Field

from claywit.report.report import ModelUsed, NodeText
from claywit.report.values import Named


class Figure(Named):
    """A figure and the middle 95 % of it over other sets like this one; null: without limit."""

    value: float | None
    low: float | None = None
    high: float | None = None


class How(Named):
    """How the pieces were judged: by the model as it is, or by models that had not seen them.

    cases: the SHA-256 of the file. taught: the model has counted that very file.
    without_group, drawn: of the pieces of known truth, how many name no group, and how many have
    an id as `simulate` gives it.
    """

    parts: Literal["none", "folds", "groups", "one_out"]
    folds: int
    seed: int
    cases: str
    taught: bool
    refused: int  # rows of the file that could not be read
    without_truth: int
    without_group: int
    drawn: int
    impossible: tuple[str, ...]  # pieces whose findings the model gives probability 0


class StateFigures(Named):
    """One state of the question: how many pieces have it, and how they fared.

    learned_from: the fewest pieces of it that any of the models was learned from; null where
    nothing was learned. given: the mean probability that its own pieces gave it; null without.
    cllr: of the state against all others; null without pieces of both, or without limit.
    """

    state: str
    pieces: int
    sources: int
    led: int
    right: int
    given: float | None
    cllr: float | None
    learned_from: int | None


class Parts(Named):
    """What the Brier score is made of: reliability - resolution + uncertainty + within."""

    reliability: float
    resolution: float
    uncertainty: float
    within: float


class Bin(Named):
    """Pieces whose leading state was given about as much; *least* to *most* right were expected."""

    low: float
    high: float
    pieces: int
    said: float
    right: int
    least: int
    most: int


class Answered(Named):
    """How many answers are right if those below *least* are withheld."""

    least: float
    answered: int
    right: int


class AnswerFigures(Named):
    """How good the answers to the question are."""

    pieces: int
    sources: int
    right: int
    accuracy: Figure
    log_score: Figure
    prior_log_score: float | None
    brier: Figure
    parts: Parts
    calibration_error: float
    calibration_error_by_chance: float
    reliability: tuple[Bin, ...]
    abstention: tuple[Answered, ...]
    confusion: tuple[tuple[int, ...], ...]
    excluded: tuple[str, ...]


class Entropy(Named):
    """The empirical cross-entropy in bits at one prior."""

    prior_bans: float
    given: float | None
    best: float
    neutral: float


class Span(Named):
    """The smallest and the largest LR that the pieces support, as log10, and what passes them."""

    least_bans: float
    most_bans: float
    beyond: int


class RatioFigures(Named):
    """How good the LRs of one proposition against the other are.

    lr_for, lr_against: log10 LRs of the pieces of each, rising; 300 stands for without limit.
    """

    pieces_for: int
    pieces_against: int
    sources_for: int
    sources_against: int
    cllr: Figure
    least_cllr: float
    calibration_loss: float | None
    misleading_for: int
    misleading_against: int
    undefined: int
    lr_for: tuple[float, ...]
    lr_against: tuple[float, ...]
    cross_entropy: tuple[Entropy, ...]
    by_sources: Span
    empirical: Span


class OddValue(Named):
    """A measured value that lies far from the others of its kind.

    measure: "" where the node has one only. chance: how often the farthest of all values looked
    at would lie as far. kind: the known states of the node's parents.
    """

    piece: str
    line: int
    node: str
    measure: str
    value: float
    kind: dict[str, str]
    middle: float
    spread: float
    others: int
    sd_away: float
    chance: float


class Unseen(Named):
    """States of one node that no piece of the set has."""

    node: str
    states: tuple[str, ...]


class Evaluation(Named):
    """How good a model is on pieces of known truth, and what that rests on."""

    format: Literal["claywit-evaluation/1"] = "claywit-evaluation/1"
    model: ModelUsed
    question: str
    for_: str = Field(alias="for")
    against: str
    chosen: Literal["asked", "commonest"]
    how: How
    states: tuple[StateFigures, ...]
    answers: AnswerFigures | None
    ratios: RatioFigures | None
    odd: tuple[OddValue, ...]
    unseen: tuple[Unseen, ...]
    nodes: dict[str, NodeText]
    said: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
