"""The examiner's page: the traits in the order of work, and an answer for each."""

from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.asked import reading_of, trait_of
from claywit.bench.draft import Draft, change, redo, undo
from claywit.bench.pages.opinion import beside
from claywit.bench.saving import Changed, Show, saved, state_of
from claywit.bench.standing import Standing, open_pieces, refuse_read_by_another, standing_of
from claywit.bench.traits import VIEWS, traits
from claywit.bench.web import desk_of, json_body, page
from claywit.model.quantities import UNITS


async def examine(request: Request) -> Response:
    """Show the traits of a piece, with what was answered so far."""
    desk = desk_of(request)
    standing = await _shown(request)
    return page(
        request,
        "examine.html.j2",
        draft=standing.draft,
        standing=standing,
        traits=traits(desk.model),
        views=VIEWS,
        units={unit: _alike(unit) for unit in UNITS},
        state=await desk.work(state_of, desk, standing),
    )


async def _shown(request: Request) -> Standing:
    standing = await standing_of(request)
    desk = desk_of(request)
    await desk.work(refuse_read_by_another, desk, standing)
    return standing


def _alike(unit: str) -> list[str]:
    """Return the units in which the same kind of thing is measured, this one first."""
    kind = UNITS[unit].kind
    return [unit, *(name for name, other in UNITS.items() if other.kind == kind and name != unit)]


async def state(request: Request) -> Response:
    """Return the draft as it is now, for a page that fell behind."""
    desk, standing = desk_of(request), await _shown(request)
    return JSONResponse(await desk.work(state_of, desk, standing))


async def answer(request: Request) -> Response:
    """Save an answer about one trait, or take it away."""
    desk, data = desk_of(request), await json_body(request)
    node, reading = trait_of(desk, data.get("node")), reading_of(data.get("reading"))
    part = str(data.get("part", ""))[:40]

    def make(draft: Draft, now: datetime) -> Changed:
        return change(draft, node, reading, now, part=part), node

    return await saved(request, data, make, _show(data))


def _show(data: dict[str, Any]) -> Show | None:
    """Return what gives the opinion with the news, where the page says about what it asks."""
    return beside(data["about"]) if "about" in data else None


async def step_back(request: Request) -> Response:
    """Undo the last step."""
    data = await json_body(request)
    return await saved(request, data, undo, _show(data))


async def step_forth(request: Request) -> Response:
    """Redo the step that was last undone."""
    data = await json_body(request)
    return await saved(request, data, redo, _show(data))


async def others(request: Request) -> Response:
    """Return the readings of other pieces, to be confirmed one by one as the same here."""
    desk = desk_of(request)
    own = (await standing_of(request)).draft
    # A practice piece shows its opinion: that of a piece whose readings are open would leak by it.
    found = await (
        desk.work(open_pieces, desk) if own.practice else desk.work(drafts.read_all, desk.drafts)
    )
    told = [
        {
            "id": draft.id,
            "name": draft.piece.id + (" (practice)" if draft.practice else ""),
            "readings": {
                name: reading.model_dump(mode="json")
                for name, reading in draft.readings.items()
                if reading.is_finished
            },
        }
        for draft in found
        # Not of this piece by another examiner: two readings of one piece are to be two.
        if draft.readings and draft.id != own.id and draft.piece.id != own.piece.id
    ]
    return JSONResponse(told)


ROUTES = (
    Route("/piece/{draft:str}", examine),
    Route("/piece/{draft:str}/state", state),
    Route("/piece/{draft:str}/answer", answer, methods=["POST"]),
    Route("/piece/{draft:str}/undo", step_back, methods=["POST"]),
    Route("/piece/{draft:str}/redo", step_forth, methods=["POST"]),
    Route("/piece/{draft:str}/others", others),
)
