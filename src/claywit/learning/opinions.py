"""Filled sheets to rows: whose answer it is, what it weighs, and the row that comes of it."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.errors import SheetError, did_you_mean
from claywit.learning.asking import Question, every_question, key_of
from claywit.learning.cooke import POOLED_LEVELS, Seeds, background, pooled
from claywit.learning.elicitation import (
    Answer,
    Counts,
    Dirichlet,
    Floats,
    IncoherentError,
    answer_of,
    completed,
    filled,
    fit_dirichlet,
    nearly_never,
)
from claywit.learning.sheet import Asked, SeedFile, Sheet
from claywit.model.schema import Model
from claywit.model.source import Path


@dataclass(frozen=True)
class Party:
    """An expert, the sheet he filled in, and where its parts stand in the file."""

    sheet: Sheet
    place: Callable[[Path], str]

    @property
    def name(self) -> str:
        """Return who filled in the sheet."""
        return self.sheet.expert.strip()


@dataclass(frozen=True)
class Opinion:
    """One expert's answer to one question, and the row that it gives alone."""

    expert: str
    question: Question
    answer: Answer
    alone: Dirichlet


@dataclass(frozen=True)
class Fitted:
    """The row that some opinions give together, with the quantiles that it was fitted to.

    states: the possible ones, in the order of the model.
    stated: shape (states, levels), nan where nothing was stated.
    """

    question: Question
    opinions: tuple[Opinion, ...]
    states: tuple[str, ...]
    stated: Floats
    levels: Floats
    row: Dirichlet


def opinions_of(model: Model, party: Party) -> list[Opinion]:
    """Return what *party* says of the rows of *model*; questions left blank are left out.

    Raises:
        SheetError: the sheet is of another model, asks about a row that is not in it, or
            holds numbers that cannot all hold; the message names the question.
    """
    known = {question.key: question for question in every_question(model)}
    if party.sheet.model.name != model.name:
        raise SheetError(
            f"{party.place(('model',))}: a sheet of {party.sheet.model.name}, and the model is"
            f" {model.name}; give the model that it was made from"
        )
    found: dict[object, Opinion] = {}
    for i, asked in enumerate(party.sheet.questions):
        place = party.place(("questions", i))
        counts = {
            state: Counts(count.lowest, count.best, count.highest)
            for state, count in asked.counts.items()
            if count.lowest is not None and count.best is not None and count.highest is not None
        }
        question = known.get(key_of(asked.node, asked.place, asked.given))
        if question is None:
            raise SheetError(f"{place}: {_not_in_model(model, asked)}")
        if question.key in found:
            raise SheetError(f"{place}: {question.name} is asked twice; answer it once")
        if counts:
            found[question.key] = _opinion(party, asked, question, counts, place)
    if not found:
        raise SheetError(f"{party.place(())}: nothing is filled in; answer one question or more")
    return list(found.values())


def _not_in_model(model: Model, asked: Asked) -> str:
    if asked.node not in model.by_name:
        return f"the model has no node {asked.node}; {did_you_mean(asked.node, model.by_name)}"
    given = ", ".join(f"{p}={'|'.join(s)}" for p, s in asked.given.items()) or "nothing"
    return (
        f"{asked.node}: the model has no {asked.place} given {given}; make a new sheet from this"
        " model, and carry the answers over"
    )


def _opinion(
    party: Party, asked: Asked, question: Question, counts: Mapping[str, Counts], place: str
) -> Opinion:
    names = question.node.state_names
    for state in counts:
        if state not in names or state == question.rest:
            hint = did_you_mean(state, [name for name in names if name != question.rest])
            raise SheetError(f"{place}: {question.name}: no state {state} is asked about; {hint}")
    confidence = asked.confidence or party.sheet.confidence
    if confidence is None:
        raise SheetError(
            f"{place}: {question.name}: no confidence; write one here or at the top, as 90"
        )
    gated = question.place != "row"
    shares = question.stated.p or {}
    possible = names if gated else [s for s in names if s in counts or shares.get(s)]
    try:
        answer = answer_of(possible, counts, confidence, question.rest)
    except IncoherentError as wrong:
        raise SheetError(f"{place}: {question.name}: {wrong}") from None
    return Opinion(party.name, question, answer, fit_dirichlet(answer.quantiles, answer.levels))


def fit_rows(opinions: Iterable[Opinion], weights: Mapping[str, float]) -> list[Fitted]:
    """Return a row for each question that an expert with weight answered.

    The weights are shared out anew among those who answered.
    """
    asked: dict[object, list[Opinion]] = {}
    for opinion in opinions:
        if weights[opinion.expert] > 0:
            asked.setdefault(opinion.question.key, []).append(opinion)
    return [_together(given, weights) for given in asked.values()]


def _together(opinions: Sequence[Opinion], weights: Mapping[str, float]) -> Fitted:
    first = opinions[0]
    if len(opinions) == 1:
        answer = first.answer
        return Fitted(
            first.question,
            tuple(opinions),
            answer.states,
            answer.quantiles,
            answer.levels,
            first.alone,
        )
    own = np.array([weights[opinion.expert] for opinion in opinions])
    states = tuple(
        state
        for state in first.question.node.state_names
        if any(state in opinion.answer.states for opinion in opinions)
    )
    levels = np.array(POOLED_LEVELS)
    stated = np.array([_pooled_state(opinions, own / own.sum(), state) for state in states])
    row = fit_dirichlet(stated, levels)
    return Fitted(first.question, tuple(opinions), states, stated, levels, row)


def _pooled_state(opinions: Sequence[Opinion], weights: Floats, state: str) -> Floats:
    """Return the quantiles of one state's share in the linear pool of the opinions."""
    said = np.array([_said(opinion, state) for opinion in opinions])
    whole = filled(said)
    low, high = background(whole[:, np.newaxis, :])
    ends = (max(float(low[0]), 0.0), min(float(high[0]), 1.0))
    levels = np.array([opinion.answer.levels for opinion in opinions])
    found = pooled(whole, levels, weights, ends, np.array(POOLED_LEVELS))
    unbounded: Floats = np.where(np.isnan(said).all(axis=0), np.nan, found)
    return unbounded


def _said(opinion: Opinion, state: str) -> Floats:
    answer = opinion.answer
    if state not in answer.states:
        return nearly_never(answer.levels)
    own: Floats = completed(answer, opinion.alone)[answer.states.index(state)]
    return own


def seeds_of(parties: Sequence[Party], file: SeedFile) -> Seeds:
    """Return what the experts said of the seed questions, on the scale of each.

    Raises:
        SheetError: an expert did not answer a seed, or not with an increasing range.
    """
    said = [[_seed_range(party, seed.id) for seed in file.seeds] for party in parties]
    quantiles, truths = np.array(said), np.array([seed.truth for seed in file.seeds])
    levels = (1 - file.confidence / 100) / 2
    for j, seed in enumerate(file.seeds):
        if seed.scale == "log":
            if quantiles[:, j].min() <= 0:
                who = parties[int(quantiles[:, j].min(axis=1).argmin())].name
                raise SheetError(f"seed {seed.id}, {who}: must be above 0; its scale is log")
            quantiles[:, j] = np.log(quantiles[:, j])
            truths[j] = np.log(truths[j])
    return Seeds(quantiles, truths, np.array([levels, 0.5, 1 - levels]))


def _seed_range(party: Party, name: str) -> tuple[float, float, float]:
    for i, seed in enumerate(party.sheet.seeds):
        low, best, high = seed.lowest, seed.best, seed.highest
        if seed.id == name and low is not None and best is not None and high is not None:
            if not low < best < high:
                place = party.place(("seeds", i))
                raise SheetError(
                    f"{place}: seed {name}: lowest, best and highest must differ, so that the truth"
                    " may lie on either side of each"
                )
            return low, best, high
    where = party.place(("seeds",))
    raise SheetError(
        f"{where}: {party.name} left seed {name} open; weights need every seed answered"
    )
