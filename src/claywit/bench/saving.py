"""One change of a draft, saved if nobody else saved meanwhile."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from claywit.bench import drafts
from claywit.bench.asked import version_of
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.standing import Standing, stand
from claywit.bench.web import Refused, desk_of
from claywit.bench.weighing import weighable
from claywit.errors import ClaywitError

LOCKED = "These readings are locked. Use “Change a locked reading”, and say why."
STALE = "This piece was changed in another tab. What stands here now is what was saved there."
Changed = tuple[Draft, str | None]  # the draft, and the trait to look at
Change = Callable[[Draft, datetime], Changed]


def state_of(desk: Desk, standing: Standing) -> dict[str, Any]:
    """Return a draft as its page keeps it."""
    draft = standing.draft
    is_free = standing.locked is None
    return {
        "version": draft.version,
        "readings": {name: r.model_dump(mode="json") for name, r in draft.readings.items()},
        "problems": weighable(draft, desk.model).problems,
        "question": draft.question or desk.model.targets[0],
        "can_undo": bool(draft.done) and is_free,
        "can_redo": bool(draft.undone) and is_free,
        "locked": not is_free,
        "saved": draft.saved,
    }


def save(desk: Desk, name: str, version: int | None, make: Change) -> dict[str, Any]:
    """Make one change of a draft, of whatever *version* it has where none was seen."""
    with desk.changing():  # or it could be locked between the look and the save
        return _save_alone(desk, name, version, make)


def _save_alone(desk: Desk, name: str, version: int | None, make: Change) -> dict[str, Any]:
    standing = stand(desk, name)
    if standing.locked is not None:
        raise Refused(423, LOCKED)
    if version not in (None, standing.draft.version):
        raise Refused(409, STALE)
    after, node = make(standing.draft, desk.now())
    # What does not fit is refused here, before it is on disk.
    state = state_of(desk, Standing(after, standing.case, None))
    if after is not standing.draft:
        try:
            drafts.save(desk.drafts, after)
        except drafts.Stale:
            raise Refused(409, STALE) from None
        except (
            ClaywitError
        ) as wrong:  # a full disk: the answer itself is sound, so the page keeps it
            raise Refused(507, desk.said(wrong)) from None
    return {**state, "node": node}


async def saved(request: Request, data: dict[str, Any], make: Change) -> Response:
    """Make one change of the draft that a page is about; return what stands there then.

    Raises:
        Refused: the page has fallen behind, or the readings are locked.
        ClaywitError: what was sent does not fit the model.
    """
    desk = desk_of(request)
    name, version = request.path_params["draft"], version_of(data)
    return JSONResponse(await desk.work(save, desk, name, version, make))
