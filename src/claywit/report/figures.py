"""The figures of an evaluation as plain data, rounded and thinned."""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

from claywit.inference.network import Floats
from claywit.learning import evaluation as measured
from claywit.learning.bounds import Bounds
from claywit.learning.ratios import LN10
from claywit.learning.screening import Odd
from claywit.report.evaluated import (
    Answered,
    AnswerFigures,
    Bin,
    Entropy,
    Figure,
    OddValue,
    Parts,
    RatioFigures,
    Span,
)
from claywit.report.numbers import twelve_digits

FARTHEST = 300.0  # bans that stand for an LR of 0 or without limit
POINTS = 400  # points of a curve that are kept
_Point = TypeVar("_Point")


def answer_figures(found: measured.Answers) -> AnswerFigures:
    """Return how good the answers are as plain data."""
    parts = found.murphy
    return AnswerFigures(
        pieces=found.pieces,
        sources=found.sources,
        right=int(np.trace(found.confusion)),
        accuracy=_figure(found.accuracy),
        log_score=_figure(found.log_score),
        prior_log_score=finite(found.by_prior),
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
        calibration_loss=finite(found.loss),
        misleading_for=found.misleading.one,
        misleading_against=found.misleading.other,
        undefined=found.undefined,
        lr_for=tuple(_thinned(one.tolist())),
        lr_against=tuple(_thinned(other.tolist())),
        cross_entropy=tuple(
            Entropy(
                prior_bans=e.prior_bans,
                given=finite(e.given),
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
        value=finite(found.value),
        low=finite(low),
        high=finite(high),
    )


def finite(value: float | None) -> float | None:
    """Return *value* at 12 significant digits, None where it has no limit or is none."""
    if value is None:
        return None
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
