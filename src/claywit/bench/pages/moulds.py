"""A piece beside the mould file: sizes and scale, marks of the mould, pieces to lay beside it."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from claywit import assessment
from claywit.bench.desk import Desk
from claywit.bench.labels import state_title
from claywit.bench.pages.overlay import SENT, Choice, choices
from claywit.bench.standing import Opened, blind, opened
from claywit.bench.web import desk_of, page, studied
from claywit.evidence.findings import Finding
from claywit.inference.network import Network, compile_network
from claywit.model.schema import Model, Node
from claywit.reasoning.casts import casts
from claywit.reasoning.checklist import Expected, checklist, mould_node
from claywit.reasoning.scaling import Scale, scales
from claywit.records import opening
from claywit.records.candidates import candidates
from claywit.records.case import read_cases
from claywit.report.numbers import percent

CLOSE = 2.0  # standard deviations
RARE = 0.05


@dataclass(frozen=True)
class Line:
    """A filed mould: the piece's scale beside it, and the pastes that shrink so."""

    mould: str
    label: str
    share: str
    scale: Scale
    pastes: tuple[str, ...]


@dataclass(frozen=True)
class Mark:
    """A trait of the block: what was read here, and what each chosen mould would leave."""

    label: str
    read: str
    expected: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Beside:
    """All that is shown of a piece beside the mould file."""

    title: str
    lines: tuple[Line, ...]
    moulds: tuple[tuple[str, str], ...]
    chosen: tuple[str, ...]
    marks: tuple[Mark, ...]
    pairs: tuple[tuple[str, str], ...]
    pictures: tuple[Choice, ...]


async def moulds(request: Request) -> Response:
    """Show the piece beside the mould file."""
    desk, piece = desk_of(request), await opened(request)
    asked = tuple(request.query_params.getlist("mould"))
    found = await studied(request, _beside, desk, piece, asked)
    return page(
        request,
        "moulds.html.j2",
        draft=piece.draft,
        found=found,
        close=CLOSE,
        sent=SENT,
    )


def _beside(desk: Desk, piece: Opened, asked: tuple[str, ...]) -> Beside:
    model = desk.model
    network = compile_network(model, piece.examined.priors)
    pictures = choices(desk, piece)
    sized = next((n for n in model.nodes if n.dimensions and mould_node(model, n)), None)
    node = mould_node(model, sized) if sized else None
    if sized is None or node is None:
        return Beside("", (), (), (), (), (), pictures)
    read = {finding.node: finding for finding in piece.examined.findings}
    shares = _shares(desk, piece, node)
    ranked = sorted(node.state_names, key=lambda state: -shares.get(state, 0.0))
    chosen = tuple(s for s in node.state_names if s in asked) or tuple(ranked[:2])
    found = scales(sized, read[sized.name]) if sized.name in read else ()
    expected = checklist(network, sized, chosen)
    return Beside(
        title=sized.title,
        lines=tuple(
            _line(model, sized, node, one, shares)
            for one in sorted(found, key=lambda one: ranked.index(one.mould))
        ),
        moulds=tuple((state, state_title(node, state)) for state in ranked),
        chosen=chosen,
        marks=tuple(_marks(model, read, expected)),
        pairs=tuple(_pairs(desk, network, piece)),
        pictures=pictures,
    )


def _shares(desk: Desk, piece: Opened, node: Node) -> dict[str, float]:
    """Return the probability of each mould, nothing where nothing can be said."""
    report = assessment.glance(desk.model, piece.examined, desk.standards.scale)
    return {state: float(p) for state, p in report.posterior.get(node.name, {}).items()}


def _line(model: Model, sized: Node, node: Node, one: Scale, shares: dict[str, float]) -> Line:
    parents = [model.node(name) for name in sized.parents if name != node.name]
    titles = {s: state_title(p, s) for p in parents for s in p.state_names}
    like = [titles.get(s, s) for s, z in one.pastes.items() if abs(z) <= CLOSE]
    share = percent(shares[one.mould]) if one.mould in shares else ""
    return Line(one.mould, state_title(node, one.mould), share, one, tuple(like))


def _marks(
    model: Model, read: dict[str, Finding], expected: dict[str, tuple[Expected, ...]]
) -> list[Mark]:
    columns = list(expected.values())
    found = []
    for row in zip(*columns, strict=True):
        node = model.node(row[0].trait)
        finding = read.get(node.name)
        state = _state(finding)
        said = _said(node, finding)
        cells = tuple(
            (state_title(node, one.likeliest), percent(one.p[one.likeliest]), _fits(one, state))
            for one in row
        )
        found.append(Mark(node.title, said, cells))
    return found


def _state(finding: Finding | None) -> str:
    if finding is None:
        return ""
    if finding.likelihood:
        return max(finding.likelihood.items(), key=lambda said: said[1])[0]
    return "not_visible" if finding.not_visible else finding.state or ""


def _said(node: Node, finding: Finding | None) -> str:
    state = _state(finding)
    if not state:
        return "not examined"
    sure = f" (sure {finding.sure:g})" if finding and finding.sure is not None else ""
    return f"{state_title(node, state)}{sure}"


def _fits(one: Expected, state: str) -> str:
    """Return in words how what was read goes with one mould."""
    if not state:
        return ""
    p = one.p.get(state, 0.0)
    if state == "not_visible":
        return f"hidden ({percent(p)})"
    if state == one.likeliest:
        return "✓ as read"
    if p <= 0:
        return "✕ never so"
    return f"{'✕ rarely' if p < RARE else '~ at times'} as read ({percent(p)})"


def _pairs(desk: Desk, network: Network, piece: Opened) -> list[tuple[str, str]]:
    """Return the cases that look like a cast of this piece, or it of them, each with why."""
    own = piece.draft.piece.id
    with opening.opened(desk.casebook) as store, store.reading():
        left = {own, *blind(desk, read_cases(store))}
        others = [c for c in candidates(store, desk.model, but=left) if c.examined]
    told = [piece.examined.findings, *(c.examined.findings for c in others if c.examined)]
    said = []
    for pair in casts(network, told):
        if 0 not in (pair.larger, pair.smaller):
            continue
        other = others[max(pair.larger, pair.smaller) - 1].name
        ratio = f"{pair.ratio:.4f} ± {pair.u:.4f}"
        which = "this piece is" if pair.smaller == 0 else "the other one is"
        flaws = ", ".join(desk.model.node(n).title.lower() for n in pair.shared)
        said.append((other, f"{which} {ratio} times the size; shared: {flaws}"))
    return said


ROUTES = (Route("/piece/{draft:str}/moulds", moulds),)
