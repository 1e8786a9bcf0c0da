"""How far to trust an answer: every part of a report that judges it, worked out in one place."""

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np

from claywit.errors import EvidenceError, ModelError
from claywit.evidence.binding import Examined
from claywit.inference.contributions import contributions
from claywit.inference.network import Floats
from claywit.inference.piece import Piece, log_shares
from claywit.inference.varied import Varied, compile_varied
from claywit.model.propositions import Pair
from claywit.reasoning.advice import Advice, Words, advise, open_traits
from claywit.reasoning.conflict import conflict
from claywit.reasoning.policy import Policy, attribute
from claywit.reasoning.reliability import prior_sensitivity, reliability
from claywit.reasoning.rivals import runners
from claywit.reasoning.sensitivity import OneWay, doubts, flips, one_way
from claywit.reasoning.two_way import find_number, two_way
from claywit.reasoning.typicality import typicality
from claywit.reasoning.uncertainty import RunAll, intervals, outer_bounds
from claywit.report import judged
from claywit.report.advised import suggested
from claywit.report.compose import Answer, leading_state
from claywit.report.judgement import Intervals, Sensitive, Typical
from claywit.report.varying import At, Sensitivity, at_values, sensitivity, varied_number

VALUES = (0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99)  # tried for a chosen number


def judge(
    piece: Piece, answer: Answer, policy: Policy, seed: int | None, *, run_all: RunAll = map
) -> dict[str, Any]:
    """Return the sections of a report that judge *answer*, by their names in the report.

    Without a *seed* those that draw numbers, intervals and typicality, are None. *run_all* does
    the rounds of draws behind the intervals.
    """
    model, examined, found = answer.model, answer.examined, answer.explanation
    question, pair = examined.question, (found.for_, found.against)
    varied = compile_varied(piece.network, piece.findings, piece.tree.roots)
    shares = {
        name: _shares(model.node(name).all_states, p) for name, p in answer.log_posterior.items()
    }
    return {
        # Nothing read, nothing said: the shares are then the model's own.
        "attribution": judged.attributed(policy, attribute(model, policy, question, shares))
        if piece.findings
        else None,
        "rivals": tuple(judged.rival(r) for r in runners(piece, question)),
        "intervals": None if seed is None else _intervals(piece, answer, seed, run_all),
        "outer": judged.outside(model, question, outer_bounds(varied, question, pair)),
        "conflict": judged.conflicting(
            conflict(piece, found.groups, answer.log_prior, answer.log_posterior)
        ),
        "typicality": None if seed is None else _typical(piece, question, seed),
        "sensitivity": _sensitive(piece, answer, varied)[1],
        "next": suggested(model, advice_on(piece, examined, policy)),
    }


def _shares(states: tuple[str, ...], log_p: Floats) -> dict[str, float]:
    p = np.exp(log_shares(log_p))
    return dict(zip(states, p.tolist(), strict=True))


def _intervals(piece: Piece, answer: Answer, seed: int, run_all: RunAll) -> Intervals:
    model, question = answer.model, answer.examined.question
    pair: Pair = (answer.explanation.for_, answer.explanation.against)
    seen = {finding.node for finding in piece.findings}
    more = [name for name in model.targets if name not in seen]
    varied = compile_varied(piece.network, piece.findings, piece.tree.roots, more)
    before = compile_varied(piece.network, [], varied.tree.roots)
    rng = np.random.default_rng([seed, 1])
    found = intervals(varied, before, question, pair, rng, run_all=run_all)
    return judged.intervals(model, found, seed)


def _typical(piece: Piece, question: str, seed: int) -> Typical | None:
    found = typicality(piece.network, piece.findings, question, np.random.default_rng([seed, 2]))
    labels = {group.name: group.label or group.name for group in piece.network.model.groups}
    return judged.typical(labels, found, seed) if found else None


def vary(piece: Piece, answer: Answer, texts: Sequence[str]) -> Sensitivity:
    """Return what the answer owes to single numbers, and at other values of up to two of them.

    Raises:
        EvidenceError: a text means none of the model's numbers or several, there are more than
            two, or both are numbers of one node.
    """
    if len(texts) > 2:
        raise EvidenceError(f"{len(texts)} numbers were chosen; at most two can be varied together")
    varied = compile_varied(piece.network, piece.findings, piece.tree.roots)
    ways, found = _sensitive(piece, answer, varied)
    chosen = [find_number(ways, text) for text in texts]
    at: tuple[At, ...] = ()
    if len(chosen) == 1:
        now = ways.numbers[chosen[0]].value
        at = tuple(
            at_values(ways.states, (x,), ways.posterior(chosen[0], x).tolist())
            for x in sorted({*VALUES, now})
        )
    if len(chosen) == 2:
        both = two_way(varied, ways, *chosen)
        grid = [sorted({*VALUES, number.value}) for number in both.numbers]
        at = tuple(
            at_values(ways.states, (x, y), both.posterior(x, y).tolist()) for x, y in product(*grid)
        )
    numbers = tuple(varied_number(answer.model, ways.numbers[i]) for i in chosen)
    leading = leading_state(answer)
    return sensitivity(answer.model, answer.examined, found, leading, numbers, at)


def _sensitive(piece: Piece, answer: Answer, varied: Varied) -> tuple[OneWay, Sensitive]:
    question = answer.examined.question
    pair = (answer.explanation.for_, answer.explanation.against)
    parts = contributions(varied)
    ways = one_way(varied, parts, question)
    states = answer.model.node(question).all_states
    prior = prior_sensitivity(states, answer.log_prior[question], answer.log_posterior[question])
    return ways, judged.sensitive(
        answer.model,
        len(ways.numbers),
        doubts(varied, parts, *pair),
        flips(ways, varied, parts),
        reliability(piece, question, *pair),
        prior,
        parts.left_out,
    )


def advice_on(piece: Piece, examined: Examined, policy: Policy, *, risk: float = 1.0) -> Advice:
    """Return what to look at next, with the words of the attribution where that can be held."""
    model, question = piece.network.model, examined.question
    seen = {finding.node for finding in piece.findings}
    candidates = open_traits(model, examined.findings)
    nodes = [n for n in policy.nodes.values() if n in model.by_name and n not in seen]
    words = Words(tuple(nodes), lambda shares: attribute(model, policy, question, shares).words)
    try:
        return advise(piece, question, candidates, risk=risk, words=words)
    except ModelError:  # the joint of all targets is too large to be held
        return advise(piece, question, candidates, risk=risk)
