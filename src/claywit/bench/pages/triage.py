"""Which pieces of the casebook deserve the lens."""

from collections.abc import Iterator
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit import triage as sorting
from claywit.bench.desk import Desk
from claywit.bench.standing import blind, is_judged
from claywit.bench.web import desk_of, json_body, page, studied
from claywit.errors import CasebookError, ClaywitError
from claywit.records import opening
from claywit.records.candidates import candidates
from claywit.records.case import Case, read_cases
from claywit.records.opinions import Asked, opine, readings
from claywit.records.store import Store


@dataclass(frozen=True)
class Heaped:
    """The cases in their heaps.

    left: those that are read on this bench. waiting: those without a kept opinion on what is
    locked; one that was shown before it is kept would be missing from the log.
    """

    found: sorting.Triage
    left: list[str]
    waiting: list[str]


async def triage(request: Request) -> Response:
    """Sort all cases with locked readings: which deserve the lens?"""
    desk = desk_of(request)
    heaped = await studied(request, _sort, desk)
    return page(request, "triage.html.j2", heaped=heaped, heaps=sorting.HEAPS)


def _sort(desk: Desk) -> Heaped:
    with opening.opened(desk.casebook) as store, store.reading():
        hidden = blind(desk, read_cases(store))
        waiting = [case.id for case in _waiting(desk, store, hidden)]
        found = candidates(store, desk.model, but={*hidden, *waiting})
    heaps = sorting.triage(desk.model, found, desk.standards)
    return Heaped(heaps, sorted(hidden), waiting)


def _waiting(desk: Desk, store: Store, hidden: frozenset[str]) -> Iterator[Case]:
    """Yield the cases whose locked readings could be weighed, and were not yet."""
    for case in read_cases(store):
        held = case.examination()
        is_contested = case.opened.checklist.provenance_contested.answer == "yes"
        if held is None or case.id in hidden or is_contested or is_judged(case, held[0]):
            continue
        try:
            readings(store, case, held[0], desk.model)
        except ClaywitError:
            continue  # it is said why, and nothing of an opinion
        yield case


async def judge_waiting(request: Request) -> Response:
    """Form and keep the opinions that are waited for."""
    desk = desk_of(request)
    await json_body(request)
    faults = await studied(request, _judge_waiting, desk)
    if faults:
        raise CasebookError("; ".join(faults[:3]))
    return JSONResponse({"go": "/casebook/triage"})


def _judge_waiting(desk: Desk) -> list[str]:
    """Keep each opinion that can be formed; return what stands in the way of the others."""
    faults = []
    with opening.opened(desk.casebook, write=True) as store:
        with store.reading():
            cases = list(_waiting(desk, store, blind(desk, read_cases(store))))
        for case in cases:
            held = case.examination()
            asked = Asked(examiner=held[1].examiner if held else None)
            try:
                with desk.opining:
                    opine(store, case.id, desk.model, desk.standards, desk.now(), asked=asked)
            except ClaywitError as wrong:
                faults.append(f"{case.id}: {wrong}")
    return faults


ROUTES = (
    Route("/casebook/triage", triage),
    Route("/casebook/triage", judge_waiting, methods=["POST"]),
)
