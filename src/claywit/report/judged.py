"""The sections that judge an answer, put together from what reasoning found."""

from collections.abc import Mapping
from math import sqrt

from claywit.model.schema import Model
from claywit.reasoning.conflict import Conflict
from claywit.reasoning.policy import Attribution, Policy
from claywit.reasoning.reliability import Doubted, Prior
from claywit.reasoning.rivals import Runner
from claywit.reasoning.sensitivity import Doubt, Flip
from claywit.reasoning.typicality import Typicality
from claywit.reasoning.uncertainty import Interval, Outer
from claywit.reasoning.uncertainty import Intervals as Drawn
from claywit.report.digest import digest
from claywit.report.judgement import (
    Attributed,
    Between,
    Conflicting,
    Dated,
    DoubtfulRow,
    Explains,
    GroupTypical,
    Intervals,
    LessSure,
    OtherPrior,
    Outside,
    Rival,
    Sensitive,
    Turning,
    Typical,
)
from claywit.report.numbers import bans, share, three_digits, twelve_digits
from claywit.report.values import Range, Span

KEPT = 12  # rows, turning points and rivals that a report lists


def attributed(policy: Policy, found: Attribution) -> Attributed:
    """Return the words of the attribution, with the definitions of all words of the policy."""
    phrases = {
        "region": policy.region,
        "derivative": policy.derivative,
        "later": policy.later,
        "stranger": policy.stranger,
        "unattributed": policy.unattributed,
    }
    graded = {grade.workshop: grade.means for grade in policy.grades}
    dating = found.dating
    return Attributed(
        policy=policy.id,
        version=policy.version,
        digest=digest(policy),
        source=policy.source,
        grade=found.grade,
        words=found.words,
        means=found.means,
        node=found.node,
        state=found.state,
        share=share(found.share),
        dated=Dated(date=dating.date, periods=dating.periods, share=share(dating.share))
        if dating
        else None,
        definitions={
            _blank(words): means
            for words, means in [*graded.items(), *((p.words, p.means) for p in phrases.values())]
        },
    )


def _blank(template: str) -> str:
    return template.replace("{", "").replace("}", "").replace("subject", "…")


def _share(p: float | None) -> str | None:
    return None if p is None else share(p)


def ranged(interval: Interval) -> Range:
    """Return an interval of a probability."""
    return share(interval.low), share(interval.high)


def _span(interval: Interval | None) -> Span | None:
    if interval is None:
        return None
    return bans(interval.low) or 0.0, bans(interval.high) or 0.0


def intervals(model: Model, found: Drawn, seed: int) -> Intervals:
    """Return the intervals from drawn tables."""
    return Intervals(
        draws=found.draws,
        seed=seed,
        shares={
            name: dict(zip(model.node(name).all_states, map(ranged, spans), strict=True))
            for name, spans in found.shares.items()
        },
        prior_bans=_span(found.prior),
        total_bans=_span(found.total),
        posterior_bans=_span(found.posterior),
        leads=share(found.leads),
        exact_rows=dict(found.exact),
    )


def outside(model: Model, question: str, found: Outer) -> Outside:
    """Return the outer bounds."""
    return Outside(
        epsilon=found.epsilon,
        shares=dict(zip(model.node(question).all_states, map(ranged, found.shares), strict=True)),
        posterior_bans=_span(found.posterior),
        holds_to=three_digits(found.holds_to),
    )


def conflicting(found: Conflict) -> Conflicting:
    """Return how the findings agree."""
    explains = found.explained_by
    return Conflicting(
        total_bans=bans(found.total) or 0.0,
        within_bans={name: bans(size) or 0.0 for name, size in found.within},
        between=tuple(
            Between(groups=(one, other), bans=bans(size) or 0.0)
            for one, other, size in sorted(found.between, key=lambda pair: -pair[2])
        ),
        explained_by=Explains(
            node=explains.node,
            state=explains.state,
            bans=bans(explains.bans) or 0.0,
            posterior=share(explains.posterior),
        )
        if explains
        else None,
    )


def typical(labels: Mapping[str, str], found: Typicality, seed: int) -> Typical:
    """Return how typical the piece is; *labels* are those of the groups."""
    return Typical(
        pieces=found.pieces,
        seed=seed,
        leader=found.leader,
        overall=share(found.overall),
        under_leader=_share(found.under_leader),
        groups=tuple(
            GroupTypical(
                name=group.name,
                label=labels.get(group.name, group.name),
                overall=share(group.overall),
                under_leader=_share(group.under_leader),
                apart_bans=bans(group.apart) or 0.0,
            )
            for group in found.groups
        ),
        stranger=found.stranger,
        p=share(found.p),
        alarm=found.alarm,
        open_leads=found.open_leads,
        unchecked=found.unchecked,
    )


def sensitive(  # noqa: PLR0913, PLR0917 - one argument for each thing found
    model: Model,
    numbers: int,
    doubts: tuple[Doubt, ...],
    flips: tuple[Flip, ...],
    readings: tuple[Doubted, ...],
    prior: Prior | None,
    not_varied: tuple[str, ...],
) -> Sensitive:
    """Return what the answer owes to numbers, readings and the prior."""
    return Sensitive(
        numbers=numbers,
        sd_bans=bans(sqrt(sum(d.sd**2 for d in doubts))) if doubts else None,
        doubts=tuple(_doubtful(model, d) for d in doubts[:KEPT]),
        turning=tuple(_turning(model, flip) for flip in flips[:KEPT]),
        readings=tuple(
            LessSure(
                node=d.node, bans=bans(d.bans), leader=d.leader,
                least=None if d.least is None else twelve_digits(d.least),
            )
            for d in readings
        ),
        prior=OtherPrior(
            state=prior.state,
            prior=share(prior.prior),
            times={f"{factor:.3g}": share(p) for factor, p in prior.shares},
            rival=prior.rival,
            turns_at=None if prior.turns_at is None else share(prior.turns_at),
        )
        if prior
        else None,
        not_varied=not_varied,
    )  # fmt: skip


def _doubtful(model: Model, found: Doubt) -> DoubtfulRow:
    return DoubtfulRow(
        node=found.node,
        kind=found.kind,
        row=found.where or row_text(model, found.node, found.kind, found.given),
        n=found.n,
        sd_bans=bans(found.sd) or 0.0,
    )


def _turning(model: Model, flip: Flip) -> Turning:
    number = flip.number
    return Turning(
        node=flip.node,
        kind=number.kind if number else "measure",
        state=number.state if number else None,
        row=row_text(model, number.node, number.kind, number.given) if number else flip.where,
        now=twelve_digits(number.value) if number else None,
        then=None if flip.then is None else twelve_digits(flip.then),
        times=three_digits(flip.times),
        leader=flip.leader,
    )


def row_text(model: Model, node: str, kind: str, given: Mapping[str, tuple[str, ...]]) -> str:
    """Return for which states of the parents a row holds, as it is typed; or what it is."""
    if given:
        # In the order of the parents: how a file orders the keys of a mapping means nothing.
        parents = [parent for parent in model.node(node).all_parents if parent in given]
        return ",".join(f"{parent}={'|'.join(given[parent])}" for parent in parents)
    if kind == "leak":
        return "leak"
    return "otherwise" if model.node(node).parents else "prior"


def rival(found: Runner) -> Rival:
    """Return one rival of the leader."""
    return Rival(
        state=found.state,
        posterior=share(found.posterior),
        bans=bans(found.bans),
        strongest=found.strongest,
        strongest_bans=None if found.strongest is None else bans(found.strongest_bans),
    )
