"""The casebook: all cases, found by what is written of them; and one case."""

from collections.abc import Iterator
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.pages.certificate import fell_of, kept_of
from claywit.bench.standing import blind, refuse_unknown
from claywit.bench.web import desk_of, page
from claywit.records import opening
from claywit.records.case import Case, read_case, read_cases
from claywit.records.intake import OBJECT_FIELDS, QUESTIONS
from claywit.records.telling import CaseLine, CaseTold, line_of, told, words_said

STATES = {
    "taken in": "taken in, not examined",
    "locked": "readings locked",
    "opinion": "with an opinion",
    "certified": "certified",
}
HIDDEN = "hidden while readings of it are open on the bench"


@dataclass(frozen=True)
class Row:
    """One case in the list; *words* are empty while they could lead an eye."""

    line: CaseLine
    told: CaseTold
    words: str
    text: str


async def casebook(request: Request) -> Response:
    """Show the cases that hold all the words that were searched for."""
    desk = desk_of(request)
    query, state = request.query_params.get("q", ""), request.query_params.get("state", "")
    rows = await desk.work(_rows, desk)
    words = query.casefold().split()
    return page(
        request,
        "casebook.html.j2",
        rows=[
            row
            for row in reversed(rows)
            if state in ("", row.line.state) and all(word in row.text for word in words)
        ],
        many=len(rows),
        query=query,
        state=state,
        states=STATES,
    )


def _rows(desk: Desk) -> list[Row]:
    with opening.opened(desk.casebook) as store, store.reading():
        cases = read_cases(store)
    hidden = blind(desk, cases)
    return [_row(case, is_hidden=case.id in hidden) for case in cases]


def _row(case: Case, *, is_hidden: bool) -> Row:
    line, found = line_of(case), _told(case, is_hidden=is_hidden)
    words = words_said(line.words) if line.words and not is_hidden else ""
    shown = HIDDEN if is_hidden and line.words else words
    return Row(line, found, shown, "\n".join([*_texts(found), words]).casefold())


def _told(case: Case, *, is_hidden: bool) -> CaseTold:
    """Return what may be shown of a case.

    Who still reads it sees no story that a first examiner unsealed, and no reason for an
    amendment, which names what was read.
    """
    found = told(case)
    if not is_hidden:
        return found
    readings = tuple(one.model_copy(update={"reason": ""}) for one in found.readings)
    return found.model_copy(update={"stories": (), "readings": readings})


def _texts(case: CaseTold) -> Iterator[str]:
    """Yield what a case can be found by: never what is sealed."""
    piece = case.piece
    yield case.case
    yield from (getattr(piece, name) for name in OBJECT_FIELDS)
    yield from (one.examiner for one in case.readings)
    yield from (one.view for one in case.photographs)
    yield from (one.id for one in case.certificates)
    yield from (f"{what} {text}" for what, text in case.stories)


async def one_case(request: Request) -> Response:
    """Show all that may be shown of a case."""
    desk = desk_of(request)
    found, is_hidden, fell = await desk.work(_case, desk, request.path_params["case"])
    lying = await desk.work(drafts.read_all, desk.drafts)
    fields = ((what, getattr(found.piece, name)) for name, what in _titles())
    return page(
        request,
        "case.html.j2",
        case=found,
        lying=[one for one in lying if one.piece.id == found.case and not one.practice],
        hidden=HIDDEN if is_hidden else "",
        fell=fell,
        fields=[(what, text) for what, text in fields if text.strip()],
        questions=[(what, getattr(found.checklist, name)) for name, what in QUESTIONS.items()],
        words_said=words_said,
    )


def _titles() -> list[tuple[str, str]]:
    return [(name, name.replace("_", " ").capitalize()) for name in OBJECT_FIELDS]


def _case(desk: Desk, name: str) -> tuple[CaseTold, bool, dict[str, str]]:
    """Return what may be shown of a case, whether some is hidden, what no longer stands."""
    with opening.opened(desk.casebook) as store, store.reading():
        refuse_unknown(store, name)
        case = read_case(store, name)
        kept = tuple(kept_of(store, case))
    is_hidden = case.id in blind(desk, [case])
    return _told(case, is_hidden=is_hidden), is_hidden, fell_of(desk, kept)


ROUTES = (
    Route("/casebook", casebook),
    Route("/casebook/case/{case:str}", one_case),
)
