"""The first page: the pieces on the bench, a new piece, a practice piece."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.draft import Draft
from claywit.bench.web import desk_of, json_body, page
from claywit.evidence.written import ObjectId


async def front(request: Request) -> Response:
    """Show the pieces on the bench."""
    desk = desk_of(request)
    found = await desk.work(drafts.read_all, desk.drafts)
    return page(request, "front.html.j2", drafts=found)


async def practise(request: Request) -> Response:
    """Begin a practice piece, whose opinion shows at once, and which is never certified."""
    desk = desk_of(request)
    data = await json_body(request)
    piece = ObjectId(id=str(data.get("piece") or "practice")[:80], type="practice piece")
    draft = Draft(
        id=drafts.new_id(desk.rng),
        practice=True,
        piece=piece,
        examiner=str(data.get("examiner", ""))[:200],
        saved=desk.now().isoformat(timespec="seconds"),
    )
    await desk.work(drafts.create, desk.drafts, draft)
    return JSONResponse({"go": f"/piece/{draft.id}"})


ROUTES = (Route("/", front), Route("/practise", practise, methods=["POST"]))
