"""The keys that sign: their public halves, a new one, and the list of what each took back."""

from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import text_of
from claywit.bench.desk import Desk
from claywit.bench.listing import MOST, entries_of, extend, replace_list, text_of_list
from claywit.bench.signing import KeyTold, key_of, key_told, keys_told, made_key
from claywit.bench.web import Refused, attached, body, desk_of, json_body, page, studied
from claywit.certificate.identity import time_of
from claywit.certificate.proof import DID, Signer
from claywit.certificate.status import Entry
from claywit.errors import ClaywitError
from claywit.records import opening
from claywit.records.case import read_cases
from claywit.records.keys import public_pem
from claywit.records.standing import Fallen, fallen, to_list

SURE = "Say by the tick that all of this key is to be taken back; it cannot be undone."


@dataclass(frozen=True)
class Listed:
    """A key, what its list holds (None where there is none), what is to be listed; or a problem."""

    key: KeyTold
    entries: list[Entry] | None
    fallen: list[Fallen]
    problem: str = ""


async def all_keys(request: Request) -> Response:
    """Show the keys of this user, and the list of each."""
    return page(request, "keys.html.j2", found=await studied(request, _listed, desk_of(request)))


def _listed(desk: Desk) -> list[Listed]:
    return [_one(desk, key) for key in keys_told()]


def _one(desk: Desk, key: KeyTold) -> Listed:
    if key.wrong:
        return Listed(key, None, [], key.wrong)
    try:
        entries = entries_of(desk, key.public)
        named = {entry.certificate for entry in entries or ()}
        found = [one for one in _fallen(desk, key.public) if one.certificate not in named]
    except ClaywitError as wrong:
        return Listed(key, None, [], desk.said(wrong))
    return Listed(key, entries, found)


def _fallen(desk: Desk, issuer: str) -> list[Fallen]:
    with opening.opened(desk.casebook) as store, store.reading():
        return [one for case in read_cases(store) for one in fallen(store, case, issuer)]


async def new_key(request: Request) -> Response:
    """Make a key to sign with, guarded by a passphrase."""
    desk, data = desk_of(request), await json_body(request)
    passphrase = str(data.get("passphrase") or "")
    if passphrase != str(data.get("again") or ""):
        raise Refused(422, "The two passphrases differ; type both again.")
    made = await desk.work(made_key, str(data.get("name") or ""), passphrase)
    return JSONResponse({"said": f"The key is made. Its public half is {made}", "load": True})


async def public_half(request: Request) -> Response:
    """Return the public half of a key in PEM, as other programs take it."""
    key = await desk_of(request).work(key_told, request.path_params["key"])
    pem = public_pem(key.public.removeprefix(DID))
    return attached(pem.encode(), f"{key.name}.pem", "application/x-pem-file")


async def put_in_list(request: Request) -> Response:
    """Take all of a key back, list what was superseded, or only date its list anew."""
    desk, data = desk_of(request), await json_body(request)
    await studied(request, _put_in_list, desk, request.path_params["key"], data)
    return JSONResponse({"go": "/keys", "said": "The list is signed, and of today."})


def _put_in_list(desk: Desk, name: str, data: dict[str, Any]) -> None:
    what = text_of(data, "what")
    if what == "all" and not data.get("sure"):
        raise Refused(422, SURE)
    signer = key_of(name, text_of(data, "passphrase"))
    extend(desk, signer, *_entries(desk, signer, what, text_of(data, "reason").strip()))


def _entries(desk: Desk, signer: Signer, what: str, reason: str) -> list[Entry]:
    if what == "all":
        at = time_of(desk.now())
        return [Entry(certificate=None, state="revoked", at=at, reason=reason[:1000])]
    if what != "superseded":
        return []
    listed = {entry.certificate for entry in entries_of(desk, signer.did) or ()}
    return to_list(_fallen(desk, signer.did), listed, desk.now())


async def bring(request: Request) -> Response:
    """Take the list that was kept elsewhere so far, in place of the one here."""
    desk = desk_of(request)
    key = await desk.work(key_told, request.path_params["key"])
    async with desk.uploads:
        text = await body(request, MOST)
        await desk.work(replace_list, desk, key.public, text)
    return JSONResponse({"go": "/keys"})


async def hand_out(request: Request) -> Response:
    """Return the list of a key as a file, to be published."""
    desk = desk_of(request)
    key = await desk.work(key_told, request.path_params["key"])
    text = await desk.work(text_of_list, desk, key.public)
    return attached(text, "status.json", "application/json")


ROUTES = (
    Route("/keys", all_keys),
    Route("/keys", new_key, methods=["POST"]),
    Route("/keys/{key:str}/public.pem", public_half),
    Route("/keys/{key:str}/status.json", hand_out),
    Route("/keys/{key:str}/status", bring, methods=["POST"]),
    Route("/keys/{key:str}/list", put_in_list, methods=["POST"]),
)
