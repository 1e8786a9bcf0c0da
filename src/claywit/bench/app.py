"""The pages of the bench put together, behind the guard."""

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from claywit.bench.desk import Desk
from claywit.bench.guard import Guard, Pass
from claywit.bench.pages import (
    adding,
    casebook,
    certificate,
    contrast,
    dispute,
    evaluation,
    examine,
    front,
    handing,
    intake,
    keeping,
    keys,
    locking,
    looks,
    model,
    moulds,
    opinion,
    overlay,
    photographs,
    report,
    revoking,
    terms,
    triage,
    typing,
    verify,
)
from claywit.bench.web import HERE, Refused, answered
from claywit.errors import ClaywitError

PAGES = (
    *(front, intake, examine, terms, opinion, looks, locking, photographs),
    *(report, contrast, dispute, certificate, verify, model, casebook, triage),
    *(keeping, keys, revoking, moulds, overlay, evaluation, handing, adding, typing),
)


def make_app(desk: Desk, held: Pass) -> Guard:
    """Return the bench as an ASGI application that lets in only what *held* knows."""
    routes = [route for module in PAGES for route in module.ROUTES]
    app = Starlette(
        routes=[*routes, Mount("/static", StaticFiles(directory=HERE / "static"), name="static")],
        exception_handlers={
            ClaywitError: answered,
            Refused: answered,
            HTTPException: _not_here,
            Exception: _our_fault,
        },
    )
    app.state.desk = desk
    return Guard(app, held)


def _not_here(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    text = "There is no such page." if status == 404 else "The page does not take this request."
    return answered(request, Refused(status, text))


def _our_fault(request: Request, error: Exception) -> Response:
    """Say that it is our fault; the terminal shows the traceback, a page never does."""
    del request, error
    return PlainTextResponse(
        "Something went wrong in claywit itself. What was saved before is still there; the terminal"
        " says more.\n",
        500,
    )
