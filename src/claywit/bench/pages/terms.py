"""What is said beside the readings: question, propositions, engagement, priors, order of events."""

from datetime import datetime
from hashlib import sha256
from itertools import pairwise

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import text_of
from claywit.bench.choices import choices
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.labels import state_title
from claywit.bench.pages.locking import put_right
from claywit.bench.saving import Changed, save
from claywit.bench.standing import stand, standing_of
from claywit.bench.stated import ENGAGEMENT, SIDES, roots, stated
from claywit.bench.web import Refused, desk_of, json_body, page
from claywit.bench.weighing import TERMS, TERMS_TITLE, weighable
from claywit.model.schema import Model, Node

PARTS = ("question", "propositions", "engagement", "priors", "sequence", "notes")
BLANK = 2  # rows of the order of events that are still empty
RECORDED = "The amendment is recorded. What stood before stays in the casebook, with your reason."
ELSEWHERE = (
    "The terms were changed in another tab. Load the page again: what you typed stays in its"
    " fields until you keep it or take it back."
)


async def terms(request: Request) -> Response:
    """Show what is said beside the readings."""
    desk, standing = desk_of(request), await standing_of(request)
    draft, model = standing.draft, desk.model
    found = await desk.work(weighable, draft, model)
    held = draft.propositions
    sides = {"for": held.for_ if held else "", "against": held.against if held else ""}
    return page(
        request,
        "terms.html.j2",
        draft=draft,
        standing=standing,
        seen=_mark(draft),
        problem=found.problems.get(TERMS, ""),
        sides=SIDES,
        choices=list(choices(model, sides, draft.readings)),
        engagement={name: (title, _engaged(draft, name)) for name, title in ENGAGEMENT.items()},
        priors=[(node, _prior(draft, node)) for node in roots(model)],
        events=_events(model),
        order=[
            *(pair for events in draft.sequence for pair in pairwise(events)),
            *[("", "")] * BLANK,
        ],
        label=state_title,
        question=draft.question or model.targets[0],
    )


def _mark(draft: Draft) -> str:
    """Return what tells the terms of a draft from any others."""
    said = draft.model_dump_json(include=set(PARTS), by_alias=True)
    return sha256(said.encode()).hexdigest()


def _engaged(draft: Draft, name: str) -> str:
    held = getattr(draft.engagement, name) if draft.engagement else ""
    return held if isinstance(held, str) else "; ".join(held)


def _prior(draft: Draft, node: Node) -> list[tuple[str, str, str]]:
    """Return by state the client's prior as typed, and the model's own, in per cent."""
    held, own = draft.priors.get(node.name, {}), node.rows[0].p if node.rows else None
    return [
        (
            state,
            f"{held[state] * 100:.12g}" if state in held else "",
            f"{(own or {}).get(state, 0.0) * 100:.4g}",
        )
        for state in node.state_names
    ]


def _events(model: Model) -> dict[str, str]:
    """Return the events whose order the model knows something of, by name."""
    names = (event for entry in model.order for event in (entry.before, entry.after))
    return {name: name.replace("_", " ") for name in sorted(names)}


async def keep(request: Request) -> Response:
    """Keep what is said beside the readings; once they are locked, as an amendment."""
    desk, data = desk_of(request), await json_body(request)
    name = request.path_params["draft"]
    reason = text_of(data, "reason").strip()

    def said(draft: Draft, now: datetime) -> Draft:
        if text_of(data, "seen") not in ("", _mark(draft)):
            raise Refused(409, ELSEWHERE)
        after = stated(desk.model, draft, data, now)
        return draft if _mark(after) == _mark(draft) else after  # nothing new is no new version

    standing = await desk.work(stand, desk, name)
    if standing.locked is None:

        def make(draft: Draft, now: datetime) -> Changed:
            return said(draft, now), None

        state = await desk.work(save, desk, name, None, make)
        return JSONResponse({**state, "said": "Kept.", "seen": await _now_seen(desk, name)})
    if not reason:
        raise Refused(422, "Say why the terms change: the readings are locked.")

    def amend(draft: Draft, now: datetime) -> Draft:
        return said(draft, now).model_copy(update={"done": (), "undone": ()})

    why = f"{TERMS_TITLE}: {reason}"
    await put_right(desk, name, None, (amend, why))
    return JSONResponse({"said": RECORDED, "seen": await _now_seen(desk, name)})


async def _now_seen(desk: Desk, name: str) -> str:
    return _mark((await desk.work(stand, desk, name)).draft)


ROUTES = (
    Route("/piece/{draft:str}/terms", terms),
    Route("/piece/{draft:str}/terms", keep, methods=["POST"]),
)
