"""Pieces scored, many at once: the numbers of `assess`, a column of evidence each."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from claywit.batch.looking import Looks, look
from claywit.batch.questions import leading_two, question_logs
from claywit.batch.scorer import Scorer
from claywit.batch.weighing import Weights, weigh
from claywit.evidence.cases import Cases
from claywit.inference.measured import alike
from claywit.inference.network import Floats
from claywit.inference.piece import log_total
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
    first, which = alike([*laid.picks, *cases_special(cases)])
    whole = len(first) == len(cases)
    some = cases if whole else cases.take(first)
    laid = laid if whole else lay(scorer.joints[0], some)
    evidence, posterior = _posteriors(scorer, some, laid)
    possible = evidence > -np.inf
    if not possible.all():
        some = some.take(np.flatnonzero(possible))
        evidence = evidence[possible]
        posterior = {name: shares[possible] for name, shares in posterior.items()}
    found = _about(scorer, some, evidence, posterior)
    if whole:
        return found, possible
    place = np.cumsum(possible) - 1
    return _spread(found, place[which[possible[which]]]), possible[which]


def cases_special(cases: Cases) -> list[Ints]:
    """Return a column that sets every piece with a finding of another form apart."""
    own = np.zeros(len(cases), dtype=np.intp)
    for row in cases.special:
        own[row] = row + 1
    return [own]


def _posteriors(scorer: Scorer, cases: Cases, laid: Laid) -> tuple[Floats, dict[str, Floats]]:
    evidence = np.zeros(len(cases))
    posterior: dict[str, Floats] = {}
    for sheet in scorer.joints:
        own = laid if sheet is laid.sheet else lay(sheet, cases)
        logs = own.log_joint(own.picks, np.arange(len(cases)))
        total = log_total(logs)
        with np.errstate(invalid="ignore"):
            shares = np.exp(logs - total)
        for name in sheet.tree.roots:
            posterior[name] = _marginal(sheet, name, shares)
        evidence = total + own.offsets.sum(axis=0)
    return evidence, posterior


def _marginal(sheet: Sheet, name: str, joint: Floats) -> Floats:
    """Return the sums of *joint* over all roots but one, shape (columns, states)."""
    column = sheet.tree.root_states[:, sheet.tree.roots.index(name)]
    onto = np.eye(len(sheet.network.states[name]))[column]
    found: Floats = joint.T @ onto
    return found


def _about(scorer: Scorer, cases: Cases, evidence: Floats, posterior: dict[str, Floats]) -> Scored:
    laid = lay(scorer.about, cases)
    rows = np.arange(len(cases))
    logs = question_logs(laid, laid.picks, rows)
    before = question_logs(laid, np.zeros((len(laid.picks), 1), dtype=np.intp), rows[:1])[:, 0]
    leading, rival = leading_two(logs, before)
    counts = np.count_nonzero([laid.found(name) for name in scorer.about.nodes], axis=0)
    weights = weigh(scorer, cases, laid, leading, rival) if scorer.wanted.weights else None
    looks = look(scorer, cases, laid, logs) if scorer.wanted.looks else None
    return Scored(posterior, evidence, leading, rival, counts, weights, looks)


def _spread(found: Scored, which: Ints) -> Scored:
    """Return what is said of different pieces for each piece that is like one of them."""
    return replace(
        found,
        posterior={name: shares[which] for name, shares in found.posterior.items()},
        log_evidence=found.log_evidence[which],
        leading=found.leading[which],
        rival=found.rival[which],
        counts=found.counts[which],
        weights=_taken(found.weights, which) if found.weights else None,
        looks=_taken(found.looks, which) if found.looks else None,
    )


_Columns = TypeVar("_Columns", Weights, Looks)


def _taken(columns: _Columns, which: Ints) -> _Columns:
    rows = {field.name: getattr(columns, field.name)[which] for field in fields(columns)}
    return replace(columns, **rows)
