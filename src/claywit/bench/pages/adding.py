"""What is added to a case that is there, and one thing of it fetched as a file."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.assessment import glance
from claywit.bench import drafts
from claywit.bench.asked import MOST_YAML, text_of
from claywit.bench.desk import Desk
from claywit.bench.pages.handing import shown_case
from claywit.bench.pages.photographs import MAX_UPLOAD, shown
from claywit.bench.web import Refused, attached, body, desk_of, json_body, studied
from claywit.evidence.binding import bind
from claywit.evidence.written import Evidence, read_evidence
from claywit.records import casebook, opening
from claywit.records.case import read_case
from claywit.records.opinions import Asked, opine
from claywit.records.telling import may_leave

READINGS = "the evidence file"
ON_THE_BENCH = (
    "These readings are open on the bench, by the same examiner. Lock them there, or change them"
    " there once they are locked."
)
KINDS = {"photograph": "image", "evidence": "yaml"}  # else it is JSON


def _case(request: Request) -> str:
    return str(request.path_params["case"])


def _back(request: Request, said: str) -> Response:
    return JSONResponse({"go": f"/casebook/case/{_case(request)}", "said": said})


async def seal(request: Request) -> Response:
    """Add a story to what is kept from the examiner."""
    desk, data = desk_of(request), await json_body(request)
    await desk.work(_seal, desk, _case(request), text_of(data, "story").strip())
    return _back(request, "It is sealed.")


def _seal(desk: Desk, case: str, story: str) -> None:
    with opening.opened(desk.casebook, write=True) as store:
        casebook.seal(store, case, story, desk.now(), desk.rng)


async def photograph(request: Request) -> Response:
    """Add a photograph of the whole piece, with its view, and the scale in it."""
    desk, said = desk_of(request), request.query_params
    view = said.get("view", "").strip()[:120]
    shot = casebook.Shot(view, said.get("scale", "").strip()[:200] or "none")
    async with desk.uploads:
        content = await body(request, MAX_UPLOAD)
        await desk.work(_photograph, desk, _case(request), shot, content)
    return _back(request, "The photograph is kept.")


def _photograph(desk: Desk, case: str, shot: casebook.Shot, content: bytes) -> None:
    shown(content)  # what cannot be decoded is refused before anything is kept
    with opening.opened(desk.casebook, write=True) as store:
        casebook.photograph(store, case, content, shot, desk.now(), name="the photograph")


async def keep(request: Request) -> Response:
    """Keep a certificate that was signed elsewhere, byte for byte."""
    desk = desk_of(request)
    async with desk.uploads:
        content = await body(request, casebook.MAX_CERTIFICATE)
        if not content:
            raise Refused(422, "Choose a certificate.")
        await studied(request, _keep, desk, _case(request), content)
    return _back(request, "The certificate is kept.")


def _keep(desk: Desk, case: str, content: bytes) -> None:
    with opening.opened(desk.casebook, write=True) as store:
        casebook.keep(store, case, content, desk.now(), name="the certificate")


async def readings(request: Request) -> Response:
    """Lock readings that were written elsewhere, or add them in place of the locked ones."""
    desk, reason = desk_of(request), request.query_params.get("reason", "").strip()[:2000]
    async with desk.uploads:
        written = await body(request, MOST_YAML)
        if not written.strip():
            raise Refused(422, "Choose an evidence file.")
        await studied(request, _readings, desk, _case(request), (written, reason))
    return _back(request, "The readings are locked, and an opinion on them is kept.")


def _readings(desk: Desk, case: str, said: tuple[bytes, str]) -> None:
    """Lock them, or amend what is locked, and keep the opinion on them."""
    written, reason = said
    evidence, document = read_evidence(written, READINGS)
    examined = bind(evidence, desk.model, document.place)
    glance(desk.model, examined, desk.standards.scale)  # or it would be locked, and not weighed
    with desk.changing(), opening.opened(desk.casebook, write=True) as store:
        _refuse_read_here(desk, case, evidence)
        with store.reading():
            found = read_case(store, case)
        if found.examination(evidence.examiner):
            if not reason:
                raise Refused(422, "Readings are locked already; say why they change.")
            casebook.amend(store, case, written, reason, desk.now(), name=READINGS)
        else:
            casebook.lock(store, case, written, desk.now(), name=READINGS)
    with desk.opining, opening.opened(desk.casebook, write=True) as store:
        if found.opened.checklist.provenance_contested.answer != "yes":
            asked = Asked(examiner=evidence.examiner)
            opine(store, case, desk.model, desk.standards, desk.now(), asked=asked)


def _refuse_read_here(desk: Desk, case: str, evidence: Evidence) -> None:
    """Refuse readings beside those that the same examiner enters on this bench."""
    for draft in drafts.read_all(desk.drafts):
        is_same = (draft.piece.id, draft.examiner) == (case, evidence.examiner)
        if is_same and draft.readings and not draft.practice:
            raise Refused(409, ON_THE_BENCH)


async def fetch(request: Request) -> Response:
    """Return one thing of a case as a file, where all of the case may be shown."""
    desk, digest = desk_of(request), request.path_params["digest"]
    content, what = await desk.work(_fetch, desk, _case(request), digest)
    kind = KINDS.get(what, "json")
    if kind == "image":
        raise Refused(404, "A photograph is shown on the page of its case.")
    return attached(content, f"{what}-{_case(request)}.{kind}", f"application/{kind}")


def _fetch(desk: Desk, case: str, digest: str) -> tuple[bytes, str]:
    with opening.opened(desk.casebook) as store:
        found = may_leave(shown_case(desk, store, case))
        if digest not in found:
            raise Refused(404, "The case holds no such thing.")
        with store.reading():
            return store.get(digest), found[digest]


ROUTES = (
    Route("/casebook/case/{case:str}/seal", seal, methods=["POST"]),
    Route("/casebook/case/{case:str}/photograph", photograph, methods=["POST"]),
    Route("/casebook/case/{case:str}/certificate", keep, methods=["POST"]),
    Route("/casebook/case/{case:str}/readings", readings, methods=["POST"]),
    Route("/casebook/case/{case:str}/fetch/{digest:str}", fetch),
)
