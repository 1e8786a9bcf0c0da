"""Taking a certificate back: the signed, dated list that whoever checks one asks for."""

from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.asked import text_of
from claywit.bench.desk import Desk
from claywit.bench.pages.certificate import Kept, certificates_of
from claywit.bench.signing import key_of, keys_told
from claywit.bench.standing import open_up, opened
from claywit.bench.web import Refused, attached, body, desk_of, json_body, page, studied
from claywit.certificate.identity import time_of
from claywit.certificate.outcome import Refused as NoList
from claywit.certificate.status import Entry, StatusList
from claywit.certificate.verify import read_status
from claywit.errors import CertificateError
from claywit.records import issued
from claywit.records.disk import read_whole, write_bytes

MOST = 3_000_000  # bytes of a status list
LACKS = (
    "The list here holds entries that this one lacks, or in another order; nothing was replaced."
)
LIST = "the list"  # as an error names the file, whatever folder it lies in


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
        entries=await desk.work(_entries, desk, one),
    )


def _one(kept: tuple[Kept, ...], digest: str) -> Kept:
    for one in kept:
        if one.digest == digest:
            return one
    raise Refused(404, "The casebook keeps no such certificate of this piece.")


def _path(desk: Desk, one: Kept) -> Path:
    """Return where the list of a certificate's signer lies: beside the drafts, by its key."""
    return desk.drafts / f"{one.certificate.issuer.rpartition(':')[2]}.status"


def _entries(desk: Desk, one: Kept) -> list[Entry] | None:
    """Return what is listed so far of the signer's certificates; None where there is no list."""
    held = _list(desk, one)
    return None if held is None else list(held.credentialSubject.status.entries)


def _list(desk: Desk, one: Kept) -> StatusList | None:
    path = _path(desk, one)
    return _read(read_whole(path, MOST)) if path.exists() else None


def _read(text: bytes) -> StatusList:
    try:
        return read_status(text)
    except NoList as refused:
        raise CertificateError(f"{LIST}: {refused.failure.sentence}") from None


async def take_back(request: Request) -> Response:
    """Add a certificate to the list of what its signer took back, or only date the list anew."""
    desk, data = desk_of(request), await json_body(request)
    name, digest = request.path_params["draft"], request.path_params["digest"]
    await studied(request, _take_back, desk, name, (digest, data))
    return JSONResponse({"go": _address(name, digest)})


def _address(name: str, digest: str) -> str:
    return f"/piece/{name}/certificate/{digest}/revoke"


def _take_back(desk: Desk, name: str, said: tuple[str, dict[str, Any]]) -> bool:
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
    path = _path(desk, one)
    drafts.own(desk.drafts)
    try:
        issued.extend_status(path, None if data.get("renew") else entry, signer, now)
    except CertificateError as wrong:
        raise CertificateError(str(wrong).replace(str(path), LIST)) from None
    return True


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
    brought = _read(text)
    if brought.issuer != one.certificate.issuer:
        raise Refused(422, "This is the list of another signer.")
    drafts.own(desk.drafts)
    with desk.changing():  # or what is taken back meanwhile would be lost
        _refuse_shorter(_list(desk, one), brought)
        write_bytes(_path(desk, one), text)


def _refuse_shorter(held: StatusList | None, brought: StatusList) -> None:
    """Refuse a list that does not go on from the one here, as whoever kept that one would."""
    if held is None:
        return
    entries = held.credentialSubject.status.entries
    if brought.credentialSubject.status.entries[: len(entries)] != entries:
        raise Refused(422, LACKS)
    if brought.validFrom < held.validFrom:
        raise Refused(422, f"The list here is the newer one, of {held.validFrom}.")


async def hand_out(request: Request) -> Response:
    """Return the list as a file, to be published."""
    desk, piece = desk_of(request), await opened(request)
    one = _one(await desk.work(certificates_of, desk, piece), request.path_params["digest"])
    path = _path(desk, one)
    if not path.exists():
        raise Refused(404, "Nothing was taken back yet, so there is no list.")
    return attached(await desk.work(read_whole, path, MOST), "status.json", "application/json")


ROUTES = (
    Route("/piece/{draft:str}/certificate/{digest:str}/revoke", revoking),
    Route("/piece/{draft:str}/certificate/{digest:str}/revoke", take_back, methods=["POST"]),
    Route("/piece/{draft:str}/certificate/{digest:str}/status", bring, methods=["POST"]),
    Route("/piece/{draft:str}/certificate/{digest:str}/status.json", hand_out),
)
