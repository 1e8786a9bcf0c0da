"""What to look at next, as plain data and in words."""

from typing import Literal

from claywit.evidence.binding import Examined
from claywit.model.schema import Model
from claywit.reasoning.advice import Advice, Step
from claywit.report.judgement import Look, Suggested
from claywit.report.limits import limits
from claywit.report.numbers import bans, percent, twelve_digits
from claywit.report.report import EvidenceUsed, ModelUsed, NodeText
from claywit.report.used import evidence_used, model_used, node_texts
from claywit.report.values import Named

WORTH = 0.01  # bits below which a look is not worth its minutes


class Next(Named):
    """What to look at next on a question, the best per minute first."""

    format: Literal["claywit-next/1"] = "claywit-next/1"
    model: ModelUsed
    evidence: EvidenceUsed
    question: str
    leading: str
    doubt_bits: float
    next: tuple[Look, ...]
    pairs: tuple[Look, ...]
    plan: Look | None
    may_stop: bool
    too_risky: tuple[str, ...]
    nodes: dict[str, NodeText]
    statement: str
    cautions: tuple[str, ...]


def advised(model: Model, examined: Examined, advice: Advice, leading: str) -> Next:
    """Return the *advice* on what was *examined*, *leading* being the likeliest state now."""
    found = suggested(model, advice)
    used = model_used(model)
    return Next(
        model=used,
        evidence=evidence_used(examined),
        question=advice.question,
        leading=leading,
        doubt_bits=found.doubt_bits,
        next=found.looks,
        pairs=found.pairs,
        plan=found.plan,
        may_stop=found.may_stop,
        too_risky=found.too_risky,
        nodes=node_texts(model),
        statement=found.statement,
        cautions=limits([used]),
    )


def suggested(model: Model, advice: Advice) -> Suggested:
    """Return the *advice* as plain data."""
    nodes = node_texts(model)
    views = {node.name: node.examine.view for node in model.nodes if node.examine}

    def look(step: Step) -> Look:
        return Look(
            nodes=step.nodes,
            labels=tuple(nodes[name].label for name in step.nodes),
            views=tuple(views[name] for name in step.nodes),
            bits=bans(step.bits) or 0.0,
            minutes=step.minutes,
            bits_per_minute=bans(step.bits_per_minute) or 0.0,
            overturns=twelve_digits(step.overturns),
            rewords=None if step.rewords is None else twelve_digits(step.rewords),
        )

    singles = tuple(look(step) for step in advice.singles)
    pairs = tuple(look(step) for step in advice.pairs)
    label = nodes[advice.question].label.lower()
    return Suggested(
        doubt_bits=bans(advice.doubt) or 0.0,
        looks=singles,
        pairs=pairs,
        plan=look(advice.plan) if advice.plan else None,
        may_stop=advice.may_stop,
        too_risky=advice.too_risky,
        statement=_statement(label, (*singles, *pairs), advice),
    )


def _statement(label: str, looks: tuple[Look, ...], advice: Advice) -> str:
    worth = [look for look in looks if look.bits >= WORTH and len(look.nodes) == 1]
    if advice.may_stop:
        return (
            "You may stop: no trait still open, and no pair of the best, would change the words of"
            " the attribution."
        )
    if not worth:
        hardly = f"Hardly anything is left that would say something of the {label}"
        telling = max(looks, key=lambda look: look.rewords or 0.0, default=None)
        if not telling or not telling.rewords:
            return f"{hardly}."
        names = " and ".join(name.lower() for name in telling.labels)
        chance = percent(telling.rewords)
        return (
            f"{hardly}; but {names} would change the words of the attribution in {chance} of cases."
        )
    best = worth[0]
    look = f"Look at {best.labels[0].lower()} next ({best.views[0]}, {best.minutes:g} min)"
    settled = f"{best.bits:.2f} of {advice.doubt:.2f} bits of doubt"
    return f"{look}: it is expected to settle {settled} about the {label}."
