"""The form of the terms as values: question, propositions, engagement, priors, order of events."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from claywit.bench.asked import refused, text_of, texts_of
from claywit.bench.choices import meant, typed
from claywit.bench.draft import Draft, newer
from claywit.bench.labels import state_title
from claywit.bench.web import Refused
from claywit.bench.weighing import TERMS, weighable
from claywit.evidence.written import Engagement, Propositions
from claywit.model.propositions import Proposition
from claywit.model.schema import Model, Node
from claywit.model.values import number

ENGAGEMENT = {
    "client": "Client",
    "intended_use": "Intended use",
    "intended_users": "Intended users (with ; between them)",
    "effective_date": "Effective date, as 2026-01-31",
    "interest": "Your interest in the piece, or none",
    "told_beforehand": "What you were told beforehand, or nothing",
}
SIDES = {"for": "For", "against": "Against"}


def roots(model: Model) -> list[Node]:
    """Return the nodes of which a client may state a prior."""
    return [n for n in model.nodes if n.states and not n.parents and not n.visibility]


def stated(model: Model, draft: Draft, data: Mapping[str, Any], now: datetime) -> Draft:
    """Return the draft with the terms of the form.

    Raises:
        Refused: the form is not readable, or does not fit the model.
    """
    try:
        said = newer(
            draft,
            now,
            question=text_of(data, "question") or None,
            propositions=_propositions(model, data, draft.propositions, now),
            engagement=_engagement(data),
            priors={node.name: p for node in roots(model) if (p := _prior(data, node))},
            sequence=tuple(_order(data)),
            notes=text_of(data, "notes"),
        )
        checked = Draft.model_validate(said.model_dump(by_alias=True))
    except ValidationError as wrong:
        raise refused(wrong) from None
    problem = weighable(checked, model).problems.get(TERMS)
    if problem:
        raise Refused(422, problem)
    return checked


def _propositions(
    model: Model, data: Mapping[str, Any], held: Propositions | None, now: datetime
) -> Propositions | None:
    """Return the propositions, dated when they were first stated so."""
    known = [*model.by_name]
    one, other = (
        typed({n: texts_of(data, f"{side}.{n}") for n in known if f"{side}.{n}" in data})
        for side in SIDES
    )
    if not (one or other):
        return None
    if held and _mean(model, held.for_, held.against) == _mean(model, one, other):
        return held
    if not (one and other):
        raise Refused(422, "Choose something on both sides; one proposition alone has no weight.")
    said = {"for": one, "against": other, "stated_at": now.date().isoformat()}
    return Propositions.model_validate(said)


def _mean(model: Model, *sides: str) -> list[Proposition]:
    return [meant(model, side) for side in sides]


def _engagement(data: Mapping[str, Any]) -> Engagement | None:
    """Return the engagement, if anything is said of it."""
    said: dict[str, Any] = {name: text_of(data, name).strip() for name in ENGAGEMENT}
    users = [user.strip() for user in said["intended_users"].split(";")]
    found = Engagement.model_validate({**said, "intended_users": tuple(filter(None, users))})
    return found if found != Engagement() else None


def _prior(data: Mapping[str, Any], node: Node) -> dict[str, float]:
    """Return the prior that was stated of a node, in shares."""
    fields = {state: text_of(data, f"prior.{node.name}.{state}") for state in node.state_names}
    return {state: _share(node, state, text) for state, text in fields.items() if text.strip()}


def _share(node: Node, state: str, text: str) -> float:
    where = f"Prior of {node.title}, {state_title(node, state)}"
    try:
        share = number(text.replace("%", "").strip())
    except ValueError as wrong:
        raise Refused(422, f"{where}: {wrong}") from None
    if not 0 <= share <= 100:
        raise Refused(422, f"{where}: {share:g} is no share of a hundred; type 0 to 100.")
    return share / 100


def _order(data: Mapping[str, Any]) -> list[tuple[str, str]]:
    pairs = list(zip(texts_of(data, "under"), texts_of(data, "over"), strict=False))
    if any(bool(under) != bool(over) for under, over in pairs):
        raise Refused(422, "Order of events: choose both, what lies under and what lies over it.")
    return [pair for pair in pairs if all(pair)]
