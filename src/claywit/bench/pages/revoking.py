"""Taking a certificate back: the signed, dated list that whoever checks one asks for."""

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import text_of
from claywit.bench.desk import Desk
from claywit.bench.listing import MOST, entries_of, extend, replace_list, text_of_list
from claywit.bench.pages.certificate import Kept, certificates_of
from claywit.bench.signing import key_of, keys_told
from claywit.bench.standing import open_up, opened
from claywit.bench.web import Refused, attached, body, desk_of, json_body, page, studied
from claywit.certificate.identity import time_of
from claywit.certificate.status import Entry


async def revoking(request: Request) -> Response:
    """Show a certificate of the piece, and what was taken back of it so far."""
    desk, piece = desk_of(request), await opened(request)
    kept = await desk.work(certificates_of, desk, piece)
    one = _one(kept, request.path_params["digest"])
    keys = [key for key in keys_told() if key.public == one.certificate.issuer]
    return page(
        request,
        "revoke.html.j2",
        draft=piece.draft,
        one=one,
        later=[other for other in kept if other.at > one.at],
        keys=keys,
        entries=await desk.work(entries_of, desk, one.certificate.issuer),
    )


def _one(kept: tuple[Kept, ...], digest: str) -> Kept:
    for one in kept:
        if one.digest == digest:
            return one
    raise Refused(404, "The casebook keeps no such certificate of this piece.")


async def take_back(request: Request) -> Response:
    """Add a certificate to the list of what its signer took back, or only date the list anew."""
    desk, data = desk_of(request), await json_body(request)
    name, digest = request.path_params["draft"], request.path_params["digest"]
    await studied(request, _take_back, desk, name, (digest, data))
    return JSONResponse({"go": _address(name, digest)})


def _address(name: str, digest: str) -> str:
    return f"/piece/{name}/certificate/{digest}/revoke"


def _take_back(desk: Desk, name: str, said: tuple[str, dict[str, Any]]) -> None:
    digest, data = said
    kept = certificates_of(desk, open_up(desk, name))
    one, now = _one(kept, digest), desk.now()
    signer = key_of(text_of(data, "key"), text_of(data, "passphrase"))
    if signer.did != one.certificate.issuer:
        raise Refused(422, "Another key signed this certificate; only that one can take it back.")
    later = text_of(data, "by")
    by = _one(kept, later).certificate.id if later else None
    entry = Entry(
        certificate=one.certificate.id,
        state="superseded" if by else "revoked",
        at=time_of(now),
        reason=text_of(data, "reason").strip()[:1000],
        by=by,
    )
    extend(desk, signer, *([] if data.get("renew") else [entry]))


async def bring(request: Request) -> Response:
    """Take the list that was kept elsewhere so far, in place of the one here."""
    desk, name = desk_of(request), request.path_params["draft"]
    digest = request.path_params["digest"]
    async with desk.uploads:
        text = await body(request, MOST)
        await desk.work(_bring, desk, name, digest, text)
    return JSONResponse({"go": _address(name, digest)})


def _bring(desk: Desk, name: str, digest: str, text: bytes) -> None:
    one = _one(certificates_of(desk, open_up(desk, name)), digest)
    replace_list(desk, one.certificate.issuer, text)


async def hand_out(request: Request) -> Response:
    """Return the list as a file, to be published."""
    desk, piece = desk_of(request), await opened(request)
    one = _one(await desk.work(certificates_of, desk, piece), request.path_params["digest"])
    text = await desk.work(text_of_list, desk, one.certificate.issuer)
    return attached(text, "status.json", "application/json")


ROUTES = (
    Route("/piece/{draft:str}/certificate/{digest:str}/revoke", revoking),
    Route("/piece/{draft:str}/certificate/{digest:str}/revoke", take_back, methods=["POST"]),
    Route("/piece/{draft:str}/certificate/{digest:str}/status", bring, methods=["POST"]),
    Route("/piece/{draft:str}/certificate/{digest:str}/status.json", hand_out),
)
