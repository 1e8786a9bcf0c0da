"""The whole report of a piece, its stories, its evidence file: what `claywit assess` says of it."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.choices import pair, picked
from claywit.bench.desk import Desk
from claywit.bench.pages.opinion import whole
from claywit.bench.standing import Opened, open_up, opened, refuse_read_by_another, stand
from claywit.bench.web import Refused, attached, desk_of, json_body, judged, page, studied
from claywit.bench.weighing import evidence_file
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.evidence.findings import Finding
from claywit.model.schema import Model, Node
from claywit.records import opening
from claywit.records.opinions import Asked, opine
from claywit.report.digest import digest
from claywit.report.page import page as report_page
from claywit.report.page import report_values
from claywit.report.report import Report
from claywit.report.told import StoriesAnswer, story_said

STORIES = (5, 10, 20, 50)


async def report(request: Request) -> Response:
    """Show the whole report."""
    found, piece = await _report(request)
    values = report_values(found)
    return page(
        request,
        "report.html.j2",
        draft=piece.draft,
        query=str(request.query_params),
        on_these=pair(picked(desk_of(request).model, request.query_params))[0] is not None,
        can_keep=not piece.draft.practice,
        problems=[desk_of(request).model.node(name).title for name in _left_out(request, piece)],
        **values,
    )


def _left_out(request: Request, piece: Opened) -> list[str]:
    return [name for name in piece.problems if name in desk_of(request).model.by_name]


async def _report(request: Request) -> tuple[Report, Opened]:
    desk, piece = desk_of(request), await opened(request)
    question = request.query_params.get("q") or None
    chosen = pair(picked(desk.model, request.query_params))
    if chosen[0] is None:
        return await whole(request, piece.examined, question), piece
    # On two propositions that were chosen here, not stated with the readings.
    asked, named = assessment.ask(desk.model, piece.examined, question, *chosen)
    key = "these", digest(asked.evidence), question, *chosen
    found = desk.remembered(key)
    if found is None:
        found = await judged(request, assessment.assess, asked, desk.standards, named=named)
        desk.remember(key, found)
    return found, piece


async def saved_report(request: Request) -> Response:
    """Return the whole report as a page that needs nothing beside it."""
    found, _ = await _report(request)
    return attached(report_page(found).encode(), f"report-{found.evidence.piece}.html", "text/html")


async def saved_data(request: Request) -> Response:
    """Return the whole report as data."""
    found, _ = await _report(request)
    name = f"report-{found.evidence.piece}.json"
    return attached(
        found.model_dump_json(by_alias=True, indent=2).encode(), name, "application/json"
    )


async def keep(request: Request) -> Response:
    """Keep the opinion on the question that the report is about, in the casebook."""
    desk, name = desk_of(request), request.path_params["draft"]
    await json_body(request)
    question = request.query_params.get("q") or None
    chosen = pair(picked(desk.model, request.query_params))
    case = await studied(request, _keep, desk, name, (question, *chosen))
    return JSONResponse({"go": f"/casebook/case/{case}", "said": "The opinion is kept."})


def _keep(desk: Desk, name: str, wanted: tuple[str | None, ...]) -> str:
    draft = open_up(desk, name).draft
    if draft.practice:
        raise Refused(422, "The opinion on a practice piece is not kept.")
    question, for_, against = wanted
    asked = Asked(question, for_, against, draft.examiner)
    with desk.opining, opening.opened(desk.casebook, write=True) as store:
        opine(store, draft.piece.id, desk.model, desk.standards, desk.now(), asked=asked)
    return draft.piece.id


async def saved_evidence(request: Request) -> Response:
    """Return the evidence file of the piece: as it was locked, else as it stands."""
    desk = desk_of(request)
    text, piece = await desk.work(_evidence, desk, request.path_params["draft"])
    return attached(text, f"{piece}.yaml", "application/yaml")


def _evidence(desk: Desk, name: str) -> tuple[bytes, str]:
    standing = stand(desk, name)
    piece = standing.draft.piece.id
    refuse_read_by_another(desk, standing)
    if standing.locked is None:
        return evidence_file(standing.draft, desk.model), piece
    with opening.opened(desk.casebook) as store, store.reading():
        return store.get(standing.locked[1].evidence), piece


async def stories(request: Request) -> Response:
    """Show the likeliest whole stories of the piece."""
    desk, piece = desk_of(request), await opened(request)
    about = tuple(request.query_params.getlist("about"))[:20]
    if any(name not in desk.model.by_name for name in about):
        raise Refused(404, "The model has no such node.")
    typed = request.query_params.get("best", "")
    best = next((count for count in STORIES if str(count) == typed), STORIES[0])
    found: StoriesAnswer | None = None
    problem = ""
    try:
        found = await judged(request, _told, piece.examined, about, best)
    except ClaywitError as wrong:
        problem = desk.said(wrong)
    return page(
        request,
        "stories.html.j2",
        draft=piece.draft,
        found=found,
        problem=problem,
        counts=STORIES,
        best=best,
        about=about or tuple(found.stories.best[0].states if found else desk.model.targets),
        nodes=_hidden(desk.model, piece.examined.findings),
        said=story_said,
    )


def _told(model: Model, examined: Examined, about: tuple[str, ...], best: int) -> StoriesAnswer:
    return assessment.tell_stories(model, examined, about=about, best=best)


def _hidden(model: Model, findings: tuple[Finding, ...]) -> list[Node]:
    """Return what a story can be about: whatever is not observed, and cannot be looked at."""
    seen = {finding.node for finding in findings}
    return [n for n in model.nodes if n.states and not n.is_trait and n.name not in seen]


ROUTES = (
    Route("/piece/{draft:str}/report", report),
    Route("/piece/{draft:str}/report", keep, methods=["POST"]),
    Route("/piece/{draft:str}/report.html", saved_report),
    Route("/piece/{draft:str}/report.json", saved_data),
    Route("/piece/{draft:str}/evidence.yaml", saved_evidence),
    Route("/piece/{draft:str}/stories", stories),
)
