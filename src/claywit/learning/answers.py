"""What one expert's sheet says of the rows of a model, checked answer by answer."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from claywit.errors import SheetError, did_you_mean
from claywit.learning.asking import Question, every_question, key_of
from claywit.learning.elicitation import (
    Answer,
    Counts,
    Dirichlet,
    IncoherentError,
    answer_of,
    fit_dirichlet,
)
from claywit.learning.sheet import Asked, Sheet
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


def opinions_of(model: Model, party: Party) -> list[Opinion]:
    """Return what *party* says of the rows of *model*; questions left blank are left out.

    Raises:
        SheetError: the sheet is of another model, asks about a row that is not in it, or
            holds numbers that cannot all hold. Its details name every such question.
    """
    if party.sheet.model.name != model.name:
        raise SheetError(
            f"{party.place(('model',))}: a sheet of {party.sheet.model.name}, and the model is"
            f" {model.name}; give the model that it was made from"
        )
    found: list[tuple[Question, Answer]] = []
    wrong: list[str] = []
    for one in _answers(model, party):
        if isinstance(one, str):
            wrong.append(one)
        else:
            found.append(one)
    if wrong:
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        raise SheetError(wrong[0] + more, wrong)
    if not found:
        raise SheetError(f"{party.place(())}: nothing is filled in; answer one question or more")
    return [
        Opinion(party.name, question, answer, fit_dirichlet(answer.quantiles, answer.levels))
        for question, answer in found
    ]


def _answers(model: Model, party: Party) -> Iterator[tuple[Question, Answer] | str]:
    """Yield each answered question with its answer, or what is wrong with it."""
    known = {question.key: question for question in every_question(model)}
    seen: set[object] = set()
    for i, asked in enumerate(party.sheet.questions):
        place = party.place(("questions", i))
        key = key_of(asked.node, asked.place, asked.given)
        question = known.get(key)
        counts = _filled(asked)
        if question is None:
            yield f"{place}: {_not_in_model(model, asked)}"
        elif key in seen:
            yield f"{place}: {question.name} is asked twice; answer it once"
        elif counts:
            try:
                answer = _answer(asked, question, counts, party.sheet.confidence)
            except IncoherentError as wrong:
                yield f"{place}: {question.name}: {wrong}"
            else:
                yield question, answer
        seen.add(key)


def _filled(asked: Asked) -> dict[str, Counts]:
    return {
        state: Counts(count.lowest, count.best, count.highest)
        for state, count in asked.counts.items()
        if count.lowest is not None and count.best is not None and count.highest is not None
    }


def _not_in_model(model: Model, asked: Asked) -> str:
    if asked.node not in model.by_name:
        return f"the model has no node {asked.node}; {did_you_mean(asked.node, model.by_name)}"
    given = ", ".join(f"{p}={'|'.join(s)}" for p, s in asked.given.items()) or "nothing"
    return (
        f"{asked.node}: the model has no {asked.place} given {given}; make a new sheet from this"
        " model, and carry the answers over"
    )


def _answer(
    asked: Asked, question: Question, counts: Mapping[str, Counts], sure: float | None
) -> Answer:
    names = question.all_states
    for state in counts:
        if state not in names or state == question.rest:
            hint = did_you_mean(state, [name for name in names if name != question.rest])
            raise IncoherentError(f"no state {state} is asked about; {hint}")
    confidence = asked.confidence or sure
    if confidence is None:
        raise IncoherentError("no confidence; write one here or at the top, as 90")
    shares = question.stated.p or {}
    excluded = () if question.rest else [s for s in names if s not in counts and not shares.get(s)]
    possible = [state for state in names if state not in excluded]
    return answer_of(possible, counts, confidence, question.rest)
