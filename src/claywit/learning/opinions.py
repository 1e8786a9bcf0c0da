"""The opinions of several experts pooled to rows, and their answers to seed questions."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.errors import SheetError
from claywit.learning.answers import Opinion, Party
from claywit.learning.asking import Question
from claywit.learning.cooke import POOLED_LEVELS, Seeds, background, pooled
from claywit.learning.elicitation import (
    Dirichlet,
    Floats,
    completed,
    filled,
    fit_dirichlet,
    nearly_never,
)
from claywit.learning.sheet import SeedFile

CLOSEST = 1e-9  # between two quantiles of a seed, in parts of the largest


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
        for state in first.question.all_states
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
        gaps = np.diff(quantiles[:, j], axis=1).min(axis=1)
        if gaps.min() <= CLOSEST * np.abs(quantiles[:, j]).max():
            who = parties[int(gaps.argmin())].name
            raise SheetError(
                f"seed {seed.id}, {who}: lowest, best and highest are the same or too close; the"
                " truth may lie on either side of each, so move them apart"
            )
    return Seeds(quantiles, truths, np.array([levels, 0.5, 1 - levels]))


def _seed_range(party: Party, name: str) -> tuple[float, float, float]:
    for seed in party.sheet.seeds:
        low, best, high = seed.lowest, seed.best, seed.highest
        if seed.id == name and low is not None and best is not None and high is not None:
            return low, best, high
    where = party.place(("seeds",))
    raise SheetError(
        f"{where}: {party.name} left seed {name} open; weights need every seed answered"
    )
