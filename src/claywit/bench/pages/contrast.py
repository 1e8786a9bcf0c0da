"""Two attributions side by side: what is weighed against what is chosen with plain controls."""

from urllib.parse import urlencode

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.choices import choices, meant, typed
from claywit.bench.desk import Desk
from claywit.bench.standing import Opened, opened
from claywit.bench.web import Refused, desk_of, page, studied
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.report.contrast import Contrast
from claywit.report.page import contrast_values

SIDES = ("a", "b")


async def contrast(request: Request) -> Response:
    """Show what each of two attributions says of every finding, and what would turn the order."""
    desk, piece = desk_of(request), await opened(request)
    asked = {side: _asked(request.query_params, desk, side) for side in SIDES}
    found: Contrast | None = None
    problem = ""
    try:
        found = await studied(request, _compare, desk, piece.examined, asked)
    except (ClaywitError, Refused) as wrong:
        problem = desk.said(wrong) if isinstance(wrong, ClaywitError) else str(wrong)
    if found:
        said = found.explanation.for_, found.explanation.against
        asked = dict(zip(SIDES, said, strict=True))
    return page(
        request,
        "contrast.html.j2",
        draft=piece.draft,
        choices=list(choices(desk.model, asked, _read(piece))),
        problem=problem,
        swapped=_swapped(desk, asked),
        found=found,
        **(contrast_values(found) if found else {}),
    )


def _asked(query: QueryParams, desk: Desk, side: str) -> str:
    """Return the proposition that a side of the form chose, as it would be typed."""
    return typed({name: query.getlist(f"{side}.{name}") for name in desk.model.targets})


def _compare(desk: Desk, examined: Examined, asked: dict[str, str]) -> Contrast:
    for_, against = (asked[side] or None for side in SIDES)
    if (for_ is None) != (against is None):
        raise Refused(422, "Choose something on both sides; one alone has no weight.")
    question, named = assessment.ask(desk.model, examined, None, for_, against)
    return assessment.compare(desk.model, question, desk.standards.scale, named=named)


def _read(piece: Opened) -> set[str]:
    return {finding.node for finding in piece.examined.findings}


def _swapped(desk: Desk, asked: dict[str, str]) -> str:
    """Return the query that puts each side in the other's place."""
    one, other = (meant(desk.model, asked[side]) for side in SIDES)
    turned = (("a", other), ("b", one))
    return urlencode([(f"{s}.{n}", v) for s, held in turned for n, vs in held.items() for v in vs])


ROUTES = (Route("/piece/{draft:str}/contrast", contrast),)
