"""What to look at next, as plain data and in words."""

from typing import Literal

from claywit.evidence.binding import Examined
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.advice import Advice, Step
from claywit.report.compose import evidence_used, model_used, node_texts
from claywit.report.numbers import bans
from claywit.report.report import EvidenceUsed, ModelUsed, Named, NodeText

WORTH = 0.01  # bits below which a look is not worth its minutes


class Look(Value):
    """One trait, or two together.

    bits: expected gain on the question. overturns: the chance that another state leads then.
    views: where on the piece to look.
    """

    nodes: tuple[str, ...]
    labels: tuple[str, ...]
    views: tuple[str, ...]
    bits: float
    minutes: float
    bits_per_minute: float
    overturns: float


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
    too_risky: tuple[str, ...]
    nodes: dict[str, NodeText]
    statement: str


def advised(model: Model, examined: Examined, advice: Advice, leading: str) -> Next:
    """Return the *advice* on what was *examined*, *leading* being the likeliest state now."""
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
            overturns=float(f"{step.overturns:.12g}"),
        )

    singles = tuple(look(step) for step in advice.singles)
    pairs = tuple(look(step) for step in advice.pairs)
    return Next(
        model=model_used(model),
        evidence=evidence_used(examined),
        question=advice.question,
        leading=leading,
        doubt_bits=bans(advice.doubt) or 0.0,
        next=singles,
        pairs=pairs,
        too_risky=advice.too_risky,
        nodes=nodes,
        statement=_statement(nodes[advice.question].label.lower(), singles, pairs, advice.doubt),
    )


def _statement(label: str, singles: tuple[Look, ...], pairs: tuple[Look, ...], doubt: float) -> str:
    if not any(look.overturns > 0 for look in (*singles, *pairs)):
        return f"You may stop: no trait, no pair of the best, would change which {label} leads."
    worth = [look for look in singles if look.bits >= WORTH]
    if not worth:
        return f"Hardly anything is left that would say something of the {label}."
    best = worth[0]
    look = f"Look at {best.labels[0].lower()} next ({best.views[0]}, {best.minutes:g} min)"
    settled = f"{best.bits:.2f} of {doubt:.2f} bits of doubt"
    return f"{look}: it is expected to settle {settled} about the {label}."
