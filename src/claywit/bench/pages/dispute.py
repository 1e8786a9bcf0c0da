"""A dispute: the other side's file beside one's own readings, and the joint statement of both."""

from pathlib import Path

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.pages.front import MOST_YAML
from claywit.bench.standing import Opened, open_up, opened
from claywit.bench.web import Refused, body, desk_of, json_body, page, studied
from claywit.certificate.outcome import Refused as NoCertificate
from claywit.certificate.verify import read_certificate
from claywit.errors import ClaywitError, EvidenceError
from claywit.evidence.parties import Party
from claywit.evidence.written import Evidence, read_evidence
from claywit.model.schema import Model
from claywit.model.soundness import problems, read_data
from claywit.records.disk import read_whole, write_bytes
from claywit.report.digest import digest
from claywit.report.joint import Joint
from claywit.report.joint_page import joint_values

THEIRS = "the other side's file"
MOST = 6_000_000  # bytes of it
WEIGHTS = (0.25, 0.5, 0.75)


async def dispute(request: Request) -> Response:
    """Show the joint statement of both sides, once the other side's file is there."""
    desk, piece = desk_of(request), await opened(request)
    weight = _weight(request.query_params.get("weight"))
    path = _kept_at(desk, piece.draft.id)
    found, problem = None, ""
    if path.exists():
        try:
            found = await studied(request, _join, desk, piece, weight)
        except ClaywitError as wrong:
            problem = desk.said(wrong)
    return page(
        request,
        "dispute.html.j2",
        draft=piece.draft,
        problem=problem,
        there=path.exists(),
        weight=weight,
        weights=WEIGHTS,
        found=found,
        **(joint_values(found) if found else {}),
    )


def _weight(text: str | None) -> float:
    return next((weight for weight in WEIGHTS if f"{weight:g}" == text), 0.5)


def _kept_at(desk: Desk, draft: str) -> Path:
    """Return where the other side's file lies; the draft was read, so its name is sound."""
    return drafts.beside(desk.drafts, draft)


def _join(desk: Desk, piece: Opened, weight: float) -> Joint:
    own = piece.examined.evidence
    one = Party(own, lambda _: "your readings", desk.model)
    text = read_whole(_kept_at(desk, piece.draft.id), MOST)
    return assessment.joint(one, _party(text, desk.model), desk.standards.policy, weight=weight)


def _party(text: bytes, own: Model) -> Party:
    """Return the other side: an evidence file, or a certificate with the model it carries.

    Raises:
        EvidenceError: it is neither.
    """
    if text.lstrip()[:1] != b"{":
        if len(text) > MOST_YAML:
            raise EvidenceError(
                f"{THEIRS}: {len(text):,} bytes; an evidence file has at most {MOST_YAML:,} here"
            )
        evidence, document = read_evidence(text, THEIRS)
        return Party(evidence, document.place, own)
    try:
        trace = read_certificate(text).trace
        evidence = Evidence.model_validate(trace.evidence.source)
        model = own if trace.model.digest == digest(own) else _model(trace.model.source)
    except NoCertificate as wrong:
        raise EvidenceError(f"{THEIRS}: {wrong}") from None
    except (ValidationError, RecursionError):
        raise EvidenceError(f"{THEIRS}: what the certificate carries is not readable") from None
    return Party(evidence, lambda _: "the certificate", model)


def _model(source: object) -> Model:
    """Return the model that a certificate carries, sound or not at all."""
    if source is None:
        raise EvidenceError(f"{THEIRS}: it names another model and does not carry it")
    model = read_data(source, f"{THEIRS}: the model it carries")
    fault = next(problems(model), None)
    if fault:
        raise EvidenceError(f"{THEIRS}: the model it carries is not sound: {fault.text}")
    return model


async def load(request: Request) -> Response:
    """Keep the other side's file beside the draft, if it can be joined."""
    desk, name = desk_of(request), request.path_params["draft"]
    async with desk.uploads:
        text = await body(request, MOST)
        if not text.strip():
            raise Refused(422, "Choose the other side's file.")
        await studied(request, _load, desk, name, text)
    return JSONResponse({"go": f"/piece/{name}/dispute"})


def _load(desk: Desk, name: str, text: bytes) -> bool:
    piece = open_up(desk, name)
    _party(text, desk.model)
    write_bytes(_kept_at(desk, piece.draft.id), text)
    return True


async def forget(request: Request) -> Response:
    """Take the other side's file off the bench."""
    desk, name = desk_of(request), request.path_params["draft"]
    await json_body(request)
    piece = await desk.work(open_up, desk, name)
    _kept_at(desk, piece.draft.id).unlink(missing_ok=True)
    return JSONResponse({"go": f"/piece/{name}/dispute"})


ROUTES = (
    Route("/piece/{draft:str}/dispute", dispute),
    Route("/piece/{draft:str}/dispute", load, methods=["POST"]),
    Route("/piece/{draft:str}/dispute/forget", forget, methods=["POST"]),
)
