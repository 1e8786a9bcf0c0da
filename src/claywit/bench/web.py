"""How a page is asked and answers: the body within its cap, the template, the error."""

import asyncio
import io
from collections.abc import Awaitable, Callable
from functools import cache
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar

from jinja2 import ChoiceLoader, Environment, FileSystemLoader, PrefixLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from claywit import __version__
from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.judge import Dropped
from claywit.errors import ClaywitError
from claywit.model.dates import period
from claywit.model.jsontext import read_json
from claywit.model.schema import Model
from claywit.report.numbers import percent, row_part, signed_bans

P = ParamSpec("P")
R = TypeVar("R")
HERE = Path(__file__).parent
TEMPLATES = {
    "bench": HERE / "templates",
    "report": HERE.parent / "report" / "templates",
    "certificate": HERE.parent / "certificate" / "templates",
}
MAX_JSON = 1_000_000
TITLES = {403: "Not yet", 404: "Not here"}
PATIENCE = 60.0  # seconds for a body to arrive


class Refused(Exception):  # noqa: N818 - it names the answer
    """A request that is answered with *status* and one sentence."""

    def __init__(self, status: int, text: str) -> None:
        """Keep both."""
        super().__init__(text)
        self.status = status


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=ChoiceLoader(
            [
                PrefixLoader({name: FileSystemLoader(path) for name, path in TEMPLATES.items()}),
                FileSystemLoader(TEMPLATES["report"]),  # what a part of a report asks for itself
            ]
        ),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,  # or every page would look at every template's time
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "percent": percent,
        "bans": signed_bans,
        "period": period,
        "row_part": row_part,
    }
    return environment


def desk_of(request: Request) -> Desk:
    """Return the desk of the bench that was asked."""
    desk: Desk = request.app.state.desk
    return desk


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Return a page; every value put into it is escaped."""
    desk = desk_of(request)
    common = {
        "request_path": request.url.path,
        "page_key": desk.page_key,
        "model": desk.model,
        "version": __version__,
        "draft": None,
    }
    return HTMLResponse(rendered(template, **(common | values)), status)


def rendered(template: str, **values: Any) -> str:
    """Return a piece of page; every value put into it is escaped."""
    return _environment().get_template(f"bench/{template}").render(values)


def attached(content: bytes, name: str, kind: str) -> Response:
    """Return a file to be kept, under a name that no folder or header can be hidden in."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else "-" for c in name)
    held = {"content-disposition": f'attachment; filename="{safe}"'}
    return Response(content, media_type=kind, headers=held)


async def waited(request: Request, answer: Awaitable[R]) -> R:
    """Return what *answer* returns; cancel it once its page waits no more.

    What has not begun then never does, and holds up nobody else.

    Raises:
        Refused: nobody waits for it any more.
    """
    working, left = asyncio.ensure_future(answer), asyncio.ensure_future(_left(request))
    try:
        await asyncio.wait({working, left}, return_when=asyncio.FIRST_COMPLETED)
        if working.done():
            return working.result()
    except Dropped:
        pass
    finally:
        left.cancel()
        if working.cancel():
            await asyncio.wait({working})
    raise Refused(499, "Nobody waits for this any more.")


async def _left(request: Request) -> None:
    """Return once the page that sent *request*, whose body was read, has gone."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def studied(
    request: Request, function: Callable[P, R], *args: P.args, **named: P.kwargs
) -> R:
    """Return what *function* returns, which takes long: see `Desk.study`.

    Raises:
        Refused: nobody waits for it any more.
    """
    return await waited(request, desk_of(request).study(function, *args, **named))


async def judged(
    request: Request, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
) -> R:
    """Return what a function of the model returns, worked out by the judge: see `Desk.judge`.

    Raises:
        Refused: nobody waits for it any more.
    """
    return await waited(request, desk_of(request).judge(function, *args, **named))


async def body(request: Request, most: int) -> bytes:
    """Return the body of a request.

    Raises:
        Refused: it is longer than *most* bytes, or does not arrive.
    """
    declared = request.headers.get("content-length", "0")
    if not declared.isdecimal() or int(declared[:15]) > most or len(declared) > 15:
        raise Refused(413, f"More than the {most:,} bytes that are read.")
    held = io.BytesIO()  # gives its bytes away without a copy
    try:
        async with asyncio.timeout(PATIENCE):
            async for part in request.stream():
                held.write(part)
                if held.tell() > most:
                    raise Refused(413, f"More than the {most:,} bytes that are read.")
    except TimeoutError:
        raise Refused(408, "The request did not arrive in time.") from None
    return held.getvalue()


async def json_body(request: Request) -> dict[str, Any]:
    """Return the JSON object that a page sent.

    Raises:
        Refused: it is no JSON object, or too long.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise Refused(415, "JSON is expected.")
    return json_object(await body(request, MAX_JSON))


def json_object(content: bytes) -> dict[str, Any]:
    """Return the JSON object that *content* is.

    Raises:
        Refused: it is none, or holds half a character (a lone surrogate), which no file can hold.
    """
    try:
        data = read_json(content.decode("utf-8"))  # no guess: half a character hides in UTF-16
    except ValueError:
        raise Refused(400, "The request is not readable as JSON.") from None
    if not isinstance(data, dict):
        raise Refused(400, "A JSON object is expected.")
    return data


def answered(request: Request, error: Exception) -> Response:
    """Return the answer to what a person can put right: JSON for a script, else a page."""
    refused = isinstance(error, Refused)
    status = error.status if isinstance(error, Refused) else 422
    text = desk_of(request).said(error) if isinstance(error, ClaywitError) else str(error)
    if request.method == "POST" or request.headers.get("sec-fetch-dest") == "empty":
        return JSONResponse({"error": text}, status)
    title = TITLES.get(status, "This cannot be done") if refused else "This cannot be done"
    return page(request, "error.html.j2", status, title=title, text=text, back=_back(request))


def _back(request: Request) -> tuple[str, str]:
    """Return where whoever met an error goes on: its address, and what it is called."""
    first, _, rest = request.url.path.strip("/").partition("/")
    name = rest.partition("/")[0]
    if first == "piece" and drafts.exists(desk_of(request).drafts, name):
        return f"/piece/{name}", "To the examination"
    return ("/casebook", "To the casebook") if first == "casebook" else ("/", "To the pieces")
