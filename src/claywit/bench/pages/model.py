"""The model: its graph, the table of each node with sources, what a piece owes to its numbers."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.desk import Desk
from claywit.bench.graph import WIDE, children, drawing, kind_of
from claywit.bench.labels import state_title
from claywit.bench.pages.opinion import about
from claywit.bench.rows import tables
from claywit.bench.standing import Opened, open_pieces, open_up
from claywit.bench.web import Refused, desk_of, judged, page
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.model.schema import Model, Node
from claywit.model.tables import Row
from claywit.report.digest import digest
from claywit.report.numbers import ranked
from claywit.report.report import Report
from claywit.report.trust import row_said
from claywit.report.varying import Sensitivity

KINDS = {
    "question": "a question: what the opinion is about",
    "hidden": "hidden: it cannot be looked at, only inferred",
    "trait": "a trait that can be seen",
    "measured": "a trait that is measured",
}


@dataclass(frozen=True)
class Read:
    """What is known of one node once a piece is read."""

    piece: str
    reading: str
    shares: tuple[tuple[str, str, str], ...]


async def model(request: Request) -> Response:
    """Show the graph, and the table of the node that was chosen."""
    desk = desk_of(request)
    node, name = _chosen(request, desk), request.query_params.get("piece") or None
    piece = await desk.work(open_up, desk, name) if name else None
    numbers = [one for one in request.query_params.getlist("number")[:2] if one.strip()]
    question = request.query_params.get("q") or None
    answer, problem = None, ""
    if piece:
        try:
            answer = await judged(request, _owed, piece.examined, (numbers, question))
        except ClaywitError as wrong:
            problem = desk.said(wrong)
            answer = await judged(request, _owed, piece.examined, ([], None))
    return page(
        request,
        "model.html.j2",
        drawing=drawing(desk.model, node.name),
        wide=WIDE,
        kinds=KINDS,
        pieces=await desk.work(open_pieces, desk),
        piece=piece,
        draft=piece.draft if piece else None,
        question=question or "",
        owed=answer,
        problem=problem,
        numbers=numbers,
        own=list(_numbers(node)),
        row_said=row_said,
        nodes=sorted(desk.model.nodes, key=lambda n: n.title.casefold()),
        **await desk.work(_told, desk, node, piece),
    )


async def one_node(request: Request) -> Response:
    """Show the table of one node, beside the graph."""
    desk = desk_of(request)
    name = request.query_params.get("piece") or None
    piece = await desk.work(open_up, desk, name) if name else None
    told = await desk.work(_told, desk, _chosen(request, desk), piece)
    return page(request, "node.html.j2", piece=piece, **told)


def _chosen(request: Request, desk: Desk) -> Node:
    name = request.query_params.get("node") or desk.model.targets[0]
    found = desk.model.by_name.get(name)
    if found is None:
        raise Refused(404, "The model has no such node.")
    return found


def _told(desk: Desk, node: Node, piece: Opened | None) -> dict[str, Any]:
    below = children(desk.model)[node.name]
    return {
        "node": node,
        "kind": KINDS[kind_of(desk.model, node)],
        "states": [(state, state_title(node, state.name)) for state in node.states],
        "parents": [desk.model.node(name) for name in node.all_parents],
        "below": [desk.model.node(name) for name in below],
        "tables": tables(desk.model, node),
        "read": _read(desk, node, piece) if piece else None,
    }


def _read(desk: Desk, node: Node, piece: Opened) -> Read:
    report = _report(desk, piece)
    seen = next((f for f in report.findings if f.node == node.name), None)
    after, before = report.posterior.get(node.name, {}), report.prior.get(node.name, {})
    shares = tuple(
        (state_title(node, state), after[state], before[state]) for state in ranked(after)
    )
    return Read(piece.draft.piece.id, seen.reading if seen else "", shares)


def _report(desk: Desk, piece: Opened) -> Report:
    return desk.once(
        ("glance", digest(piece.examined.evidence), piece.examined.question),
        lambda: assessment.glance(desk.model, piece.examined, desk.standards.scale),
    )


def _numbers(node: Node) -> Iterator[str]:
    """Yield the numbers of a node's own rows, as they are named where one is to be varied."""
    for row in node.rows:
        given = "".join(f",{parent}={states}" for parent, states in _first(row))
        yield from (f"{node.name}={state}{given}" for state in row.p or ())


def _first(row: Row) -> Iterator[tuple[str, str]]:
    for parent, states in row.given.items():
        yield parent, states if isinstance(states, str) else states[0]


def _owed(model: Model, examined: Examined, wanted: tuple[list[str], str | None]) -> Sensitivity:
    numbers, question = wanted
    return assessment.what_if(model, about(model, examined, question), numbers)


ROUTES = (Route("/model", model), Route("/model/node", one_node))
