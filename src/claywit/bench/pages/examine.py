"""The examiner's page: the traits in the order of work, and an answer for each."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.web import desk_of, page


async def examine(request: Request) -> Response:
    """Show the traits of a piece, with what was answered so far."""
    desk = desk_of(request)
    draft = await desk.work(drafts.read, desk.drafts, request.path_params["draft"])
    return page(request, "examine.html.j2", draft=draft)


ROUTES = (Route("/piece/{draft:str}", examine),)
