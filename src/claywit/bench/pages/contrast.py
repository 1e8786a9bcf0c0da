"""Two attributions side by side: what is weighed against what is chosen with plain controls."""

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.choices import SIDES, choices, meant, pair, picked
from claywit.bench.desk import Desk
from claywit.bench.standing import Opened, opened
from claywit.bench.web import attached, desk_of, judged, page
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.model.schema import Model
from claywit.report.contrast import Contrast
from claywit.report.page import contrast_page, contrast_values
from claywit.report.scale import Scale


async def contrast(request: Request) -> Response:
    """Show what each of two attributions says of every finding, and what would turn the order."""
    desk, piece = desk_of(request), await opened(request)
    asked = picked(desk.model, request.query_params)
    found: Contrast | None = None
    problem = ""
    try:
        found = await judged(request, _compare, piece.examined, asked, desk.standards.scale)
    except ClaywitError as wrong:
        problem = desk.said(wrong)
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
        chosen=_query(desk, asked),
        found=found,
        **(contrast_values(found) if found else {}),
    )


async def saved(request: Request) -> Response:
    """Return both side by side as a page that needs nothing beside it."""
    desk, piece = desk_of(request), await opened(request)
    asked = picked(desk.model, request.query_params)
    found = await judged(request, _compare, piece.examined, asked, desk.standards.scale)
    name = f"contrast-{piece.draft.piece.id}.html"
    return attached(contrast_page(found).encode(), name, "text/html; charset=utf-8")


def _compare(model: Model, examined: Examined, asked: dict[str, str], scale: Scale) -> Contrast:
    question, named = assessment.ask(model, examined, None, *pair(asked))
    return assessment.compare(model, question, scale, named=named)


def _read(piece: Opened) -> set[str]:
    return {finding.node for finding in piece.examined.findings}


def _swapped(desk: Desk, asked: dict[str, str]) -> str:
    """Return the query that puts each side in the other's place."""
    return _query(desk, dict(zip(SIDES, reversed(asked.values()), strict=True)))


def _query(desk: Desk, asked: dict[str, str]) -> str:
    held = {side: meant(desk.model, text) for side, text in asked.items()}
    return urlencode({f"{s}.{n}": vs for s, ns in held.items() for n, vs in ns.items()}, doseq=True)


ROUTES = (
    Route("/piece/{draft:str}/contrast", contrast),
    Route("/piece/{draft:str}/contrast.html", saved),
)
