"""A case handed on as one bundle, brought in from one, and its kept opinions formed again."""

import io

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.desk import Desk
from claywit.bench.pages.casebook import HIDDEN
from claywit.bench.standing import blind, refuse_unknown
from claywit.bench.web import Refused, attached, body, desk_of, page, studied
from claywit.errors import CasebookError
from claywit.records import bundle, opening
from claywit.records.case import Case, read_case
from claywit.records.replaying import Replayed, replay_all
from claywit.records.store import Store

MOST = 24_000_000  # bytes of a bundle that a page takes, and of a part of it once unpacked


def shown_case(desk: Desk, store: Store, name: str) -> Case:
    """Return a case, all of which may be shown.

    Raises:
        Refused: there is none, or somebody still reads the piece on this bench.
    """
    with store.reading():
        refuse_unknown(store, name)
        case = read_case(store, name)
    if blind(desk, [case]):
        raise Refused(403, f"{name}: opinion and story are {HIDDEN}.")
    return case


async def hand_on(request: Request) -> Response:
    """Return a whole case as one bundle; story and price stay unless asked for."""
    desk, name = desk_of(request), request.path_params["case"]
    is_sealed = request.query_params.get("sealed") == "yes"
    content = await studied(request, _bundle, desk, name, is_sealed=is_sealed)
    return attached(content, f"{name}.zip", "application/zip")


def _bundle(desk: Desk, name: str, *, is_sealed: bool) -> bytes:
    with opening.opened(desk.casebook) as store:
        case = shown_case(desk, store, name)
        if is_sealed and not case.unmasked_at:
            raise Refused(403, "Story and price are handed on once their seal is broken here.")
        return bundle.export(store, case.id, desk.now(), sealed=is_sealed)


async def bring_in(request: Request) -> Response:
    """Add a case from a bundle, all of it or nothing."""
    desk = desk_of(request)
    async with desk.uploads:
        content = await body(request, MOST)
        if not content:
            raise Refused(422, "Choose a bundle.")
        name = request.query_params.get("as") or None
        case = await studied(request, _bring_in, desk, content, name)
    return JSONResponse({"go": f"/casebook/case/{case}"})


def _bring_in(desk: Desk, content: bytes, name: str | None) -> str:
    brought = bundle.unpack(io.BytesIO(content), "the bundle", most=MOST)
    try:
        with opening.opened(desk.casebook, write=True) as store:
            return bundle.bring_in(store, brought, desk.now(), name=name).case
    except CasebookError as wrong:
        raise CasebookError(str(wrong).replace(" with --as", " in the field below")) from None


async def replay(request: Request) -> Response:
    """Form the kept opinions of a case again, and compare the numbers."""
    desk, name = desk_of(request), request.path_params["case"]
    found = await studied(request, _replay, desk, name)
    return page(request, "replay.html.j2", case=name, found=found, left=[])


def _replay(desk: Desk, name: str) -> list[Replayed]:
    with opening.opened(desk.casebook) as store:
        return replay_all(store, [shown_case(desk, store, name).id])


ROUTES = (
    Route("/casebook/import", bring_in, methods=["POST"]),
    Route("/casebook/case/{case:str}/bundle", hand_on),
    Route("/casebook/case/{case:str}/replay", replay),
)
