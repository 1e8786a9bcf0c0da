"""One change of a draft, saved if nobody else saved meanwhile."""

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from claywit.bench import drafts
from claywit.bench.asked import version_of
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.standing import Standing, stand
from claywit.bench.web import Refused, desk_of, waited
from claywit.bench.weighing import Weighable, implied, weighable
from claywit.errors import ClaywitError

LOCKED = "These readings are locked. Use “Change a locked reading”, and say why."
STALE = "This piece was changed in another tab. What stands here now is what was saved there."
Changed = tuple[Draft, str | None]  # the draft, and the trait to look at
Change = Callable[[Draft, datetime], Changed]
Show = Callable[[Desk, Weighable], dict[str, str]]


def state_of(desk: Desk, standing: Standing) -> dict[str, Any]:
    """Return a draft as its page keeps it."""
    return _state(desk, standing, weighable(standing.draft, desk.model))


def _state(desk: Desk, standing: Standing, found: Weighable) -> dict[str, Any]:
    draft = standing.draft
    is_free = standing.locked is None
    return {
        "version": draft.version,
        "readings": {name: r.model_dump(mode="json") for name, r in draft.readings.items()},
        "problems": found.problems,
        "implied": implied(found, desk.model),
        "question": draft.question or desk.model.targets[0],
        "can_undo": bool(draft.done) and is_free,
        "can_redo": bool(draft.undone) and is_free,
        "locked": not is_free,
        "saved": draft.saved,
    }


Shown = Future[dict[str, str]]


def save(desk: Desk, name: str, version: int | None, make: Change) -> dict[str, Any]:
    """Make one change of a draft, of whatever *version* it has where none was seen."""
    return _save(desk, name, version, make, None)[0]


def _save(
    desk: Desk, name: str, version: int | None, make: Change, show: Show | None
) -> tuple[dict[str, Any], Shown | None]:
    with desk.changing():  # or it could be locked between the look and the save
        return _save_alone(desk, name, version, make, show)


def _save_alone(
    desk: Desk, name: str, version: int | None, make: Change, show: Show | None
) -> tuple[dict[str, Any], Shown | None]:
    standing = stand(desk, name)
    if standing.locked is not None:
        raise Refused(423, LOCKED)
    if version not in (None, standing.draft.version):
        raise Refused(409, STALE)
    after, node = make(standing.draft, desk.now())
    # What does not fit is refused here, before it is on disk.
    found = weighable(after, desk.model)
    state = _state(desk, Standing(after, standing.case, None), found)
    shown = desk.workers.submit(show, desk, found) if show and standing.is_open else None
    if after is not standing.draft:
        _keep(desk, after)
    return {**state, "node": node}, shown


def _keep(desk: Desk, draft: Draft) -> None:
    try:
        drafts.save(desk.drafts, draft)
    except drafts.Stale:
        raise Refused(409, STALE) from None
    except ClaywitError as wrong:  # a full disk: the answer itself is sound, so the page keeps it
        raise Refused(507, desk.said(wrong)) from None


async def saved(
    request: Request, data: dict[str, Any], make: Change, show: Show | None = None
) -> Response:
    """Make one change of the draft that a page is about; return what stands there then.

    Where the opinion may be shown, *show* works on it while the disk works on the draft. Its answer
    goes out with the news that the draft is kept, never before.

    Raises:
        Refused: the page has fallen behind, or the readings are locked.
        ClaywitError: what was sent does not fit the model.
    """
    desk = desk_of(request)
    name, version = request.path_params["draft"], version_of(data)
    state, shown = await desk.save(_save, desk, name, version, make, show)
    if shown is not None:
        with suppress(ClaywitError):  # the page asks for the opinion itself, and is told why not
            state["opinion"] = await waited(request, asyncio.wrap_future(shown))
    return JSONResponse(state)
