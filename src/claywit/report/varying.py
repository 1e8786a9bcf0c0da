"""What the answer would be if numbers of the model were others: plain data and words."""

from typing import Literal

from claywit.evidence.binding import Examined
from claywit.inference.piece import likeliest
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.sensitivity import Number
from claywit.report.judged import row_text
from claywit.report.judgement import Sensitive
from claywit.report.limits import limits
from claywit.report.numbers import share, twelve_digits
from claywit.report.report import EvidenceUsed, ModelUsed, NodeText
from claywit.report.used import evidence_used, model_used, node_texts
from claywit.report.values import Decimal, Named


class VariedNumber(Value):
    """A number of the model, as it stands: *state* of a row of *node*."""

    node: str
    kind: str
    state: str
    row: str
    now: float


class At(Value):
    """The posterior of the question with the numbers at *values*, and who leads."""

    values: tuple[float, ...]
    leader: str
    posterior: dict[str, Decimal]


class Sensitivity(Named):
    """What the answer owes to single numbers; with chosen numbers, the answer at their values."""

    format: Literal["claywit-sensitivity/1"] = "claywit-sensitivity/1"
    model: ModelUsed
    evidence: EvidenceUsed
    question: str
    leading: str
    sensitivity: Sensitive
    chosen: tuple[VariedNumber, ...]
    at: tuple[At, ...]
    nodes: dict[str, NodeText]
    cautions: tuple[str, ...]


def varied_number(model: Model, number: Number) -> VariedNumber:
    """Return a number of the model as plain data."""
    return VariedNumber(
        node=number.node,
        kind=number.kind,
        state=number.state,
        row=row_text(model, number.node, number.kind, number.given),
        now=twelve_digits(number.value),
    )


def at_values(states: tuple[str, ...], values: tuple[float, ...], posterior: list[float]) -> At:
    """Return the answer with the numbers at *values*."""
    leader = states[likeliest(posterior)]
    shares = {state: share(p) for state, p in zip(states, posterior, strict=True)}
    return At(values=values, leader=leader, posterior=shares)


def sensitivity(
    model: Model,
    examined: Examined,
    found: Sensitive,
    leading: str,
    chosen: tuple[VariedNumber, ...],
    at: tuple[At, ...],
) -> Sensitivity:
    """Return the whole answer, *at* being empty where no number was chosen."""
    used = model_used(model)
    return Sensitivity(
        model=used,
        evidence=evidence_used(examined),
        question=examined.question,
        leading=leading,
        sensitivity=found,
        chosen=chosen,
        at=at,
        nodes=node_texts(model),
        cautions=limits([used]),
    )
