"""The first page: the pieces on the bench, a new piece, a practice piece."""

from typing import Any

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.asked import MOST_YAML, refused
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.laying import answers
from claywit.bench.standing import blind, stand
from claywit.bench.web import Refused, body, desk_of, json_body, page, studied
from claywit.evidence.binding import bind
from claywit.evidence.written import ObjectId, read_evidence
from claywit.records import opening
from claywit.records.case import read_case, read_cases
from claywit.records.telling import CaseTold, told

BLIND = (
    "Somebody reads this piece on this bench: laid here as well, it would show the opinion on it."
    " Lock the readings first."
)
BESIDE = (
    "piece",
    "examiner",
    "question",
    "propositions",
    "engagement",
    "priors",
    "sequence",
    "notes",
)


async def front(request: Request) -> Response:
    """Show the pieces on the bench, and those in the casebook."""
    desk = desk_of(request)
    found, cases, locked = await desk.work(_on_the_bench, desk)
    return page(request, "front.html.j2", drafts=found, cases=cases, locked=locked)


def _on_the_bench(desk: Desk) -> tuple[list[Draft], list[CaseTold], set[str]]:
    """Return what lies on the bench, the cases, and the drafts whose readings are locked."""
    with opening.opened(desk.casebook) as store, store.reading():
        held = {case.opened.piece.id: case for case in read_cases(store)}
    found = [draft for draft in drafts.read_all(desk.drafts) if draft.model == desk.model.name]
    locked = {
        draft.id
        for draft in found
        if not draft.practice
        and (case := held.get(draft.piece.id))
        and case.examination(draft.examiner)
    }
    return found, [told(case) for case in held.values()], locked


async def begin(request: Request) -> Response:
    """Begin the examination of a case, or go on with it."""
    desk, data = desk_of(request), await json_body(request)
    case, examiner = str(data.get("case") or ""), str(data.get("examiner") or "").strip()
    if not examiner:
        raise Refused(422, "Say who examines the piece.")
    draft = await desk.work(_begin, desk, case, examiner)
    return JSONResponse({"go": f"/piece/{draft}"})


def _begin(desk: Desk, case: str, examiner: str) -> str:
    with desk.changing():  # or two clicks could begin two drafts of one examination
        return _begin_alone(desk, case, examiner)


def _begin_alone(desk: Desk, case: str, examiner: str) -> str:
    for held in drafts.read_all(desk.drafts):
        if not held.practice and (held.piece.id, held.examiner) == (case, examiner):
            return held.id
    with opening.opened(desk.casebook) as store, store.reading():
        found = read_case(store, case)
        locked = found.examination(examiner)
        written = store.get(locked[1].evidence) if locked else None
    own = {"piece": found.opened.piece, "examiner": examiner}
    if written is None:
        return _new(desk, own)
    # Locked by another program, or in a casebook that was moved here without its drafts.
    return _new(desk, {**_laid(desk, written, "the locked readings"), **own})


async def practise(request: Request) -> Response:
    """Begin a practice piece, whose opinion shows at once, and which is never certified."""
    desk, data = desk_of(request), await json_body(request)
    try:
        piece = ObjectId(id=str(data.get("piece") or "practice"), type="practice piece")
    except ValidationError as wrong:
        raise refused(wrong) from None
    draft = await desk.work(_new, desk, {"piece": piece, "practice": True})
    return JSONResponse({"go": f"/piece/{draft}"})


async def lay(request: Request) -> Response:
    """Lay an evidence file on the bench, as a piece to practise on: it was read elsewhere."""
    desk = desk_of(request)
    async with desk.uploads:
        text = await body(request, MOST_YAML)
        if not text.strip():
            raise Refused(422, "Choose an evidence file.")
        draft = await studied(request, _lay, desk, text)
    return JSONResponse({"go": f"/piece/{draft}"})


def _lay(desk: Desk, text: bytes) -> str:
    said = _laid(desk, text, "the evidence file")
    with opening.opened(desk.casebook) as store, store.reading():
        hidden = blind(desk, read_cases(store))
    if said["piece"].id in hidden:
        raise Refused(403, BLIND)
    return _new(desk, {**said, "practice": True})


def _laid(desk: Desk, text: bytes, name: str) -> dict[str, Any]:
    """Return what an evidence file says, as a draft holds it.

    Raises:
        EvidenceError: it does not fit the model on the bench.
    """
    evidence, document = read_evidence(text, name)
    bind(evidence, desk.model, document.place)
    said = {part: getattr(evidence, part) for part in BESIDE}
    try:
        return {**said, "readings": answers(evidence, desk.model)}
    except ValidationError as wrong:
        raise refused(wrong) from None


async def remove(request: Request) -> Response:
    """Take a practice piece off the bench, or one of which nothing was read yet."""
    desk = desk_of(request)
    await json_body(request)
    await desk.work(_remove, desk, request.path_params["draft"])
    return JSONResponse({"go": "/"})


def _remove(desk: Desk, name: str) -> None:
    with desk.changing():
        standing = stand(desk, name)
        is_unread = standing.locked is None and not standing.draft.readings
        if not (standing.draft.practice or is_unread):
            raise Refused(422, "Only a practice piece is removed; what was examined stays.")
        drafts.remove(desk.drafts, name)


def _new(desk: Desk, said: dict[str, Any]) -> str:
    try:
        draft = Draft(
            id=drafts.new_id(desk.rng),
            model=desk.model.name,
            saved=desk.now().isoformat(timespec="seconds"),
            **said,
        )
    except ValidationError as wrong:
        raise refused(wrong) from None
    drafts.create(desk.drafts, draft)
    return draft.id


ROUTES = (
    Route("/", front),
    Route("/begin", begin, methods=["POST"]),
    Route("/practise", practise, methods=["POST"]),
    Route("/lay", lay, methods=["POST"]),
    Route("/piece/{draft:str}/remove", remove, methods=["POST"]),
)
