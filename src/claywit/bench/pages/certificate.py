"""A certificate of a piece: looked at before it is signed, signed, kept, handed out."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.desk import Desk
from claywit.bench.lacking import lack_said
from claywit.bench.listing import entries_of
from claywit.bench.pages.evaluation import figures_of
from claywit.bench.signing import KeyTold, key_of, keys_told
from claywit.bench.standing import Opened, open_up, opened, standing_of
from claywit.bench.web import Refused, attached, desk_of, json_body, judged, page, studied
from claywit.certificate.documents import documents
from claywit.certificate.face import face_of
from claywit.certificate.identity import end_of_day
from claywit.certificate.issue import (
    Issued,
    certify,
    missing_from_evidence,
    missing_from_report,
    missing_from_terms,
)
from claywit.certificate.outcome import Refused as NoCertificate
from claywit.certificate.schema import Certificate, Earlier, Log
from claywit.certificate.trace import Terms, opinion, trace
from claywit.certificate.verify import read_certificate
from claywit.errors import CertificateError, ClaywitError
from claywit.records import casebook, opening
from claywit.records.case import Case, read_case
from claywit.records.store import Store
from claywit.report.report import Report

CHANGED = (
    "The readings were amended since this page was loaded. Load it again, and look over what it"
    " would say now."
)
NO_PAGE = "The report in this certificate is none that a page can show; read the signed file."
PRACTICE = "A practice piece is never certified: its opinion was seen while it was read."
KINDS = {"json": "application/json", "html": "text/html; charset=utf-8", "pdf": "application/pdf"}
Kind = Literal["json", "html", "pdf"]


@dataclass(frozen=True)
class Kept:
    """A certificate that the casebook keeps: when, and what it says of itself."""

    at: str
    digest: str
    certificate: Certificate


@dataclass(frozen=True)
class Preview:
    """What would be signed, what is missing for it, and what was signed before."""

    lacks: tuple[tuple[str, str], ...]
    face: dict[str, Any] | None
    kept: tuple[Kept, ...]
    keys: tuple[KeyTold, ...]
    fell: dict[str, str]
    """What was said of a certificate that no longer stands, by its id."""


async def certificate(request: Request) -> Response:
    """Show what a certificate of the piece would say, and those that were issued."""
    desk = desk_of(request)
    standing = await standing_of(request)
    if standing.draft.practice:
        return page(request, "practice.html.j2", draft=standing.draft, text=PRACTICE)
    piece = await opened(request)
    lacks = await desk.work(_lacks, desk, piece)
    report = None if lacks else await _opinion(request, piece)
    found = await studied(request, _preview, desk, piece, lacks, report)
    shown = request.query_params.get("issued", "")
    return page(
        request,
        "certificate.html.j2",
        draft=piece.draft,
        lacks=found.lacks,
        face=found.face,
        kept=found.kept,
        keys=found.keys,
        fell=found.fell,
        looked_over=_locked(piece),
        issued=next((one for one in found.kept if one.digest == shown), None),
        **(found.face or {}),
        code="",
    )


def _lacks(desk: Desk, piece: Opened) -> list[str]:
    """Return what is missing before an opinion is formed."""
    now, terms = desk.now(), Terms(evaluation=figures_of(desk))
    lacks = [*missing_from_evidence(desk.model, piece.examined, now)]
    return [*lacks, *missing_from_terms(desk.model, terms, now)]


def _preview(desk: Desk, piece: Opened, lacks: list[str], report: Report | None) -> Preview:
    face = None
    if report:
        lacks = [*lacks, *missing_from_report(desk.model, report)]
        terms = Terms(evaluation=figures_of(desk))
        face = face_of(trace(desk.model, piece.examined, desk.standards, report, terms))
    kept = certificates_of(desk, piece)
    said = tuple(lack_said(desk.model, lack) for lack in lacks)
    return Preview(said, face, kept, keys_told(), fell=fell_of(desk, kept))


def fell_of(desk: Desk, kept: tuple[Kept, ...]) -> dict[str, str]:
    """Return what is said of the certificates that no longer stand, by their id."""
    fell: dict[str, str] = {}
    for one in kept:
        with suppress(ClaywitError):  # a list that cannot be read is named on the page of keys
            for entry in entries_of(desk, one.certificate.issuer) or ():
                if entry.certificate in {None, one.certificate.id}:
                    word = "taken back" if entry.state == "revoked" else "superseded"
                    fell[one.certificate.id] = word
    return fell


def certificates_of(desk: Desk, piece: Opened) -> tuple[Kept, ...]:
    """Return the certificates that the casebook keeps of a piece, the oldest first."""
    with opening.opened(desk.casebook) as store, store.reading():
        return tuple(kept_of(store, piece.standing.case))


def _locked(piece: Opened) -> str:
    """Return the digest of the readings that a certificate would rest on."""
    return piece.standing.locked[0].digest if piece.standing.locked else ""


async def _opinion(request: Request, piece: Opened) -> Report:
    desk, key = desk_of(request), ("certificate", piece.draft.id, _locked(piece))
    report = desk.remembered(key)
    if report is None:
        report = await judged(request, opinion, piece.examined, desk.standards)
        desk.remember(key, report)
    return report


def kept_of(store: Store, case: Case | None) -> Iterator[Kept]:
    """Yield the certificates that a casebook keeps of a case, the oldest first."""
    for step, one in case.certificates if case else ():
        with suppress(NoCertificate):  # of another make or version: the casebook names it still
            value = read_certificate(store.get(one.certificate))
            yield Kept(step.time, one.certificate, value)


async def issue(request: Request) -> Response:
    """Sign a certificate, and keep it in the casebook."""
    desk, data = desk_of(request), await json_body(request)
    name = request.path_params["draft"]
    digest = await studied(request, _issue, desk, name, data)
    return JSONResponse({"go": f"/piece/{name}/certificate?issued={digest}"})


def _issue(desk: Desk, name: str, data: dict[str, Any]) -> str:
    piece = open_up(desk, name)
    if piece.draft.practice:
        raise Refused(422, PRACTICE)
    if str(data.get("looked_over") or _locked(piece)) != _locked(piece):
        raise Refused(409, CHANGED)
    signer = key_of(str(data.get("key") or ""), str(data.get("passphrase") or ""))
    until = str(data.get("valid_until") or "").strip()
    with opening.opened(desk.casebook, write=True) as store:
        with store.reading():
            head = store.head()
            _refuse_amended(store, piece)
        terms = Terms(
            embed=not data.get("by_digest"),
            valid_until=end_of_day(until) if until else None,
            evaluation=figures_of(desk),
            supersedes=_earlier(store, piece.standing.case, str(data.get("supersedes") or "")),
            log=Log(head=head.hash, length=head.length),
        )
        made = _signed(desk, piece, signer=signer, terms=terms)
        with desk.changing():  # forming it took a while
            _refuse_amended(store, piece)
            case = piece.draft.piece.id
            casebook.keep(store, case, made.text, desk.now(), name="the certificate")
    return made.digest


def _refuse_amended(store: Store, piece: Opened) -> None:
    held = read_case(store, piece.draft.piece.id).examination(piece.draft.examiner)
    if held is None or held[0].digest != _locked(piece):
        raise Refused(409, CHANGED)


def _signed(desk: Desk, piece: Opened, **named: Any) -> Issued:
    try:
        return certify(desk.model, piece.examined, desk.standards, now=desk.now(), **named)
    except CertificateError as wrong:
        raise CertificateError("; ".join(wrong.details) or str(wrong)) from None


def _earlier(store: Store, case: Case | None, digest: str) -> Earlier | None:
    if not digest:
        return None
    for one in kept_of(store, case):
        if one.digest == digest:
            return Earlier(id=one.certificate.id, digest=digest)
    raise Refused(422, "The casebook keeps no such certificate of this piece.")


async def hand_out(request: Request) -> Response:
    """Return a certificate as a file: the signed one, or a copy to read on screen or paper."""
    desk = desk_of(request)
    digest, kind = request.path_params["digest"], request.path_params["kind"]
    if kind not in KINDS:
        raise Refused(404, "There is no such page.")
    content, name = await studied(
        request, _document, desk, request.path_params["draft"], digest, kind
    )
    return attached(content, f"certificate-{name}.{kind}", KINDS[kind])


def certificate_text(desk: Desk, draft: str, digest: str) -> bytes:
    """Return the signed file of a certificate of a piece.

    Raises:
        Refused: the casebook keeps none of that digest for the piece.
    """
    piece = open_up(desk, draft)
    with opening.opened(desk.casebook) as store, store.reading():
        held = piece.standing.case.certificates if piece.standing.case else []
        if not any(one.certificate == digest for _, one in held):
            raise Refused(404, "The casebook keeps no such certificate of this piece.")
        return store.get(digest)


def _document(desk: Desk, draft: str, digest: str, kind: Kind) -> tuple[bytes, str]:
    text = certificate_text(desk, draft, digest)
    try:
        value = read_certificate(text)
        name = value.id.rpartition(":")[2]
        if kind == "json":
            return text, name
        made = Issued(text, value.id, sha256(text).hexdigest(), value)
        pages = documents(made, html=kind == "html", pdf=kind == "pdf")
    except NoCertificate as wrong:
        raise CertificateError(f"the certificate cannot be read: {wrong}") from None
    except (ValidationError, LookupError, TypeError, AttributeError):
        # Signed by somebody who put into it what claywit never does.
        raise CertificateError(NO_PAGE) from None
    return (pages.html if kind == "html" else pages.pdf) or b"", name


ROUTES = (
    Route("/piece/{draft:str}/certificate", certificate),
    Route("/piece/{draft:str}/certificate", issue, methods=["POST"]),
    Route("/piece/{draft:str}/certificate/{digest:str}.{kind:str}", hand_out),
)
