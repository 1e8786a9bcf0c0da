"""Checking a certificate: who signed it, what was changed, whether its numbers follow."""

import base64
import re
from datetime import UTC, date, datetime, time
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import MOST_YAML, text_of
from claywit.bench.desk import Desk
from claywit.bench.pages.certificate import certificate_text
from claywit.bench.web import Refused, attached, body, desk_of, json_object, judged, page, studied
from claywit.certificate.check import Against
from claywit.certificate.check import verify as check
from claywit.certificate.standing import Lists
from claywit.certificate.verify import Verdict, as_data
from claywit.model.schema import Model
from claywit.model.soundness import read_with_lines
from claywit.records import keys

REMEMBERED = 8  # verdicts
MOST = 8_000_000  # bytes of all files in base64, which are held several times over
MODEL = "the model you expect"
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
        text = _bytes(data.get("certificate"))
        if not text:
            raise Refused(422, "Choose the file of a certificate, or paste its text.")
        against = await studied(request, _against, data)
        verdict = await judged(request, _checked, text, against, now=desk.now())
    return JSONResponse({"go": f"/verify/{_remember(desk, verdict)}"})


def _checked(_: Model, text: bytes, against: Against, *, now: datetime) -> Verdict:
    return check(text, against, now=now)


def _against(data: dict[str, Any]) -> Against:
    return Against(
        signer=_key(text_of(data, "signer")) or _key_in(_bytes(data.get("signer_file"))),
        status=_lists(data),
        model=_model(_bytes(data.get("model"))),
        page=_bytes(data.get("page")),
        recompute=data.get("recompute") is not False,
    )


def _key(text: str) -> str | None:
    """Return a public key that was typed; never a file, which a path would name."""
    if not text.strip():
        return None
    if not text.strip().startswith(keys.BEGINS):
        raise Refused(422, "A public key begins with did:key:z6Mk….")
    return keys.public_said(text)


def _key_in(held: bytes | None) -> str | None:
    if held is None:
        return None
    text = held[:2000].decode("ascii", "replace")
    return keys.public_said(text, "the file of the key")


def _lists(data: dict[str, Any]) -> Lists:
    today, kept = _bytes(data.get("status")), _bytes(data.get("status_kept"))
    since = text_of(data, "since").strip()
    if today is None and (kept is not None or since):
        raise Refused(422, "A list from before, or a day, is held against the list of today.")
    try:
        day = date.fromisoformat(since) if since else None
    except ValueError:
        raise Refused(422, f"{since[:40]}: no day; write it as 2026-01-30.") from None
    return Lists(today, kept, datetime.combine(day, time(), UTC) if day else None)


def _model(text: bytes | None) -> Model | None:
    if text is None:
        return None
    if len(text) > MOST_YAML:
        raise Refused(422, f"{MODEL}: {len(text):,} bytes; at most {MOST_YAML:,} are read here.")
    return read_with_lines(text, MODEL)[0]


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


def _remembered(request: Request) -> Verdict:
    found = desk_of(request).verdicts.get(request.path_params["verdict"])
    if found is None:
        raise Refused(404, "That verdict is no longer at hand; check the certificate again.")
    return found


async def verdict(request: Request) -> Response:
    """Show a verdict of a moment ago."""
    return _shown(request, _remembered(request), request.path_params["verdict"])


async def saved(request: Request) -> Response:
    """Return a verdict of a moment ago as data, each failure with its code."""
    text = as_data(_remembered(request))
    return attached(text.encode(), "verdict.json", "application/json")


async def check_kept(request: Request) -> Response:
    """Check a certificate that the casebook keeps."""
    desk = desk_of(request)
    names = request.path_params
    text = await desk.work(certificate_text, desk, names["draft"], names["digest"])
    found = await judged(request, _checked, text, Against(), now=desk.now())
    return _shown(request, found, _remember(desk, found))


def _shown(request: Request, found: Verdict, name: str) -> Response:
    value = found.certificate
    return page(
        request,
        "verdict.html.j2",
        verdict=found,
        name=name,
        marks=MARKS,
        plainly=_plainly,
        trace=value.trace if value else None,
        says=value.trace.report["statement"][0] if value else "",
        value=value,
    )


def _plainly(sentence: str) -> str:
    return FLAG.sub("", sentence).replace("give it with --model", "give it as the model you expect")


ROUTES = (
    Route("/verify", form),
    Route("/verify", check_one, methods=["POST"]),
    Route("/verify/{verdict:str}.json", saved),
    Route("/verify/{verdict:str}", verdict),
    Route("/piece/{draft:str}/certificate/{digest:str}/check", check_kept),
)
