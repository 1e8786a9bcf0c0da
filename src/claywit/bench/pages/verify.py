"""Checking a certificate: who signed it, what was changed, whether its numbers follow."""

import base64
import re

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.desk import Desk
from claywit.bench.pages.certificate import certificate_text
from claywit.bench.web import Refused, body, desk_of, json_object, page, studied
from claywit.certificate.check import Against
from claywit.certificate.check import verify as check
from claywit.certificate.standing import Lists
from claywit.certificate.verify import Verdict
from claywit.records import keys

REMEMBERED = 8  # verdicts
MOST = 8_000_000  # bytes of a certificate and a status list in base64; held several times over
FLAG = re.compile(r" \(--[a-z-]+\)")  # what only a command line understands
MARKS = {"passed": ("✓", "yes"), "failed": ("✕", "no"), "not checked": ("?", "not checked")}


async def form(request: Request) -> Response:
    """Ask for a certificate to check."""
    return page(request, "verify.html.j2")


async def check_one(request: Request) -> Response:
    """Check the certificate that was brought, and go to the verdict."""
    desk = desk_of(request)
    async with desk.uploads:  # till it is checked: those that wait are not held in memory
        data = json_object(await body(request, MOST))
        against = Against(
            signer=_key(str(data.get("signer") or "").strip()),
            status=Lists(today=_bytes(data.get("status"))),
            recompute=data.get("recompute") is not False,
        )
        text = _bytes(data.get("certificate"))
        if not text:
            raise Refused(422, "Choose the file of a certificate, or paste its text.")
        verdict = await studied(request, check, text, against, now=desk.now())
    return JSONResponse({"go": f"/verify/{_remember(desk, verdict)}"})


def _key(text: str) -> str | None:
    """Return a public key that was typed; never a file, which a path would name."""
    if not text:
        return None
    if not text.startswith(("did:key:z", "z6Mk")):
        raise Refused(422, "A public key begins with did:key:z6Mk….")
    return keys.read_public(text)


def _bytes(text: object) -> bytes | None:
    try:
        return base64.b64decode(text, validate=True) if isinstance(text, str) and text else None
    except ValueError:
        raise Refused(400, "The file did not arrive whole.") from None


def _remember(desk: Desk, verdict: Verdict) -> str:
    name = desk.rng.randbytes(8).hex()
    desk.verdicts[name] = verdict
    while len(desk.verdicts) > REMEMBERED:
        desk.verdicts.popitem(last=False)
    return name


async def verdict(request: Request) -> Response:
    """Show a verdict of a moment ago."""
    found = desk_of(request).verdicts.get(request.path_params["verdict"])
    if found is None:
        raise Refused(404, "That verdict is no longer at hand; check the certificate again.")
    return _shown(request, found)


async def check_kept(request: Request) -> Response:
    """Check a certificate that the casebook keeps."""
    desk = desk_of(request)
    names = request.path_params
    text = await desk.work(certificate_text, desk, names["draft"], names["digest"])
    return _shown(request, await studied(request, check, text, Against(), now=desk.now()))


def _shown(request: Request, found: Verdict) -> Response:
    value = found.certificate
    return page(
        request,
        "verdict.html.j2",
        verdict=found,
        marks=MARKS,
        plainly=lambda sentence: FLAG.sub("", sentence),
        trace=value.trace if value else None,
        says=value.trace.report["statement"][0] if value else "",
        value=value,
    )


ROUTES = (
    Route("/verify", form),
    Route("/verify", check_one, methods=["POST"]),
    Route("/verify/{verdict:str}", verdict),
    Route("/piece/{draft:str}/certificate/{digest:str}/check", check_kept),
)
