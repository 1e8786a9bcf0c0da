"""How good a model is on pieces of known truth, as plain data."""

from collections.abc import Sequence
from typing import Literal, TypeVar

import numpy as np
from pydantic import Field

from claywit.inference.network import Floats
from claywit.learning import evaluation as measured
from claywit.learning.bounds import Bounds
from claywit.learning.ratios import LN10
from claywit.learning.screening import Odd
from claywit.report.numbers import twelve_digits
from claywit.report.report import ModelUsed, NodeText
from claywit.report.values import Named

FARTHEST = 300.0  # bans that stand for an LR of 0 or without limit
POINTS = 400  # points of a curve that are kept
_Point = TypeVar("_Point")


class Figure(Named):
    """A figure and the middle 95 % of it over other sets like this one; null: without limit."""

    value: float | None
    low: float | None = None
    high: float | None = None


class How(Named):
    """How the pieces were judged: by the model as it is, or by models that had not seen them."""

    parts: Literal["none", "folds", "groups", "one_out"]
    folds: int
    seed: int
    refused: int  # rows of the file that could not be read
    without_truth: int
    impossible: tuple[str, ...]  # pieces whose findings the model gives probability 0


class StateFigures(Named):
    """One state of the question: how many pieces have it, and how they fared.

    learned_from: the fewest pieces of it that any of the models was learned from; null where
    nothing was learned. given: the mean probability that its own pieces gave it; null without.
    """

    state: str
    pieces: int
    sources: int
    led: int
    right: int
    given: float | None
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


def answer_figures(found: measured.Answers) -> AnswerFigures:
    """Return how good the answers are as plain data."""
    parts = found.murphy
    return AnswerFigures(
        pieces=found.pieces,
        sources=found.sources,
        right=int(np.trace(found.confusion)),
        accuracy=_figure(found.accuracy),
        log_score=_figure(found.log_score),
        prior_log_score=_finite(found.by_prior),
        brier=_figure(found.brier),
        parts=Parts(
            reliability=twelve_digits(parts.reliability),
            resolution=twelve_digits(parts.resolution),
            uncertainty=twelve_digits(parts.uncertainty),
            within=twelve_digits(parts.within),
        ),
        calibration_error=twelve_digits(found.calibration_error),
        calibration_error_by_chance=twelve_digits(found.error_by_chance),
        reliability=tuple(
            Bin(
                low=b.low,
                high=b.high,
                pieces=b.pieces,
                said=twelve_digits(b.said),
                right=b.right,
                least=b.least,
                most=b.most,
            )
            for b in found.reliability
        ),
        abstention=tuple(
            Answered(least=twelve_digits(a.least), answered=a.answered, right=a.right)
            for a in _thinned(found.abstention)
        ),
        confusion=tuple(tuple(row) for row in found.confusion.tolist()),
        excluded=found.excluded,
    )


def ratio_figures(found: measured.Ratios) -> RatioFigures:
    """Return how good the LRs are as plain data."""
    one, other = (_bans(side) for side in (found.one, found.other))
    every = np.concatenate([one, other])
    return RatioFigures(
        pieces_for=len(one),
        pieces_against=len(other),
        sources_for=found.sources[0],
        sources_against=found.sources[1],
        cllr=_figure(found.cllr),
        least_cllr=twelve_digits(found.least),
        calibration_loss=_finite(found.loss),
        misleading_for=found.misleading.one,
        misleading_against=found.misleading.other,
        undefined=found.undefined,
        lr_for=tuple(_thinned(one.tolist())),
        lr_against=tuple(_thinned(other.tolist())),
        cross_entropy=tuple(
            Entropy(
                prior_bans=e.prior_bans,
                given=_finite(e.given),
                best=twelve_digits(e.best),
                neutral=twelve_digits(e.neutral),
            )
            for e in found.entropy
        ),
        by_sources=_span(found.by_sources, every),
        empirical=_span(found.empirical, every),
    )


def odd_value(odd: Odd, line: int, *, only: bool) -> OddValue:
    """Return an odd value as plain data, with its line; *only*: its node has one measure."""
    return OddValue(
        piece=odd.name,
        line=line,
        node=odd.node,
        measure="" if only else odd.measure,
        value=twelve_digits(odd.value),
        kind=dict(odd.kind),
        middle=twelve_digits(odd.middle),
        spread=twelve_digits(odd.spread),
        others=odd.others,
        sd_away=twelve_digits(odd.sd_away),
        chance=twelve_digits(odd.chance),
    )


def _figure(found: measured.Figure) -> Figure:
    low, high = found.band or (None, None)
    return Figure(
        value=_finite(found.value),
        low=None if low is None else _finite(low),
        high=None if high is None else _finite(high),
    )


def _finite(value: float) -> float | None:
    return twelve_digits(value) + 0.0 if np.isfinite(value) else None


def _bans(log_lr: Floats) -> Floats:
    bans: Floats = np.clip(log_lr / LN10, -FARTHEST, FARTHEST)
    return np.array([twelve_digits(b) + 0.0 for b in bans])


def _span(found: Bounds, bans: Floats) -> Span:
    low, high = found.least_bans, found.most_bans
    beyond = int(((bans < low - 1e-9) | (bans > high + 1e-9)).sum())
    return Span(least_bans=twelve_digits(low), most_bans=twelve_digits(high), beyond=beyond)


def _thinned(points: Sequence[_Point]) -> Sequence[_Point]:
    """Return at most `POINTS` of the points, evenly spread, the first and the last among them."""
    if len(points) <= POINTS:
        return points
    at = np.unique(np.linspace(0, len(points) - 1, POINTS).round().astype(int))
    return [points[i] for i in at]
