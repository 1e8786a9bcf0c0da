"""Taking a piece in: the intake form of a new case, and that of a case that is corrected."""

from typing import Any

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import refused, text_of
from claywit.bench.desk import Desk
from claywit.bench.standing import refuse_unknown
from claywit.bench.web import Refused, desk_of, json_body, page
from claywit.errors import CasebookError
from claywit.records import casebook, opening
from claywit.records.case import Case, read_case
from claywit.records.intake import DEFERENCE, NEEDED, OBJECT_FIELDS, QUESTIONS, Intake
from claywit.records.kept import Opened

STALE = (
    "This intake was corrected meanwhile, in another tab or by another program; nothing was"
    " recorded. Open its form again, in another tab, to see how it stands, and correct that one."
)


async def form(request: Request) -> Response:
    """Show an empty intake form."""
    return _form_of(request, None)


async def filled(request: Request) -> Response:
    """Show the intake form of a case as it was filled in, to be corrected."""
    desk = desk_of(request)
    return _form_of(request, await desk.work(_case, desk, request.path_params["case"]))


def _form_of(request: Request, case: Case | None) -> Response:
    return page(
        request,
        "intake.html.j2",
        fields=OBJECT_FIELDS,
        needed=NEEDED,
        questions=QUESTIONS,
        deference=DEFERENCE,
        case=case,
        piece=case.opened.piece if case else None,
        asked=case.opened.checklist if case else None,
        seen=_version(case) if case else "",
    )


def _case(desk: Desk, name: str) -> Case:
    with opening.opened(desk.casebook) as store, store.reading():
        refuse_unknown(store, name)
        return read_case(store, name)


async def intake(request: Request) -> Response:
    """Open a case for a piece, with its story and price sealed."""
    desk, data = desk_of(request), await json_body(request)
    found = _intake(data)
    await desk.work(_take_in, desk, found)
    return JSONResponse({"go": "/#examiner", "said": f"{found.piece.id} is taken in."})


async def revise(request: Request) -> Response:
    """Record the intake of a case anew, with the reason; what was recorded before stays."""
    desk, name = desk_of(request), request.path_params["case"]
    data = await json_body(request)
    reason = text_of(data, "reason").strip()
    if not reason:
        raise Refused(422, "Say why the intake is corrected.")
    case = await desk.work(_case, desk, name)
    form = _intake({**data, "id": name}, case)
    await desk.work(_revise, desk, form, (text_of(data, "seen"), reason))
    return JSONResponse({"go": f"/casebook/case/{name}", "said": "The correction is recorded."})


def _intake(data: dict[str, Any], case: Case | None = None) -> Intake:
    try:
        return Intake.model_validate(_form(data, case))
    except ValidationError as wrong:
        raise refused(wrong) from None


def _form(data: dict[str, Any], case: Case | None) -> dict[str, Any]:
    # What no field of the page shows stays as it was.
    held = case.opened.piece.model_dump(mode="json") if case else {}
    texts = {name: str(data.get(name) or "").strip() for name in ("id", *OBJECT_FIELDS)}
    answers = {
        name: {
            "answer": str(data.get(name) or "not_asked"),
            "note": str(data.get(f"{name}_note") or ""),
        }
        for name in QUESTIONS
    }
    return {
        "format": "claywit-intake/1",
        "piece": held | texts,
        "checklist": answers,
        "sealed": {name: str(data.get(name) or "").strip() for name in ("story", "price")},
    }


def _take_in(desk: Desk, found: Intake) -> None:
    try:
        with opening.opened(desk.casebook, write=True) as store:
            casebook.intake(store, found, desk.now(), desk.rng)
    except CasebookError as wrong:
        said = str(wrong).replace("with --revise", "on its own page of the casebook")
        raise CasebookError(said) from None


def _revise(desk: Desk, found: Intake, said: tuple[str, str]) -> None:
    seen, reason = said
    with desk.changing(), opening.opened(desk.casebook, write=True) as store:
        with store.reading():
            now = _version(read_case(store, found.piece.id))
        if seen != now:
            raise Refused(409, STALE)
        casebook.revise(store, found, reason, desk.now(), desk.rng)


def _version(case: Case) -> str:
    """Return what tells the intake as it holds from one that was corrected since."""
    return case.of(Opened)[-1][0].digest


ROUTES = (
    Route("/intake", form),
    Route("/intake", intake, methods=["POST"]),
    Route("/casebook/case/{case:str}/intake", filled),
    Route("/casebook/case/{case:str}/intake", revise, methods=["POST"]),
)
