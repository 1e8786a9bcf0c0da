"""How good the model is on pieces of known truth: the figures of `claywit evaluate`, with plots."""

from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.web import Refused, body, desk_of, json_body, page
from claywit.certificate.canonical import read_canonical
from claywit.certificate.outcome import Refused as NoCertificate
from claywit.errors import CasesError, CertificateError
from claywit.model.jsontext import read_json
from claywit.records.disk import read_whole, write_bytes
from claywit.report.digest import digest
from claywit.report.evaluated import Evaluation
from claywit.report.evaluated_page import evaluation_values

MOST = 3_000_000  # bytes of a file of figures
NO_FIGURES = (
    "this is no evaluation; load the file that `claywit evaluate MODEL CASES --figures FILE` writes"
)


async def evaluation(request: Request) -> Response:
    """Show the figures that were loaded, if there are any."""
    desk = desk_of(request)
    found, problem = None, ""
    try:
        found = await desk.work(_kept, desk)
    except CasesError as wrong:
        problem = desk.said(wrong)
    return page(
        request,
        "evaluation.html.j2",
        problem=problem,
        other_model=found is not None and found.model.digest != digest(desk.model),
        **(evaluation_values(found) if found else {"found": None}),
    )


def _kept_at(desk: Desk) -> Path:
    return desk.drafts / "evaluation.figures"


def _kept(desk: Desk) -> Evaluation | None:
    path = _kept_at(desk)
    return _read(read_whole(path, MOST)) if path.exists() else None


def _read(text: bytes) -> Evaluation:
    try:
        # Not `model_validate_json`: it takes five hundred bytes for an empty list.
        return Evaluation.model_validate(read_json(text.decode("utf-8")))
    except (ValueError, RecursionError):
        raise CasesError(NO_FIGURES) from None


def figures_of(desk: Desk) -> dict[str, Any] | None:
    """Return the figures of a test of the model on the bench, as they were loaded; None of another.

    Raises:
        CertificateError: they are not in the one form that can be signed.
    """
    path = _kept_at(desk)
    if not path.exists():
        return None
    try:
        found = read_canonical(read_whole(path, MOST), "file of figures")
    except NoCertificate as wrong:
        raise CertificateError(f"the figures on the page Evaluation: {wrong}") from None
    tested = found.get("model") if isinstance(found, dict) else None
    own = isinstance(tested, dict) and tested.get("digest") == digest(desk.model)
    return found if own else None


async def forget(request: Request) -> Response:
    """Take the figures off the bench."""
    desk = desk_of(request)
    await json_body(request)
    await desk.work(_kept_at(desk).unlink, missing_ok=True)
    return JSONResponse({"go": "/evaluation"})


async def load(request: Request) -> Response:
    """Keep a file of figures, in place of the one before."""
    desk = desk_of(request)
    async with desk.uploads:
        text = await body(request, MOST)
        if not text.strip():
            raise Refused(422, "Choose a file of figures.")
        await desk.work(_load, desk, text)
    return JSONResponse({"go": "/evaluation"})


def _load(desk: Desk, text: bytes) -> None:
    evaluation_values(_read(text))  # what cannot be drawn is refused before it is kept
    drafts.own(desk.drafts)
    write_bytes(_kept_at(desk), text)


ROUTES = (
    Route("/evaluation", evaluation),
    Route("/evaluation", load, methods=["POST"]),
    Route("/evaluation/forget", forget, methods=["POST"]),
)
