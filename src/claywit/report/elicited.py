"""What filled sheets amount to: the rows, what they rest on, and what to look at again."""

from collections.abc import Iterator, Mapping, Sequence
from math import isnan
from typing import Literal

import numpy as np

from claywit.learning.answers import Opinion
from claywit.learning.cooke import Weighting
from claywit.learning.elicitation import apart, filled, round_n, rounded
from claywit.learning.opinions import Fitted
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.report.numbers import three_digits, twelve_digits
from claywit.report.report import ModelUsed
from claywit.report.used import model_used

FEW_SEEDS = 10
FAR_APART = 4.0  # times, between the n that two ranges of one row would fit
OFF = 5.0  # pieces of a hundred
Judged = tuple[Weighting, Sequence[Sequence[float]]]  # and the weights without one seed each
CAUTIONS = (
    (
        "Elicited numbers are opinions in the form of counts: no piece was counted. They stand"
        " until a reference file tests them."
    ),
)


class StateFit(Value):
    """One state of a row, in pieces of a hundred; null where nothing was stated or was before."""

    state: str
    label: str
    before: float | None
    p: float
    stated: tuple[float | None, ...]
    fitted: tuple[float, ...]


class ElicitedRow(Value):
    """A row that was asked about, and what came of it."""

    node: str
    given: dict[str, tuple[str, ...]]
    place: Literal["row", "leak", "cause", "visibility"]
    name: str
    experts: tuple[str, ...]
    n: float
    n_before: float | None
    states: tuple[StateFit, ...]
    remarks: tuple[str, ...]


class Expert(Value):
    """An expert: the share of his answers, and how he did on the seed questions."""

    name: str
    weight: float
    answered: int
    calibration: float | None = None
    information: float | None = None
    weight_range: tuple[float, float] | None = None


class Weights(Value):
    """How the experts were weighed, and how their pool would have done on the seeds."""

    rule: Literal["one", "equal", "performance"]
    seeds: int = 0
    cutoff: float | None = None
    pool: tuple[float, float] | None = None
    equal_pool: tuple[float, float] | None = None


class Elicited(Value):
    """Rows from filled sheets, before they go into a model."""

    format: Literal["claywit-elicited/1"] = "claywit-elicited/1"
    model: ModelUsed
    weights: Weights
    experts: tuple[Expert, ...]
    rows: tuple[ElicitedRow, ...]
    unasked: tuple[str, ...]
    cautions: tuple[str, ...]


def elicited(
    model: Model,
    opinions: Sequence[Opinion],
    rows: Sequence[Fitted],
    weights: Mapping[str, float],
    judged: Judged | None = None,
) -> Elicited:
    """Return what the *opinions* amount to under some *weights*.

    judged: the scores on the seeds, and the weights with each seed left out in turn.
    """
    weighing = judged[0] if judged else None
    seeds = len(judged[1]) if judged else 0
    used = {fitted.question.key for fitted in rows}
    lost = {o.question.name for o in opinions if o.question.key not in used}
    return Elicited(
        model=model_used(model),
        weights=_weights(weights, weighing, seeds),
        experts=tuple(_experts(opinions, weights, judged)),
        rows=tuple(_row(fitted) for fitted in rows),
        unasked=tuple(sorted(lost)),
        cautions=(*CAUTIONS, *_seed_cautions(seeds)),
    )


def _weights(weights: Mapping[str, float], weighing: Weighting | None, seeds: int) -> Weights:
    if weighing is None:
        return Weights(rule="one" if len(weights) == 1 else "equal")
    pool, equal = weighing.pool, weighing.equal_pool
    return Weights(
        rule="performance",
        seeds=seeds,
        cutoff=three_digits(weighing.cutoff),
        pool=(three_digits(pool.calibration[0]), three_digits(pool.information[0])),
        equal_pool=(three_digits(equal.calibration[0]), three_digits(equal.information[0])),
    )


def _seed_cautions(seeds: int) -> Iterator[str]:
    if seeds:
        yield (
            "The weights and the pool's own scores come from the same seed questions, so the pool"
            " looks a little better than it is."
        )
    if 0 < seeds < FEW_SEEDS:
        yield (
            f"{seeds} seed questions can hardly tell experts apart; ten to fifteen are common"
            " practice."
        )


def _experts(
    opinions: Sequence[Opinion],
    weights: Mapping[str, float],
    judged: Judged | None,
) -> Iterator[Expert]:
    for i, (name, weight) in enumerate(weights.items()):
        answered = sum(opinion.expert == name for opinion in opinions)
        plain = Expert(name=name, weight=twelve_digits(weight), answered=answered)
        if judged is None:
            yield plain
            continue
        scores, without = judged[0].scores, [float(left[i]) for left in judged[1]]
        yield plain.model_copy(
            update={
                "calibration": three_digits(float(scores.calibration[i])),
                "information": three_digits(float(scores.information[i])),
                "weight_range": (three_digits(min(without)), three_digits(max(without))),
            }
        )


def _row(fitted: Fitted) -> ElicitedRow:
    question, stated = fitted.question, fitted.question.stated
    before = dict(stated.p or {})
    if question.rest:
        before[question.rest] = 1 - sum(before.values())
    shares = rounded(fitted.states, fitted.row.shares)
    return ElicitedRow(
        node=question.node.name,
        given=dict(question.given),
        place=question.place,
        name=question.name,
        experts=tuple(opinion.expert for opinion in fitted.opinions),
        n=round_n(fitted.row.n),
        n_before=stated.n,
        states=tuple(
            StateFit(
                state=state,
                label=question.label(state),
                before=twelve_digits(before.get(state, 0.0)),
                p=shares[state],
                stated=tuple(None if isnan(q) else three_digits(100 * q) for q in own),
                fitted=tuple(three_digits(100 * q) for q in quantiles),
            )
            for state, own, quantiles in zip(
                fitted.states, fitted.stated.tolist(), fitted.row.fitted.tolist(), strict=True
            )
        ),
        remarks=tuple(_remarks(fitted)),
    )


def _remarks(fitted: Fitted) -> Iterator[str]:
    """Yield what an expert should look at again, in the words of the sheet."""
    several = len(fitted.opinions) > 1
    for opinion in fitted.opinions:
        whose = f"{opinion.expert}: the" if several else "Your"
        total = opinion.answer.best_sum
        if not opinion.answer.rest and abs(total - 100) >= 0.5:
            yield f"{whose} best guesses add to {total:g} of 100; the shares here add to 100."
        yield from _uneven(opinion, whose)
    if several:
        yield from _disagreeing(fitted)
    else:
        yield from _missed(fitted)
    n = round_n(fitted.row.n)
    if n >= 200:
        yield f"Ranges so narrow are what {n:g} pieces would give; were so many seen?"
    elif n <= 2:
        few = "1 piece" if n == 1 else f"{n:g} pieces"
        yield f"Ranges so wide are what {few} would give; the row says next to nothing."


def _uneven(opinion: Opinion, whose: str) -> Iterator[str]:
    """Yield that one range is far narrower than another of the same question."""
    margins = {
        state: n
        for state, n in zip(opinion.answer.states, opinion.alone.margins.tolist(), strict=True)
        if not isnan(n)
    }
    surest, least = max(margins, key=margins.__getitem__), min(margins, key=margins.__getitem__)
    if margins[surest] > FAR_APART * margins[least]:
        one, other = opinion.question.label(surest), opinion.question.label(least)
        yield (
            f"{whose} range for {one} is as narrow as {round_n(margins[surest]):g} pieces would"
            f" give, that for {other} as wide as {round_n(margins[least]):g}; the row takes"
            f" {round_n(opinion.alone.n):g}."
        )


def _missed(fitted: Fitted) -> Iterator[str]:
    """Yield where the fit is more than a few pieces of a hundred off what was stated."""
    for state, own, quantiles in zip(
        fitted.states, 100 * fitted.stated, 100 * fitted.row.fitted, strict=True
    ):
        off = abs(own - quantiles)
        if np.nanmax(off, initial=0.0) > OFF:
            said = ("none" if isnan(q) else f"{q:.3g}" for q in own)  # as the expert wrote it
            given = ", ".join(f"{three_digits(q):.0f}" for q in quantiles)  # as the table does
            label = fitted.question.label(state)
            yield f"{label}: you said {', '.join(said)}; the row gives {given}."


def _disagreeing(fitted: Fitted) -> Iterator[str]:
    """Yield where two experts' ranges do not meet: a pool is no agreement."""
    for state in fitted.states:
        ranges = {}
        for opinion in fitted.opinions:
            if state in opinion.answer.states and state != opinion.answer.rest:
                own = opinion.answer.quantiles[[opinion.answer.states.index(state)]]
                low, _, high = (100 * filled(own)[0]).tolist()
                ranges[opinion.expert] = (low, high)
        if apart(list(ranges.values())):
            said = ", ".join(
                f"{who} {low:.0f} to {high:.0f}" for who, (low, high) in ranges.items()
            )
            yield (
                f"{fitted.question.label(state)}: the experts disagree ({said}); let them"
                " give their reasons before you use a row between them."
            )
