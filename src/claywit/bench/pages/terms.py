"""What is said beside the readings: the question, two propositions, the engagement, notes."""

from datetime import datetime
from typing import Any

from pydantic import Field, ValidationError
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit.bench.asked import refused
from claywit.bench.draft import Draft, Typed
from claywit.bench.saving import Changed, saved
from claywit.bench.web import json_body
from claywit.evidence.written import Engagement, Propositions
from claywit.model.values import Name, Value

ENGAGEMENT = {
    "client": "Client",
    "intended_use": "Intended use",
    "intended_users": "Intended users (with ; between them)",
    "effective_date": "Effective date, as 2026-01-31",
    "interest": "Your interest in the piece, or none",
    "told_beforehand": "What you were told beforehand, or nothing",
}


class Terms(Value):
    """The form as it is typed."""

    question: Name | None = None
    for_: Typed = Field("", alias="for")
    against: Typed = ""
    client: Typed = ""
    intended_use: Typed = ""
    intended_users: Typed = ""
    effective_date: Typed = ""
    interest: Typed = ""
    told_beforehand: Typed = ""
    notes: Typed = ""

    def propositions(self, held: Propositions | None, now: datetime) -> Propositions | None:
        """Return the propositions, dated when they were first stated so."""
        one, other = self.for_.strip(), self.against.strip()
        if not (one or other):
            return None
        if held and (held.for_, held.against) == (one, other):
            return held
        stated = {"for": one, "against": other, "stated_at": now.date().isoformat()}
        return Propositions.model_validate(stated)

    def engagement(self) -> Engagement | None:
        """Return the engagement, if anything is said of it."""
        said: dict[str, Any] = {name: getattr(self, name).strip() for name in ENGAGEMENT}
        users = [user.strip() for user in self.intended_users.split(";")]
        found = Engagement.model_validate({**said, "intended_users": tuple(filter(None, users))})
        return found if found != Engagement() else None


async def terms(request: Request) -> Response:
    """Save what is said beside the readings."""
    data = await json_body(request)
    try:
        said = Terms.model_validate({k: v for k, v in data.items() if k != "version"})
    except ValidationError as wrong:
        raise refused(wrong) from None

    def make(draft: Draft, now: datetime) -> Changed:
        update = {
            "question": said.question,
            "propositions": said.propositions(draft.propositions, now),
            "engagement": said.engagement(),
            "notes": said.notes,
            "version": draft.version + 1,
            "saved": now.isoformat(timespec="seconds"),
        }
        return draft.model_copy(update=update), None

    return await saved(request, data, make)


ROUTES = (Route("/piece/{draft:str}/terms", terms, methods=["POST"]),)
