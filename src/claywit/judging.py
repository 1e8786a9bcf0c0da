"""How far to trust an answer: every part of a report that judges it, worked out in one place."""

from typing import Any

import numpy as np

from claywit.errors import ModelError
from claywit.evidence.binding import Examined
from claywit.inference.contributions import contributions
from claywit.inference.network import Floats
from claywit.inference.piece import Piece
from claywit.inference.varied import Varied, compile_varied
from claywit.model.propositions import Proposition
from claywit.reasoning.advice import Advice, Words, advise, open_traits
from claywit.reasoning.conflict import conflict
from claywit.reasoning.policy import Policy, attribute
from claywit.reasoning.reliability import prior_sensitivity, reliability
from claywit.reasoning.rivals import runners
from claywit.reasoning.sensitivity import doubts, flips, one_way
from claywit.reasoning.typicality import typicality
from claywit.reasoning.uncertainty import intervals, outer_bounds
from claywit.report import judged
from claywit.report.advised import suggested
from claywit.report.compose import Answer
from claywit.report.judgement import Intervals, Sensitive, Typical


def judge(piece: Piece, answer: Answer, policy: Policy, seed: int | None) -> dict[str, Any]:
    """Return the sections of a report that judge *answer*, by their names in the report.

    Without a *seed* those that draw numbers, intervals and typicality, are None.
    """
    model, examined, found = answer.model, answer.examined, answer.explanation
    question, pair = examined.question, (found.for_, found.against)
    varied = compile_varied(piece.network, piece.findings, piece.tree.roots)
    shares = {
        name: _shares(model.node(name).all_states, p) for name, p in answer.log_posterior.items()
    }
    return {
        "attribution": judged.attributed(policy, attribute(model, policy, question, shares)),
        "rivals": tuple(judged.rival(r) for r in runners(piece, question)),
        "intervals": None if seed is None else _intervals(piece, answer, seed),
        "outer": judged.outside(model, question, outer_bounds(varied, question, pair)),
        "conflict": judged.conflicting(
            conflict(piece, found.groups, answer.log_prior, answer.log_posterior)
        ),
        "typicality": None if seed is None else _typical(piece, question, seed),
        "sensitivity": _sensitive(piece, answer, varied),
        "next": suggested(model, advice_on(piece, examined, policy)),
    }


def _shares(states: tuple[str, ...], log_p: Floats) -> dict[str, float]:
    p = np.exp(log_p - np.logaddexp.reduce(log_p))
    return dict(zip(states, p.tolist(), strict=True))


def _intervals(piece: Piece, answer: Answer, seed: int) -> Intervals:
    model, question = answer.model, answer.examined.question
    pair: tuple[Proposition, Proposition] = (answer.explanation.for_, answer.explanation.against)
    seen = {finding.node for finding in piece.findings}
    more = [name for name in model.targets if name not in seen]
    varied = compile_varied(piece.network, piece.findings, piece.tree.roots, more)
    before = compile_varied(piece.network, [], varied.tree.roots)
    rng = np.random.default_rng([seed, 1])
    return judged.intervals(model, intervals(varied, before, question, pair, rng), seed)


def _typical(piece: Piece, question: str, seed: int) -> Typical | None:
    found = typicality(piece.network, piece.findings, question, np.random.default_rng([seed, 2]))
    labels = {group.name: group.label or group.name for group in piece.network.model.groups}
    return judged.typical(labels, found, seed) if found else None


def _sensitive(piece: Piece, answer: Answer, varied: Varied) -> Sensitive:
    question = answer.examined.question
    pair = (answer.explanation.for_, answer.explanation.against)
    parts = contributions(varied)
    ways = one_way(varied, parts, question)
    states = answer.model.node(question).all_states
    return judged.sensitive(
        len(ways.numbers),
        doubts(varied, parts, *pair),
        flips(ways, varied, parts),
        reliability(piece, question, *pair),
        prior_sensitivity(states, answer.log_prior[question], answer.log_posterior[question]),
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
