"""Locking the readings of a case, amending them, and breaking the seal on story and price."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.assessment import glance
from claywit.bench import drafts
from claywit.bench.asked import reading_of, trait_of, version_of
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft, amended
from claywit.bench.lacking import lack_said
from claywit.bench.opining import keep_opinion
from claywit.bench.standing import Standing, stand
from claywit.bench.web import Refused, desk_of, json_body
from claywit.bench.weighing import evidence_file, in_words_of, weighable
from claywit.certificate.issue import missing_from_evidence
from claywit.errors import EvidenceError
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records import casebook, opening
from claywit.records.store import Store
from claywit.records.telling import told

PRACTICE = "A practice piece is never locked: its opinion was seen while it was read."
STALE = "This piece was changed in another tab. Load the page again before you lock it."

Amending = Callable[[Draft, datetime], Draft]
NOT_LOCKED = "Nothing is locked yet; change the answer itself."
ELSEWHERE = (
    "The casebook holds other readings of this piece than this page shows: another program changed"
    " them. Change them with an evidence file, on the page of the case in the casebook."
)


async def lock(request: Request) -> Response:
    """Lock the readings of a case, and keep the opinion on them."""
    desk, data = desk_of(request), await json_body(request)
    name = request.path_params["draft"]
    told = await desk.work(_lock, desk, name, version_of(data))
    await keep_opinion(desk, name)
    return JSONResponse(told)


def _lock(desk: Desk, name: str, version: int) -> dict[str, Any]:
    with desk.changing():
        return _lock_alone(desk, name, version)


def _lock_alone(desk: Desk, name: str, version: int) -> dict[str, Any]:
    draft = _current(desk, name, version).draft
    written = evidence_file(draft, desk.model)
    # What cannot stand together is said before it is locked, while it can still be put right.
    glance(desk.model, weighable(draft, desk.model).examined, desk.standards.scale)
    with opening.opened(desk.casebook, write=True) as store:
        case = draft.piece.id
        entry = casebook.lock(store, case, written, desk.now(), name=f"readings of {case}")
    return {"locked": entry.time}


async def lacks(request: Request) -> Response:
    """Say by name what a certificate would lack if the readings were locked as they are."""
    desk = desk_of(request)
    return JSONResponse({"lacks": await desk.work(_lacks, desk, request.path_params["draft"])})


def _lacks(desk: Desk, name: str) -> list[str]:
    examined = weighable(stand(desk, name).draft, desk.model).examined
    missing = missing_from_evidence(desk.model, examined, desk.now())
    said = [(lack, lack_said(desk.model, lack)[0]) for lack in missing]
    return [f"the ± of {named}" if lack.startswith("findings.") else named for lack, named in said]


async def amend(request: Request) -> Response:
    """Change one locked reading, with the reason; the old one stays in the casebook."""
    desk, data = desk_of(request), await json_body(request)
    node, reading = trait_of(desk, data.get("node")), reading_of(data.get("reading"))
    reason = str(data.get("reason") or "").strip()
    if not reason:
        raise Refused(422, "Say why the reading changes.")
    name = request.path_params["draft"]
    why = f"{desk.model.node(node).title}: {reason}"

    def make(draft: Draft, now: datetime) -> Draft:
        return amended(draft, node, reading, now)

    return JSONResponse(await put_right(desk, name, version_of(data), (make, why)))


async def put_right(
    desk: Desk, name: str, version: int | None, changed: tuple[Amending, str]
) -> dict[str, Any]:
    """Change what is locked, of whatever *version* where none was seen, and say why.

    Raises:
        Refused: it cannot be changed so.
        ClaywitError: the readings could then not be weighed.
    """
    told = await desk.work(_put_right, desk, name, version, changed)
    await keep_opinion(desk, name)
    return told


def _put_right(
    desk: Desk, name: str, version: int | None, changed: tuple[Amending, str]
) -> dict[str, Any]:
    make, why = changed
    with desk.changing():
        standing = _current(desk, name, version)
        draft = make(standing.draft, desk.now())
        written = evidence_file(draft, desk.model)
        glance(desk.model, weighable(draft, desk.model).examined, desk.standards.scale)
        with opening.opened(desk.casebook, write=True) as store:
            at = _amend_log(desk, store, standing, (written, why))
            try:
                drafts.save(desk.drafts, draft)
            except drafts.Stale:
                raise Refused(409, STALE) from None
    return {"amended": at, "version": draft.version}


def _amend_log(desk: Desk, store: Store, standing: Standing, said: tuple[bytes, str]) -> str:
    """Add the amendment to the log, and return its time; of one trait, and of no other.

    Where it is there already, an earlier try ended before the draft was saved.

    Raises:
        Refused: nothing is locked, or the page shows other readings than those that are locked.
    """
    written, why = said
    case = standing.draft.piece.id
    if standing.locked is None:
        raise Refused(422, NOT_LOCKED)
    step, record = standing.locked
    before = store.get(record.evidence)
    held = _said(desk, before)
    if held != _said_by(desk, standing):
        if held != _said(desk, written):
            raise Refused(409, ELSEWHERE)
        return step.time
    written = in_words_of(before, written, desk.model)
    entry = casebook.amend(store, case, written, why, desk.now(), name=f"readings of {case}")
    return entry.time


def _said_by(desk: Desk, standing: Standing) -> tuple[object, ...] | None:
    """Return what the page says; None where that could not even be locked."""
    try:
        return _said(desk, evidence_file(standing.draft, desk.model))
    except EvidenceError:
        return None


def _said(desk: Desk, written: bytes) -> tuple[object, ...]:
    """Return what an evidence file means, however it is written; the piece may be taken in anew."""
    evidence, document = read_evidence(written, "readings")
    bound = bind(evidence, desk.model, document.place)
    beside = evidence.propositions, evidence.engagement, evidence.sequence, evidence.notes
    left = bound.not_applicable, bound.not_examined
    return (*left, bound.findings, bound.question, bound.priors, evidence.examiner, *beside)


def _current(desk: Desk, name: str, version: int | None) -> Standing:
    standing = stand(desk, name)
    if standing.draft.practice:
        raise Refused(422, PRACTICE)
    if version not in (None, standing.draft.version):
        raise Refused(409, STALE)
    return standing


async def unmask(request: Request) -> Response:
    """Break the seal on story and price of a case whose readings are locked."""
    desk = desk_of(request)
    await json_body(request)
    stories = await desk.work(_unmask, desk, request.path_params["draft"])
    return JSONResponse({"stories": stories})


def _unmask(desk: Desk, name: str) -> list[tuple[str, str]]:
    standing = stand(desk, name)
    if standing.locked is None:
        raise Refused(403, "Story and price are shown once the readings are locked.")
    with opening.opened(desk.casebook, write=True) as store:
        case, _ = casebook.unmask(store, standing.draft.piece.id, desk.now())
    return list(told(case).stories)


ROUTES = (
    Route("/piece/{draft:str}/lock", lock, methods=["POST"]),
    Route("/piece/{draft:str}/lacks", lacks),
    Route("/piece/{draft:str}/amend", amend, methods=["POST"]),
    Route("/piece/{draft:str}/unmask", unmask, methods=["POST"]),
)
