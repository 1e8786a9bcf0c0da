"""Photographs: taken into the casebook, and shown only as new pictures of our own coding.

A picture is looked at before it is decoded. What a page shows is coded anew here from the pixels,
so that nothing that came with a file ever reaches a browser.
"""

import io
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageOps
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import trait_of
from claywit.bench.desk import Desk
from claywit.bench.standing import Standing, stand
from claywit.bench.web import Refused, body, desk_of
from claywit.errors import CasebookError
from claywit.records import casebook, opening
from claywit.records.photographs import FORMATS, look_at

MAX_UPLOAD = 32_000_000
MAX_PIXELS = 40_000_000  # decoded at once, when a picture cannot be decoded smaller
SIDE = 1400  # pixels of what is shown
SHOWN = 24  # pictures that stay coded


async def photograph(request: Request) -> Response:
    """Keep a photograph of a trait in the casebook."""
    desk = desk_of(request)
    node = trait_of(desk, request.query_params.get("node"))
    standing = await desk.work(stand, desk, request.path_params["draft"])
    if standing.draft.practice:
        raise Refused(422, "A practice piece keeps no photographs.")
    if standing.locked is not None:
        raise Refused(423, "The readings are locked; a photograph would be one more of them.")
    async with desk.uploads:
        content = await body(request, MAX_UPLOAD)
        digest = await desk.work(_keep, desk, standing, node, content)
    return JSONResponse({"photograph": digest})


def _keep(desk: Desk, standing: Standing, node: str, content: bytes) -> str:
    name = "the photograph"
    picture = look_at(content, name)
    if picture.media != "image/jpeg" and picture.width * picture.height > MAX_PIXELS:
        raise CasebookError(
            f"{name}: {picture.width:,} × {picture.height:,} pixels, at most {MAX_PIXELS:,} are"
            " taken here; save it smaller, or as JPEG"
        )
    shown(content)  # what cannot be decoded is refused before anything is kept
    shot = casebook.Shot(view=desk.model.node(node).title[:120], scale="as in the photograph")
    with opening.opened(desk.casebook, write=True) as store:
        _, kept = casebook.photograph(
            store, standing.draft.piece.id, content, shot, desk.now(), name=name
        )
    return kept.clean


async def picture(request: Request) -> Response:
    """Show a photograph of the casebook."""
    desk = desk_of(request)
    coded = await desk.work(_shown, desk.casebook, request.path_params["digest"])
    return Response(coded, media_type="image/jpeg")


@lru_cache(SHOWN)
def _shown(path: Path, digest: str) -> bytes:
    with opening.opened(path) as store, store.reading():
        if not store.has(digest):
            raise Refused(404, "There is no such photograph.")
        content = store.get(digest)
    return shown(content)


def shown(content: bytes) -> bytes:
    """Return a picture decoded, made smaller, and coded anew as JPEG.

    Raises:
        CasebookError: it is no picture, too large, or damaged.
    """
    found = look_at(content, "the photograph")
    if found.media != "image/jpeg" and found.width * found.height > MAX_PIXELS:
        raise CasebookError("the photograph has too many pixels to be shown")
    try:
        with Image.open(io.BytesIO(content), formats=FORMATS) as image:
            image.draft("RGB", (SIDE, SIDE))  # a JPEG is decoded at half its size or less
            small = ImageOps.exif_transpose(image).convert("RGB")
        small.thumbnail((SIDE, SIDE))
        written = io.BytesIO()
        small.save(written, "JPEG", quality=85)
    except Exception:  # noqa: BLE001 - a reader of pictures may stumble over anything
        raise CasebookError("the photograph is damaged; save it again") from None
    return written.getvalue()


ROUTES = (
    Route("/piece/{draft:str}/photograph", photograph, methods=["POST"]),
    Route("/photograph/{digest:str}", picture),
)
