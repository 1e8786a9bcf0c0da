"""A dispute: what the other side holds beside one's own readings, and the joint statement."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench import drafts
from claywit.bench.asked import text_of
from claywit.bench.choices import choices, pair, picked
from claywit.bench.desk import Desk
from claywit.bench.otherside import MOST, NAMES, Brought, brought, refuse_unreadable, sides
from claywit.bench.standing import Opened, open_up, opened
from claywit.bench.web import Refused, attached, body, desk_of, json_body, judged, page, studied
from claywit.errors import ClaywitError
from claywit.evidence.written import Evidence
from claywit.model.schema import Model
from claywit.model.values import number
from claywit.reasoning.policy import Policy
from claywit.records.disk import write_bytes
from claywit.report.joint import Joint
from claywit.report.joint_page import joint_page, joint_values

EVEN = 0.5  # the weight of one's own opinion in the pools


async def dispute(request: Request) -> Response:
    """Show the joint statement of both sides, once there is another side."""
    desk, piece = desk_of(request), await opened(request)
    parts = await desk.work(brought, desk, piece.draft.id)
    found, problem = None, ""
    if parts:
        try:
            found = await _joined(request, piece, parts)
        except (ClaywitError, Refused) as wrong:
            problem = desk.said(wrong) if isinstance(wrong, ClaywitError) else str(wrong)
    asked = picked(desk.model, request.query_params)
    return page(
        request,
        "dispute.html.j2",
        draft=piece.draft,
        problem=problem,
        there=[(part, name) for part, name in NAMES.items() if part in parts],
        weight=request.query_params.get("weight", f"{EVEN:g}"),
        question=found.question if found else request.query_params.get("q", ""),
        choices=list(choices(desk.model, asked, {f.node for f in piece.examined.findings})),
        query=str(request.query_params),
        found=found,
        **(joint_values(found) if found else {}),
    )


async def saved(request: Request) -> Response:
    """Return the joint statement as a page that needs nothing beside it."""
    desk, piece = desk_of(request), await opened(request)
    found = await _joined(request, piece, await desk.work(brought, desk, piece.draft.id))
    name = f"joint-{found.piece}.html"
    return attached(joint_page(found).encode(), name, "text/html; charset=utf-8")


async def _joined(request: Request, piece: Opened, parts: Brought) -> Joint:
    if not parts:
        raise Refused(404, "Nothing of the other side is here; load it first.")
    desk, said = desk_of(request), request.query_params
    asked = said.get("q") or None, *pair(picked(desk.model, said))
    wanted = asked, _weight(said.get("weight", ""))
    policy = desk.standards.policy
    return await judged(request, _join, piece.examined.evidence, dict(parts), policy, wanted)


def _join(
    model: Model,
    evidence: Evidence,
    parts: Brought,
    policy: Policy,
    wanted: tuple[tuple[str | None, str | None, str | None], float],
) -> Joint:
    asked, weight = wanted
    return assessment.joint(*sides(model, evidence, parts), policy, asked=asked, weight=weight)


def _weight(typed: str) -> float:
    try:
        return number(typed.strip()) if typed.strip() else EVEN
    except ValueError:
        raise Refused(422, "A weight is a number between 0 and 1, as 0.5.") from None


async def load(request: Request) -> Response:
    """Keep something of the other side beside the draft, if it can be read."""
    desk, name = desk_of(request), request.path_params["draft"]
    part = _part(request.query_params.get("part", "theirs"))
    async with desk.uploads:
        text = await body(request, MOST[part])
        if not text.strip():
            raise Refused(422, f"Choose {NAMES[part]}.")
        await studied(request, _load, desk, name, part, text)
    return JSONResponse({"go": f"/piece/{name}/dispute"})


def _part(typed: str) -> str:
    if typed not in NAMES:
        raise Refused(422, "There is no such part of the other side.")
    return typed


def _load(desk: Desk, name: str, part: str, text: bytes) -> None:
    piece = open_up(desk, name)
    refuse_unreadable(desk, part, text)
    write_bytes(drafts.beside(desk.drafts, piece.draft.id, part), text)


async def forget(request: Request) -> Response:
    """Take a part of the other side off the bench."""
    desk, name = desk_of(request), request.path_params["draft"]
    part = _part(text_of(await json_body(request), "part") or "theirs")
    piece = await desk.work(open_up, desk, name)
    drafts.beside(desk.drafts, piece.draft.id, part).unlink(missing_ok=True)
    return JSONResponse({"go": f"/piece/{name}/dispute"})


ROUTES = (
    Route("/piece/{draft:str}/dispute", dispute),
    Route("/piece/{draft:str}/dispute.html", saved),
    Route("/piece/{draft:str}/dispute", load, methods=["POST"]),
    Route("/piece/{draft:str}/dispute/forget", forget, methods=["POST"]),
)
