"""Photographs: taken into the casebook, and shown only as new pictures of our own coding.

A picture is looked at before it is decoded. What a page shows is coded anew here from the pixels,
so that nothing that came with a file ever reaches a browser.
"""

import subprocess
import sys
from functools import lru_cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench import recode
from claywit.bench.asked import trait_of
from claywit.bench.desk import Desk
from claywit.bench.standing import Standing, stand
from claywit.bench.web import Refused, body, desk_of
from claywit.errors import CasebookError
from claywit.records import casebook, opening
from claywit.records.case import read_cases

MAX_UPLOAD = 24_000_000
PATIENCE = 30.0  # seconds for decoding
SHOWN = 24  # pictures that stay coded


async def photograph(request: Request) -> Response:
    """Keep a photograph of a trait in the casebook."""
    desk = desk_of(request)
    node = trait_of(desk, request.query_params.get("node"))
    standing = await desk.work(stand, desk, request.path_params["draft"])
    if standing.draft.practice:
        raise Refused(422, "A practice piece keeps no photographs.")
    _refuse_locked(standing)
    scale = request.query_params.get("scale", "").strip()[:200] or "none"
    async with desk.uploads:
        content = await body(request, MAX_UPLOAD)
        digest = await desk.work(_keep, desk, standing, (node, scale), content)
    return JSONResponse({"photograph": digest})


def _keep(desk: Desk, standing: Standing, shows: tuple[str, str], content: bytes) -> str:
    node, scale = shows
    name = "the photograph"
    shown(content)  # what cannot be decoded is refused before anything is kept
    shot = casebook.Shot(view=desk.model.node(node).title[:120], scale=scale)
    with desk.changing(), opening.opened(desk.casebook, write=True) as store:
        _refuse_locked(stand(desk, standing.draft.id))  # it may have been, since it was asked
        try:
            _, kept = casebook.photograph(
                store, standing.draft.piece.id, content, shot, desk.now(), name=name
            )
        except casebook.AlreadyKept as found:  # sent again, as where the first answer was lost
            kept = found.record
    return kept.clean


def _refuse_locked(standing: Standing) -> None:
    if standing.locked is not None:
        raise Refused(423, "The readings are locked; a photograph would be one more of them.")


async def picture(request: Request) -> Response:
    """Show a photograph of the casebook."""
    desk = desk_of(request)
    coded = await desk.work(_shown, desk.casebook, request.path_params["digest"])
    return Response(coded, media_type="image/jpeg")


@lru_cache(SHOWN)
def _shown(path: Path, digest: str) -> bytes:
    with opening.opened(path) as store, store.reading():
        # Whatever else is kept there, files of others among it, is never given to a decoder.
        kept = (photo.clean for case in read_cases(store) for _, photo in case.photographs)
        if digest not in kept:
            raise Refused(404, "There is no such photograph.")
        content = store.get(digest)
    return shown(content)


def shown(content: bytes) -> bytes:
    """Return a picture decoded, made smaller, and coded anew as JPEG, by a process of its own.

    Raises:
        CasebookError: it is no picture, too large, or damaged.
    """
    try:
        done = subprocess.run(
            # -P: a file in the folder where the bench was started is never taken for a library.
            [sys.executable, "-P", "-m", "claywit.bench.recode"],
            input=content,
            capture_output=True,
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise CasebookError("the photograph takes too long to decode; save it smaller") from None
    if done.returncode == recode.REFUSED:
        raise CasebookError(done.stderr.decode(errors="replace")[:400].strip())
    if done.returncode != 0:
        raise CasebookError("the photograph is damaged; save it again")
    return done.stdout


ROUTES = (
    Route("/piece/{draft:str}/photograph", photograph, methods=["POST"]),
    Route("/photograph/{digest:str}", picture),
)
