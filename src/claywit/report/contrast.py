"""Two rival attributions side by side, as plain data and in one sentence."""

import math
from collections.abc import Sequence
from typing import Literal

from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.rivals import Change, SideBySide
from claywit.report.labels import proposition_label
from claywit.report.numbers import bans, signed_bans
from claywit.report.report import (
    EvidenceUsed,
    Explained,
    ModelUsed,
    NodeText,
    Report,
    Weighed,
)
from claywit.report.values import Named
from claywit.report.wording import SPEAKS, moves


class Side(Value):
    """One finding under both propositions.

    p_*: its probability if it were the only finding; chained_p_*: after the findings before
    it. For a measured value both are densities per the node's unit (*is_density*), of which
    only the ratio means something. None where a proposition was already ruled out.
    """

    node: str
    reading: str
    is_density: bool
    p_for: float | None
    p_against: float | None
    alone_bans: float | None
    chained_p_for: float | None
    chained_p_against: float | None
    bans: float | None


class Turned(Value):
    """A finding that is lost, or read as another state."""

    node: str
    label: str
    reading: str
    to: str | None


class Flip(Value):
    """The smallest set of findings whose loss or reversal turns the order, if there is one."""

    tried_up_to: int
    changes: tuple[Turned, ...]


class Contrast(Named):
    """Everything that is said for and against each of two propositions."""

    format: Literal["claywit-contrast/1"] = "claywit-contrast/1"
    model: ModelUsed
    evidence: EvidenceUsed
    explanation: Explained
    sides: tuple[Side, ...]
    flip: Flip
    nodes: dict[str, NodeText]
    sentence: str
    cautions: tuple[str, ...]


def contrast(
    report: Report,
    model: Model,
    sides: Sequence[SideBySide],
    flip: Sequence[Change] | None,
    tried: int,
) -> Contrast:
    """Return the contrast of the two propositions that *report* explains."""
    weighed = {w.node: w for w in report.explanation.findings}
    measured = {node.name for node in model.nodes if node.measured}
    turned = tuple(
        Turned(
            node=change.node,
            label=report.nodes[change.node].label,
            reading=weighed[change.node].reading,
            to=_state(report, change),
        )
        for change in flip or ()
    )
    return Contrast(
        model=report.model,
        evidence=report.evidence,
        explanation=report.explanation,
        sides=tuple(_side(side, weighed[side.node], side.node in measured) for side in sides),
        flip=Flip(tried_up_to=tried, changes=turned),
        nodes=report.nodes,
        sentence=_sentence(report),
        cautions=report.cautions,
    )


def _state(report: Report, change: Change) -> str | None:
    return None if change.to is None else report.nodes[change.node].states[change.to].label


def _side(side: SideBySide, weighed: Weighed, measured: bool) -> Side:  # noqa: FBT001
    return Side(
        node=side.node,
        reading=weighed.reading,
        is_density=measured,
        p_for=_probability(side.alone_for),
        p_against=_probability(side.alone_against),
        alone_bans=bans((side.alone_for - side.alone_against) / math.log(10)),
        chained_p_for=_probability(side.chained_for),
        chained_p_against=_probability(side.chained_against),
        bans=weighed.bans,
    )


def _probability(log_p: float) -> float | None:
    return None if math.isnan(log_p) else float(f"{math.exp(log_p):.12g}")


def _sentence(report: Report) -> str:
    """Return `M04 rather than M12 because …, although …`, the likelier proposition first."""
    why = report.explanation
    turned = why.posterior_bans is not None and why.posterior_bans < 0
    one, other = why.for_, why.against
    if turned:
        one, other = other, one
    sign = -1 if turned else 1
    speaking = [w for w in why.findings if moves(w) and w.left_out_bans is not None]
    ranked = sorted(speaking, key=lambda w: -sign * (w.left_out_bans or 0))
    because = [w for w in ranked if sign * (w.left_out_bans or 0) >= SPEAKS][:3]
    although = [w for w in reversed(ranked) if sign * (w.left_out_bans or 0) <= -SPEAKS][:2]
    said = f"{proposition_label(report, one)} rather than {proposition_label(report, other)}"
    net = sign * (why.total_bans or 0.0)
    if why.total_bans is not None and net < SPEAKS and because:
        lean = "lean the other way" if net <= -SPEAKS else "decide nothing"
        return f"{said} by the prior alone; taken together the findings {lean}."
    said += (
        f" because {_listed(report, because)}"
        if because
        else ", by the prior more than by what was seen"
    )
    said += (
        f", although {_listed(report, although)}"
        if although
        else "; nothing seen speaks clearly the other way"
    )
    return f"{said}."


def _listed(report: Report, weighed: Sequence[Weighed]) -> str:
    return "; ".join(
        f"{report.nodes[w.node].label.lower()}: {w.reading} ({signed_bans(w.left_out_bans)} bans)"
        for w in weighed
    )


def flip_said(contrast: Contrast) -> str:
    """Return what the smallest set is whose loss or reversal would turn the order round."""
    changes = contrast.flip.changes
    if not changes:
        most = contrast.flip.tried_up_to
        return f"No loss or reversal of up to {most} findings would turn the order round."
    told = [
        f"{change.label.lower()} {'were lost' if change.to is None else f'were {change.to}'}"
        f" (read as {change.reading})"
        for change in changes
    ]
    fewer = "" if len(changes) == 1 else f" Nothing smaller than these {len(changes)} would."
    return f"The order would turn round if {' and '.join(told)}.{fewer}"
