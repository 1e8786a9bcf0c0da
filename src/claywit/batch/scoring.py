"""Pieces scored, many at once: the numbers of `assess`, a column of evidence each."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from claywit.batch.looking import Looks, look
from claywit.batch.questions import leading_two, log_marginal, question_logs
from claywit.batch.scorer import Scorer
from claywit.batch.weighing import Weights, weigh
from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.inference.piece import log_shares, log_total
from claywit.inference.routes import distinct
from claywit.inference.sheet import Laid, Sheet, lay
from claywit.inference.tree import Bools, Ints


@dataclass(frozen=True)
class Scored:
    """What is said of each piece that its findings allow.

    posterior: P(state | findings) of each target, shape (pieces, states).
    log_evidence: natural log of P(findings), densities per the nodes' units.
    leading, rival: the two likeliest states of the question.
    counts: how many findings were weighed.
    """

    posterior: Mapping[str, Floats]
    log_evidence: Floats
    leading: Ints
    rival: Ints
    counts: Ints
    weights: Weights | None
    looks: Looks | None


def score(scorer: Scorer, cases: Cases) -> tuple[Scored, Bools]:
    """Return what is said of the pieces that can be, and which of *cases* those are.

    Equal evidence is scored once. Pieces whose findings cannot stand together are left out.
    """
    laid = lay(scorer.joints[0], cases)
    first, which = distinct([*laid.picks, *cases_special(cases)], len(cases))
    whole = len(first) == len(cases)
    some = cases if whole else cases.take(first)
    laid = laid if whole else laid.take(first)
    answers = _answers(scorer, some, laid)
    possible = answers.log_evidence > -np.inf
    if not possible.all():
        some = some.take(np.flatnonzero(possible))
        answers = _rows_of(answers, possible)
    found = _weighed(scorer, some, answers)
    if whole:
        return found, possible
    place = np.cumsum(possible) - 1
    return _rows_of(found, place[which[possible[which]]]), possible[which]


def cases_special(cases: Cases) -> list[Ints]:
    """Return a column that sets every piece with a finding of another form apart."""
    own = np.zeros(len(cases), dtype=np.intp)
    for row in cases.special:
        own[row] = row + 1
    return [own]


def _answers(scorer: Scorer, cases: Cases, laid: Laid) -> Scored:
    """Return the posteriors of the targets, and the two leading states of the question."""
    evidence, rows = np.zeros(len(cases)), np.arange(len(cases))
    nothing = np.zeros((len(laid.picks), 1), dtype=np.intp)
    posterior: dict[str, Floats] = {}
    leading = rival = rows
    for sheet in scorer.joints:
        own = laid if sheet is laid.sheet else lay(sheet, cases)
        logs = own.log_joint(own.picks, rows)
        total = log_total(logs)
        shares = np.exp(log_shares(logs))
        for name in sheet.tree.roots:
            posterior[name] = _marginal(sheet, name, shares)
        if scorer.wanted.question in sheet.tree.roots:
            about = log_marginal(sheet, scorer.wanted.question, logs)
            before = question_logs(own, nothing, rows[:1], scorer.wanted.question)[:, 0]
            leading, rival = leading_two(about, before)
        evidence = total + own.offsets.sum(axis=0)
    counts = np.count_nonzero([laid.found(name) for name in laid.sheet.nodes], axis=0)
    return Scored(posterior, evidence, leading, rival, counts, None, None)


def _marginal(sheet: Sheet, name: str, joint: Floats) -> Floats:
    """Return the sums of *joint* over all roots but one, shape (columns, states)."""
    column = sheet.tree.root_states[:, sheet.tree.roots.index(name)]
    onto = np.eye(len(sheet.network.states[name]))[column]
    found: Floats = joint.T @ onto
    return found


def _weighed(scorer: Scorer, cases: Cases, answers: Scored) -> Scored:
    """Return *answers* with the weights and looks that are wanted."""
    if scorer.about is None:
        return answers
    laid, wanted = lay(scorer.about, cases), scorer.wanted
    weights = looks = None
    if wanted.weights:
        weights = weigh(scorer, cases, laid, answers.leading, answers.rival)
    if wanted.looks:
        logs = question_logs(laid, laid.picks, np.arange(len(cases)), wanted.question)
        looks = look(scorer, cases, laid, logs)
    return replace(answers, weights=weights, looks=looks)


def _rows_of(found: Scored, which: Ints | Bools) -> Scored:
    """Return what is said of the pieces *which*."""
    return Scored(
        {name: shares[which] for name, shares in found.posterior.items()},
        found.log_evidence[which],
        found.leading[which],
        found.rival[which],
        found.counts[which],
        _taken(found.weights, which) if found.weights else None,
        _taken(found.looks, which) if found.looks else None,
    )


_Columns = TypeVar("_Columns", Weights, Looks)


def _taken(columns: _Columns, which: Ints | Bools) -> _Columns:
    rows = {field.name: getattr(columns, field.name)[which] for field in fields(columns)}
    return replace(columns, **rows)
