"""Keeping the casebook: its log, a copy of it, whether it is whole, its opinions formed again."""

from contextlib import suppress
from pathlib import Path
from tempfile import mkdtemp

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.standing import blind, refuse_unknown
from claywit.bench.web import Refused, attached, body, desk_of, json_body, page, studied
from claywit.records import opening
from claywit.records.case import read_cases, read_entry_of
from claywit.records.checking import Checked
from claywit.records.checking import check as look
from claywit.records.log import Entry, Head, entries_as_data, read_head
from claywit.records.replaying import Reopened, Replayed, reopen, replay_all
from claywit.records.telling import words_said

MOST = 16_000_000  # bytes of a file that holds a head, as a certificate does
AT_A_TIME = 500  # entries of the log on one page
STALE = 3600.0  # seconds after which nobody fetches a copy any more
OUTCOMES = ("changed", "cannot", "same")
KINDS = {
    "begun": "the casebook was begun",
    "opened": "taken in",
    "revised": "taken in anew",
    "sealed": "story or price sealed",
    "photographed": "photograph added",
    "locked": "readings locked",
    "amended": "readings amended",
    "unmasked": "seal broken",
    "opined": "opinion formed",
    "certified": "certificate kept",
    "imported": "brought in from a bundle",
}


async def log(request: Request) -> Response:
    """Show the log, of one case or of all, the newest first."""
    desk, case = desk_of(request), request.query_params.get("case") or None
    entries, many, before = await desk.work(
        _newest, desk, case, request.query_params.get("before", "")
    )
    return page(
        request,
        "log.html.j2",
        case=case,
        entries=entries,
        many=many,
        before=before - AT_A_TIME if before > AT_A_TIME else 0,
        kinds=KINDS,
    )


def _newest(desk: Desk, case: str | None, typed: str) -> tuple[list[Entry], int, int]:
    """Return the entries of one page, the newest first, how many there are, and before which."""
    with opening.opened(desk.casebook) as store, store.reading():
        if case is not None:
            refuse_unknown(store, case)
        many = store.count(case)
        before = _number(typed, many)
        rows = store.newest(case, many - before, AT_A_TIME)
        return [read_entry_of(store, *row) for row in rows], many, before


def _number(typed: str, most: int) -> int:
    return min(int(typed), most) if typed.isdecimal() and len(typed) < 10 else most


async def saved_log(request: Request) -> Response:
    """Return the log as data, each entry with its hash."""
    desk, case = desk_of(request), request.query_params.get("case") or None
    text = entries_as_data(await desk.work(_entries, desk, case))
    return attached(text.encode(), f"log-{case or 'of-all'}.json", "application/json")


def _entries(desk: Desk, case: str | None) -> list[Entry]:
    with opening.opened(desk.casebook) as store, store.reading():
        if case is not None:
            refuse_unknown(store, case)
        return [read_entry_of(store, *row) for row in store.rows(case)]


async def backup(request: Request) -> Response:
    """Return a copy of the whole casebook as it stands at this moment."""
    desk = desk_of(request)
    path = await desk.work(_place, desk)
    try:
        await studied(request, _copy, desk, path)
    except BaseException:  # the page may have gone: nobody would take the copy away
        _remove(path)
        raise
    name = f"casebook-{desk.now():%Y-%m-%d}.db"
    return FileResponse(
        path,
        media_type="application/vnd.sqlite3",
        filename=name,
        background=BackgroundTask(_remove, path),
    )


def _place(desk: Desk) -> Path:
    """Return where a copy is to be written, in a folder of its own."""
    drafts.own(desk.drafts)
    for left in desk.drafts.glob("copy-*"):  # by a run that ended before it was handed out
        with suppress(FileNotFoundError):  # it was handed out just now
            if desk.now().timestamp() - left.stat().st_mtime > STALE:
                _remove(left / "copy.db")
    return Path(mkdtemp(dir=desk.drafts, prefix="copy-")) / "copy.db"


def _copy(desk: Desk, path: Path) -> bool:
    with opening.opened(desk.casebook) as store:
        opening.copy(store, path)
    return True


def _remove(path: Path) -> None:
    for one in path.parent.iterdir():
        one.unlink(missing_ok=True)
    path.parent.rmdir()


async def check(request: Request) -> Response:
    """Say whether the casebook is whole, against a head that was kept outside where one is said."""
    desk, said = desk_of(request), request.query_params.get("head", "").strip()
    outside = read_head(said) if said else None
    found = await studied(request, _check, desk, outside)
    return page(request, "whole.html.j2", found=found, outside=outside)


def _check(desk: Desk, outside: Head | None) -> Checked:
    with opening.opened(desk.casebook) as store:
        return look(store, outside)


async def head_in(request: Request) -> Response:
    """Read the head in a file that was kept outside, as a certificate holds one, and check."""
    desk = desk_of(request)
    async with desk.uploads:
        text = (await body(request, MOST)).decode("utf-8", "replace")
        if not text.strip():
            raise Refused(422, "Choose a file that holds a head, as a certificate does.")
        found = await studied(request, read_head, text)
    return JSONResponse({"go": f"/casebook/check?head={found}"})


async def replay(request: Request) -> Response:
    """Form all kept opinions again, but of what is read on this bench, and compare the numbers."""
    desk = desk_of(request)
    found, left = await studied(request, _replay, desk)
    return page(request, "replay.html.j2", case="", found=found, left=left)


def _replay(desk: Desk) -> tuple[list[Replayed], list[str]]:
    with opening.opened(desk.casebook) as store:
        with store.reading():
            cases = read_cases(store)
        hidden = blind(desk, cases)
        shown = [case.id for case in cases if case.id not in hidden]
        return (replay_all(store, shown) if shown else []), sorted(hidden)


async def weigh_again(request: Request) -> Response:
    """Say which kept opinions would be worded otherwise by the model on the bench."""
    desk = desk_of(request)
    found, left = await studied(request, _reopen, desk, supersede=False)
    return page(
        request,
        "reopen.html.j2",
        found=sorted(found, key=lambda one: OUTCOMES.index(one.outcome)),
        left=left,
        kept=request.query_params.get("kept", "")[:9],
        said=words_said,
    )


async def supersede(request: Request) -> Response:
    """Keep the new opinions where the words change; the old ones stay."""
    desk = desk_of(request)
    await json_body(request)
    found, _ = await studied(request, _reopen, desk, supersede=True)
    kept = sum(one.superseded for one in found)
    return JSONResponse({"go": f"/casebook/reopen?kept={kept}"})


def _reopen(desk: Desk, *, supersede: bool) -> tuple[list[Reopened], list[str]]:
    with opening.opened(desk.casebook, write=supersede) as store:
        with store.reading():
            hidden = blind(desk, read_cases(store))
        found = reopen(
            store, desk.model, desk.standards, desk.now(), supersede=supersede, but=hidden
        )
    return found, sorted(hidden)


ROUTES = (
    Route("/casebook/log", log),
    Route("/casebook/log.json", saved_log),
    Route("/casebook/backup", backup),
    Route("/casebook/check", check),
    Route("/casebook/check", head_in, methods=["POST"]),
    Route("/casebook/replay", replay),
    Route("/casebook/reopen", weigh_again),
    Route("/casebook/reopen", supersede, methods=["POST"]),
)
