"""What to look at next, on a page of its own: what each look is worth, and which are too risky."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.pages.opinion import about
from claywit.bench.standing import open_up, standing_of
from claywit.bench.web import desk_of, judged, page
from claywit.bench.weighing import weighable
from claywit.errors import ClaywitError
from claywit.model.schema import Model
from claywit.report.advised import WORTH, Next

NAMES = 3  # of what to look at next, while the opinion is hidden


async def looks(request: Request) -> Response:
    """Show what to look at next; only by name while the readings are open."""
    desk, standing = desk_of(request), await standing_of(request)
    question, risks = request.query_params.get("q") or None, _risks(desk.model)
    risk = _chosen(request.query_params.get("risk", ""), risks)
    if standing.is_open:
        examined = (await desk.work(open_up, desk, standing.draft.id)).examined
    else:
        examined = (await desk.work(weighable, standing.draft, desk.model)).examined
    found: Next | None = None
    problem = ""
    try:
        asked = about(desk.model, examined, question)
        policy = desk.standards.policy
        found = await judged(request, assessment.look_next, asked, policy, risk=risk)
    except ClaywitError as wrong:
        problem = desk.said(wrong)
    return page(
        request,
        "looks.html.j2",
        draft=standing.draft,
        is_open=standing.is_open,
        found=found,
        # While the readings are open nothing is shown of where a look would lead.
        names=[look for look in found.next if look.bits >= WORTH][:NAMES] if found else [],
        problem=problem,
        risk=risk,
        risks=risks,
    )


def _risks(model: Model) -> list[float]:
    """Return the risks that the model knows, the highest first: no other limit leaves out more."""
    return sorted({node.examine.risk for node in model.nodes if node.examine}, reverse=True)


def _chosen(typed: str, risks: list[float]) -> float:
    return next((risk for risk in risks if f"{risk:g}" == typed), 1.0)


ROUTES = (Route("/piece/{draft:str}/looks", looks),)
