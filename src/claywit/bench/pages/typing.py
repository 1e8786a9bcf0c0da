"""What is typed into a form and not sent yet: kept as it is typed, given back to its form."""

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import typed
from claywit.bench.asked import refused
from claywit.bench.desk import Desk
from claywit.bench.standing import Standing, blind, stand
from claywit.bench.typed import Change
from claywit.bench.web import Refused, desk_of, json_body
from claywit.records import opening
from claywit.records.case import case_names, read_case

AMEND = "amend"  # the form of amendments, which holds readings
CASE = "case/"  # how the forms on a case of the casebook are called
SEALED = (
    "What was typed here before and not sent is hidden while readings of this piece are open on"
    " the bench."
)


async def give(request: Request) -> Response:
    """Return what was typed into one form, by field."""
    desk, of = desk_of(request), request.path_params.get("draft")
    form = request.query_params.get("form", "")
    hidden = await desk.work(_hidden, desk, of, form)
    if hidden:
        return JSONResponse({"fields": {}, "hidden": hidden})
    found = await desk.work(typed.read, desk.drafts, of)
    return JSONResponse({"fields": found.forms.get(form, {})})


def _hidden(desk: Desk, of: str | None, form: str) -> str:
    """Return why what was typed into a form is not shown; nothing where it may be.

    Whoever reads a piece sees no reading that somebody else was about to amend, and nothing that
    somebody was about to write of its story.
    """
    if of is not None:
        return SEALED if form == AMEND and _is_read_by_another(desk, stand(desk, of)) else ""
    if not form.startswith(CASE):
        return ""
    name = form.removeprefix(CASE).partition("/")[0]
    with opening.opened(desk.casebook) as store, store.reading():
        case = read_case(store, name) if name in case_names(store) else None
    return SEALED if case and blind(desk, [case]) else ""


def _is_read_by_another(desk: Desk, standing: Standing) -> bool:
    case = standing.case
    return case is not None and standing.locked is not None and bool(blind(desk, [case]))


async def keep(request: Request) -> Response:
    """Keep what changed in one form."""
    desk, of = desk_of(request), request.path_params.get("draft")
    try:
        change = Change.model_validate(await json_body(request))
    except ValidationError as wrong:
        raise refused(wrong) from None
    await desk.save(_keep, desk, of, change)
    return JSONResponse({})


def _keep(desk: Desk, of: str | None, change: Change) -> None:
    with desk.changing():
        if of is not None:
            stand(desk, of)
        hidden = _hidden(desk, of, change.form)
        if hidden:  # what is typed over it, or sent, is not told by whoever typed it
            raise Refused(422, hidden)
        typed.keep(desk.drafts, of, change)


ROUTES = (
    Route("/typed", give),
    Route("/typed", keep, methods=["POST"]),
    Route("/piece/{draft:str}/typed", give),
    Route("/piece/{draft:str}/typed", keep, methods=["POST"]),
)
