"""Who may ask the bench: this machine, this run, this page; and what an answer may never do.

The bench listens on loopback, where every page in every browser and every program of this machine
can knock. So each request must name the right host (against names that are pointed at loopback),
come from the bench's own page or from the address bar, and hold the secret of this run.
"""

import asyncio
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from hmac import compare_digest
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ROOM = 64  # requests that are answered at the same time; the others wait
START = "/start"
PAGE_KEY = "x-claywit-page"  # header of every request that changes something
READS = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types claywit"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), payment=()",
    "cache-control": "no-store",
}


def _secret() -> str:
    return secrets.token_urlsafe(32)


@dataclass(frozen=True)
class Pass:
    """What one run of the bench knows its own pages by.

    start: opens the bench, and stands in the address that is printed. once: opens it a single
    time, for the address a browser is started with, which every user of the machine can list.
    session: the cookie.
    page: stands in every page, and in a header of every request that changes something.
    """

    port: int
    start: str = field(default_factory=_secret, repr=False)
    once: str = field(default_factory=_secret, repr=False)
    session: str = field(default_factory=_secret, repr=False)
    page: str = field(default_factory=_secret, repr=False)

    @property
    def hosts(self) -> tuple[str, ...]:
        """Return the names under which the bench may be asked."""
        return tuple(f"{name}:{self.port}" for name in ("127.0.0.1", "[::1]", "localhost"))

    @property
    def cookie(self) -> str:
        """Return the name of the cookie; cookies of one host are shared by all its ports."""
        return f"claywit-{self.port}"

    @property
    def address(self) -> str:
        """Return the address that opens the bench."""
        return f"http://{self.hosts[0]}{START}?key={self.start}"

    @property
    def address_once(self) -> str:
        """Return the address that opens the bench a single time."""
        return f"http://{self.hosts[0]}{START}?key={self.once}"


def refusal(held: Pass, method: str, path: str, headers: Mapping[str, str]) -> str | None:
    """Return why a request is refused, or None where it may be answered.

    Args:
        held: the secrets of this run.
        method: GET, HEAD, POST.
        path: without the query.
        headers: by their lower-case names.
    """
    return next(_refusals(held, method, path, headers), None)


def _refusals(held: Pass, method: str, path: str, headers: Mapping[str, str]) -> Iterator[str]:
    host, origin = headers.get("host", ""), headers.get("origin")
    if host not in held.hosts:
        yield "this host name is not the bench's"
    if origin is not None and origin != f"http://{host}":
        yield "the request comes from another page"
    if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
        yield "the request comes from another site"
    if path == START:
        return
    if not _same(_session(held, headers), held.session):
        yield "open the bench with the address that `claywit bench` printed"
    if method in READS:
        return
    if origin is None:
        yield "the request does not say where it comes from"
    if not _same(headers.get(PAGE_KEY, ""), held.page):
        yield "the page is of an earlier run; load it again"


def _same(given: str, secret: str) -> bool:
    return compare_digest(given.encode(), secret.encode())


def _session(held: Pass, headers: Mapping[str, str]) -> str:
    # Not `http.cookies`: it reads none at all beside one that it does not like, and another
    # program on this host can set such a one.
    return cookie_parser(headers.get("cookie", "")).get(held.cookie, "")


class Guard:
    """The outermost layer: it refuses, and puts its headers on every answer."""

    def __init__(self, app: ASGIApp, held: Pass) -> None:
        """Stand before *app*."""
        self.app = app
        self.held = held
        self.room = asyncio.Semaphore(ROOM)
        self.is_unused = True  # the key for a single time

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        headers = Headers(scope=scope)
        twice = len(headers.getlist("host")) != 1
        why = "one host name is expected" if twice else None
        why = why or refusal(self.held, scope["method"], scope["path"], headers)
        if why:
            await PlainTextResponse(f"Refused: {why}.\n", 403)(scope, receive, guarded)
        elif scope["path"] == START:
            await self._start(scope)(scope, receive, guarded)
        else:
            async with self.room:
                await self.app(scope, receive, guarded)

    def _start(self, scope: Scope) -> Response:
        """Let in whoever has one of the two addresses, and forget the address."""
        query = parse_qs(scope["query_string"].decode("latin-1"))
        given = query.get("key", [""])[0]
        is_once = self.is_unused and _same(given, self.held.once)
        if scope["method"] != "GET" or not (is_once or _same(given, self.held.start)):
            text = (
                "Refused: this address was used, or is of an earlier run; open the one that"
                " `claywit bench` printed.\n"
            )
            return PlainTextResponse(text, 403)
        self.is_unused = self.is_unused and not is_once
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            self.held.cookie, self.held.session, httponly=True, samesite="strict", path="/"
        )
        return answer
