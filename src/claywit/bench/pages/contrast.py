"""Two attributions side by side: what is weighed against what is chosen with plain controls."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.desk import Desk
from claywit.bench.labels import state_title
from claywit.bench.standing import Opened, opened
from claywit.bench.web import Refused, desk_of, page, studied
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.model.propositions import Proposition, proposition
from claywit.report.contrast import Contrast
from claywit.report.page import contrast_values

SIDES = ("a", "b")


@dataclass(frozen=True)
class Choice:
    """A hidden node that a proposition can be about: its states, and which each side allows."""

    node: str
    label: str
    states: tuple[tuple[str, str], ...]
    chosen: dict[str, tuple[str, ...]]


async def contrast(request: Request) -> Response:
    """Show what each of two attributions says of every finding, and what would turn the order."""
    desk, piece = desk_of(request), await opened(request)
    asked = {side: _asked(request.query_params, desk, side) for side in SIDES}
    found: Contrast | None = None
    problem = ""
    try:
        found = await studied(request, _compare, desk, piece.examined, asked)
    except (ClaywitError, Refused) as wrong:
        problem = desk.said(wrong) if isinstance(wrong, ClaywitError) else str(wrong)
    if found:
        said = found.explanation.for_, found.explanation.against
        asked = dict(zip(SIDES, said, strict=True))
    return page(
        request,
        "contrast.html.j2",
        draft=piece.draft,
        choices=list(_choices(desk, piece, asked)),
        problem=problem,
        swapped=_swapped(desk, asked),
        found=found,
        **(contrast_values(found) if found else {}),
    )


def _asked(query: QueryParams, desk: Desk, side: str) -> str:
    """Return the proposition that a side of the form chose, as it would be typed."""
    parts = [(name, query.getlist(f"{side}.{name}")) for name in desk.model.targets]
    return ",".join(f"{name}={'|'.join(states)}" for name, states in parts if states)


def _compare(desk: Desk, examined: Examined, asked: dict[str, str]) -> Contrast:
    for_, against = (asked[side] or None for side in SIDES)
    if (for_ is None) != (against is None):
        raise Refused(422, "Choose something on both sides; one alone has no weight.")
    question, named = assessment.ask(desk.model, examined, None, for_, against)
    return assessment.compare(desk.model, question, desk.standards.scale, named=named)


def _choices(desk: Desk, piece: Opened, asked: dict[str, str]) -> Iterator[Choice]:
    read = {finding.node for finding in piece.examined.findings}
    chosen = {side: _known(desk, text) for side, text in asked.items()}
    about = [*desk.model.targets, *(n for held in chosen.values() for n in held)]
    for name in dict.fromkeys(about):
        node = desk.model.node(name)
        if name not in read:
            yield Choice(
                name,
                node.title,
                tuple((state, state_title(node, state)) for state in node.state_names),
                {side: tuple(held.get(name, ())) for side, held in chosen.items()},
            )


def _known(desk: Desk, text: str) -> Proposition:
    """Return what a side means, nothing where it means nothing in this model."""
    try:
        return proposition(text, desk.model) if text else {}
    except ValueError:
        return {}


def _swapped(desk: Desk, asked: dict[str, str]) -> str:
    """Return the query that puts each side in the other's place."""
    one, other = (_known(desk, asked[side]) for side in SIDES)
    turned = (("a", other), ("b", one))
    return urlencode([(f"{s}.{n}", v) for s, held in turned for n, vs in held.items() for v in vs])


ROUTES = (Route("/piece/{draft:str}/contrast", contrast),)
