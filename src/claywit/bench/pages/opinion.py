"""The opinion beside the examination: what is wanted at every key first, then all that judges it.

While the readings are open only the names of what to look at next are shown.
"""

from dataclasses import dataclass
from math import isinf

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.desk import Desk
from claywit.bench.rows import tables
from claywit.bench.saving import Show
from claywit.bench.standing import Opened, open_up, opened, standing_of
from claywit.bench.web import Refused, desk_of, page, rendered, waited
from claywit.bench.weighing import Weighable, weighable
from claywit.evidence.binding import Examined
from claywit.model.schema import Model, Node
from claywit.report.advised import WORTH
from claywit.report.cautions import case_cautions
from claywit.report.digest import digest
from claywit.report.labels import proposition_label, state_label
from claywit.report.numbers import ranked
from claywit.report.report import Report, Weighed
from claywit.report.trust import agreement_said, attribution_said, between, next_said
from claywit.report.wording import SPEAKS, loss

LEAST = 0.005  # a share below which a state gets no bar
NAMES = 3  # of what to look at next


@dataclass(frozen=True)
class Told:
    """A report with the piece that it is about, and what asks for it."""

    opened: Opened
    report: Report


def about(model: Model, examined: Examined, question: str | None) -> Examined:
    """Return what was examined, about the question that a page chose.

    Where it is the one that was stated, the propositions that were stated with it stay.

    Raises:
        EvidenceError: the model has no such question.
    """
    wanted = question if question != examined.question else None
    return assessment.ask(model, examined, wanted, None, None)[0]


def _glance(desk: Desk, asked: Examined) -> Report:
    """Return the opinion as it is wanted at every key."""
    return desk.once(
        ("at a key", digest(asked.evidence), asked.question),
        lambda: assessment.at_a_key(desk.model, asked, desk.standards.scale),
    )


def _whole(asked: Examined) -> tuple[str, str, str | None]:
    """Return by what a whole judgement is remembered: by all that was said."""
    return "whole", digest(asked.evidence), asked.question


def _tell(desk: Desk, name: str, question: str | None) -> Told:
    """Return the opinion on a piece, which may be shown, as it is wanted at every key."""
    piece = open_up(desk, name)
    return Told(piece, _glance(desk, about(desk.model, piece.examined, question)))


async def _told(request: Request) -> Told:
    desk = desk_of(request)
    question = request.query_params.get("q") or None
    return await waited(request, desk.work(_tell, desk, request.path_params["draft"], question))


async def whole(
    request: Request, examined: Examined, question: str | None, *, is_first: bool = False
) -> Report:
    """Return the opinion on what was examined with all that judges it, worked out or remembered.

    is_first: it stands beside a key.

    Raises:
        Refused: nobody waits for it any more.
        ClaywitError: as `assessment.assess`.
    """
    desk = desk_of(request)
    asked = about(desk.model, examined, question)
    report = desk.remembered(_whole(asked))
    if report is None:
        judge = desk.judge_first if is_first else desk.judge
        report = await waited(request, judge(assessment.assess, asked, desk.standards))
        desk.remember(_whole(asked), report)
    return report


async def opinion(request: Request) -> Response:
    """Show the attribution with what drives it and what speaks against."""
    told = await _told(request)
    return HTMLResponse(_fragment(told.report))


def beside(question: object) -> Show:
    """Return what gives the opinion on a draft with the news that it is saved: at every key."""

    def show(desk: Desk, found: Weighable) -> dict[str, str]:
        asked = about(desk.model, found.examined, str(question) or None)
        return {"about": str(question), "page": _fragment(_glance(desk, asked))}

    return show


def _fragment(report: Report) -> str:
    shares = report.posterior[report.question]
    return rendered(
        "opinion.html.j2",
        report=report,
        ranked=[s for i, s in enumerate(ranked(shares)) if i < 2 or float(shares[s]) >= LEAST],
        label=lambda state: state_label(report, report.question, state),
        one=proposition_label(report, report.explanation.for_),
        other=proposition_label(report, report.explanation.against),
        drives=_reasons(report, 1),
        against=_reasons(report, -1),
        weight=_shown,
        still=[w for w in report.explanation.findings if abs(loss(w)) < SPEAKS],
    )


def _shown(weighed: Weighed) -> float | None:
    """Return a weight as it is written; None where it has no limit."""
    lost = loss(weighed)
    return None if isinf(lost) else lost


def _reasons(report: Report, side: int) -> list[Weighed]:
    """Return the findings that speak for (1) or against (-1), as `assess` ranks them."""
    spoken = [w for w in report.explanation.findings if side * loss(w) >= SPEAKS]
    return sorted(spoken, key=lambda w: -side * loss(w))


async def judged(request: Request) -> Response:
    """Show how far to trust it: intervals, alarms, what to look at next and what it is worth."""
    piece = await opened(request)
    question = request.query_params.get("q") or None
    report = await whole(request, piece.examined, question, is_first=True)
    drawn = report.intervals.shares[report.question] if report.intervals else {}
    shares = report.posterior[report.question]
    return page(
        request,
        "judged.html.j2",
        draft=piece.draft,
        report=report,
        words=attribution_said(report) if report.attribution else "",
        drawn=[
            (state_label(report, report.question, state), between(drawn[state]))
            for state in ranked({s: shares[s] for s in drawn})[:3]
        ],
        alarms=case_cautions(report),
        agreement=agreement_said(report),
        next=next_said(report),
    )


async def why(request: Request) -> Response:
    """Show what stands behind a number: its weights, and the rows of the model with sources."""
    told = await _told(request)
    model = desk_of(request).model
    node = _node(request)
    report = told.report
    return page(
        request,
        "why.html.j2",
        draft=told.opened.draft,
        node=node,
        tables=tables(model, node),
        report=report,
        seen=next((seen for seen in report.findings if seen.node == node.name), None),
        weighed=next((w for w in report.explanation.findings if w.node == node.name), None),
        one=proposition_label(report, report.explanation.for_),
        other=proposition_label(report, report.explanation.against),
        labels=lambda names: ", ".join(report.nodes[name].label.lower() for name in names),
    )


def _node(request: Request) -> Node:
    node = desk_of(request).model.by_name.get(request.path_params["node"])
    if node is None:
        raise Refused(404, "The model has no such node.")
    return node


async def look_next(request: Request) -> Response:
    """Show what to look at next, by name: all that may be known while the readings are open."""
    desk, standing = desk_of(request), await standing_of(request)
    examined = (await desk.work(weighable, standing.draft, desk.model)).examined
    policy = desk.standards.policy
    found = await waited(request, desk.judge_first(assessment.look_next, examined, policy))
    best = [look for look in found.next if look.bits >= WORTH][:NAMES]
    # Nothing of where they lead.
    names = [(look.nodes[0], look.labels[0], look.views[0], look.minutes) for look in best]
    return page(request, "next.html.j2", names=names)


ROUTES = (
    Route("/piece/{draft:str}/opinion", opinion),
    Route("/piece/{draft:str}/judged", judged),
    Route("/piece/{draft:str}/why/{node:str}", why),
    Route("/piece/{draft:str}/next", look_next),
)
