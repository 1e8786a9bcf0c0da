"""A report put together from what the engine and the explanation say."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from claywit.evidence.binding import Examined
from claywit.inference.network import Floats
from claywit.inference.piece import likeliest, log_shares
from claywit.model.propositions import Proposition, text_of
from claywit.model.schema import Model
from claywit.reasoning.explanation import UNGROUPED, Explanation, GroupWeight, Weight
from claywit.reasoning.misfits import FarMeasure, RarePair
from claywit.report.numbers import bans, decimal, factor, log10_odds, three_digits
from claywit.report.reading import form, reading
from claywit.report.report import (
    FORMAT,
    Conditions,
    Explained,
    GroupWeighed,
    Left,
    Misfit,
    Report,
    Rests,
    Scaled,
    Seen,
    Weighed,
)
from claywit.report.scale import Scale, term
from claywit.report.used import evidence_used, model_used, node_texts
from claywit.report.values import Shares

Chosen = Literal["stated", "named", "leading"]
LogShares = Mapping[str, Floats]


@dataclass(frozen=True)
class Answer:
    """What inference and reasoning say of one piece, before any rounding.

    log_prior, log_posterior: log P(state, findings) of every hidden node, no findings and
        all of them.
    chosen: how the two propositions of the explanation came about.
    shares: the order-free share of each group, where it was asked for.
    """

    model: Model
    examined: Examined
    log_prior: LogShares
    log_posterior: LogShares
    log_evidence: float
    explanation: Explanation
    chosen: Chosen
    far: tuple[FarMeasure, ...]
    rare: tuple[RarePair, ...]
    shares: Mapping[str, float] = field(default_factory=dict)


def compose(answer: Answer, scale: Scale) -> Report:
    """Return the report of *answer*, without the sections that judge it and without words."""
    model, examined = answer.model, answer.examined
    question = examined.question
    prior = _shares(model, answer.log_prior)
    return Report(
        format=FORMAT,
        model=model_used(model),
        evidence=evidence_used(examined),
        question=question,
        leading=leading_state(answer),
        prior=prior,
        posterior=_shares(model, answer.log_posterior),
        prior_log10_odds=_odds(model, answer.log_prior, question),
        log10_odds=_odds(model, answer.log_posterior, question),
        excluded_by_model=_excluded(model, answer.log_posterior),
        log10_evidence=round(answer.log_evidence / math.log(10), 9) + 0.0,
        explanation=_explained(answer, scale, prior),
        nodes=node_texts(model),
        findings=_seen(answer),
        not_examined=_left(model, examined.not_examined),
        not_applicable=_left(model, examined.not_applicable),
        not_used=examined.not_used,
        unknown_events=examined.unknown_events,
        misfits=_misfits(answer),
        conditions=_conditions(examined),
        priors_from_client=tuple(examined.priors),
    )


def leading_state(answer: Answer) -> str:
    """Return the likeliest state of the question."""
    question = answer.examined.question
    names = answer.model.node(question).state_names
    return names[likeliest(np.exp(log_shares(answer.log_posterior[question])))]


def _misfits(answer: Answer) -> tuple[Misfit, ...]:
    far = [
        Misfit(kind="far_measure", nodes=(f.node,), size=three_digits(f.scales)) for f in answer.far
    ]
    rare = [
        Misfit(kind="rare_pair", nodes=(r.one, r.other), size=three_digits(r.times))
        for r in answer.rare
    ]
    return (*far, *rare)


def _conditions(examined: Examined) -> Conditions:
    evidence = examined.evidence
    readings, stated, engagement = evidence.readings, evidence.propositions, evidence.engagement
    return Conditions(
        locked_at=readings.locked_at if readings else "",
        masked=readings.masked if readings else None,
        stated_at=stated.stated_at if stated else "",
        engagement=engagement.model_dump(mode="json", exclude_defaults=True) if engagement else {},
    )


def _shares(model: Model, logs: LogShares) -> dict[str, dict[str, str]]:
    shares = {}
    for name, log_p in logs.items():
        greatest = log_p.max()
        normal = log_p - greatest - math.log(np.exp(log_p - greatest).sum())
        shares[name] = {
            s: decimal(v) for s, v in zip(model.node(name).all_states, normal, strict=True)
        }
    return shares


def _odds(model: Model, logs: LogShares, question: str) -> dict[str, dict[str, float | None]]:
    asked = dict.fromkeys([*model.targets, question])
    return {
        name: dict(zip(model.node(name).all_states, log10_odds(logs[name]), strict=True))
        for name in asked
        if name in logs
    }


def _excluded(model: Model, logs: LogShares) -> dict[str, tuple[str, ...]]:
    found = {
        name: tuple(s for s, v in zip(model.node(name).all_states, p, strict=True) if v == -np.inf)
        for name, p in logs.items()
    }
    return {name: states for name, states in found.items() if states}


def _seen(answer: Answer) -> tuple[Seen, ...]:
    model = answer.model
    group_of = {name: group.name for group in model.groups for name in group.nodes}
    return tuple(
        Seen(
            node=f.node,
            label=model.node(f.node).title,
            group=group_of.get(f.node, UNGROUPED),
            reading=reading(f, model.node(f.node)),
            form=form(f),
            hidden=not model.node(f.node).is_trait and any(n.is_trait for n in model.nodes),
            method=f.method,
            where=f.where,
            note=f.note,
            implied_by=f.implied_by,
        )
        for f in answer.examined.findings
    )


def _left(model: Model, why: Mapping[str, str]) -> tuple[Left, ...]:
    return tuple(Left(node=n, label=model.node(n).title, why=w) for n, w in why.items())


def _explained(answer: Answer, scale: Scale, prior: Shares) -> Explained:
    found, model = answer.explanation, answer.model
    labels = {group.name: group.label or group.name.replace("_", " ") for group in model.groups}
    readings = {f.node: reading(f, model.node(f.node)) for f in answer.examined.findings}
    return Explained(
        target=next(iter(found.for_)),
        for_=text_of(found.for_),
        against=text_of(found.against),
        chosen=answer.chosen,
        prior_bans=bans(found.prior),
        total_bans=bans(found.total),
        posterior_bans=bans(found.posterior),
        prior_odds=factor(found.prior),
        posterior_odds=factor(found.posterior),
        total_factor=factor(found.total),
        strongest_for=found.strongest_for,
        strongest_against=found.strongest_against,
        findings=tuple(_weighed(w, readings[w.node]) for w in found.weights),
        groups=tuple(_group(g, labels.get(g.name, g.name), answer.shares) for g in found.groups),
        rests_on=_rests(answer, prior),
        verbal=_verbal(answer, scale),
    )


def _weighed(weight: Weight, said: str) -> Weighed:
    ruled_out = next((w for w in (weight.bans, weight.alone) if math.isinf(w)), 0.0)
    excludes: Literal["for", "against", "neither"] = "neither"
    if ruled_out:
        excludes = "against" if ruled_out > 0 else "for"
    return Weighed(
        node=weight.node,
        reading=said,
        group=weight.group,
        bans=bans(weight.bans),
        alone_bans=bans(weight.alone),
        left_out_bans=bans(weight.left_out),
        factor=factor(weight.bans),
        excludes=excludes,
        averages_over=weight.averages_over,
    )


def _group(group: GroupWeight, label: str, shares: Mapping[str, float]) -> GroupWeighed:
    return GroupWeighed(
        name=group.name,
        label=label,
        nodes=group.nodes,
        bans=bans(group.bans),
        alone_bans=bans(group.alone),
        left_out_bans=bans(group.left_out),
        share_bans=bans(shares[group.name]) if group.name in shares else None,
    )


def _rests(answer: Answer, prior: Shares) -> tuple[Rests, ...]:
    client = answer.examined.priors
    return tuple(
        Rests(node=name, origin="client" if name in client else "model", p=prior[name])
        for name in answer.explanation.rests_on
        if name in prior
    )


def _verbal(answer: Answer, scale: Scale) -> Scaled:
    """Return the scale's word for the total, the ratio clipped to [1/N, N].

    N is the smaller number of reference pieces behind the two propositions: a likelihood
    ratio says no more than the pieces behind it (bounding as in NFI's lir, n-source).
    """
    found = answer.explanation
    n = pieces_behind(answer)
    bands = dict(scale.bands)
    if n < 1:
        why = "rests on elicited tables; no reference pieces stand behind a word"
        return Scaled(scale=scale.id, source=scale.source, term=None, why=why, bands=bands)
    size = min(abs(found.total), math.log10(n))
    word = term(10**size, scale)
    side = "for" if found.total >= 0 else "against"
    clipped = (
        f", clipped to the {n:g} reference pieces behind it" if abs(found.total) > size else ""
    )
    why = f"{word} support {side} the first proposition{clipped}"
    return Scaled(scale=scale.id, source=scale.source, term=word, why=why, bands=bands)


def pieces_behind(answer: Answer) -> float:
    """Return how many reference pieces stand behind the propositions: the smaller number."""
    found = answer.explanation
    return min(_pieces(answer.model, side) for side in (found.for_, found.against))


def _pieces(model: Model, proposition: Proposition) -> float:
    by_state = model.reference.by_state
    return min(
        sum(by_state.get(name, {}).get(s, 0) for s in states)
        for name, states in proposition.items()
    )
