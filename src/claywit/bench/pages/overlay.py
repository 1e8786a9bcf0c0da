"""Two photographs overlaid by landmarks: the residual and the scale, shown apart."""

from dataclasses import dataclass
from hashlib import sha256
from typing import Annotated

from pydantic import Field, ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from claywit.bench.asked import refused
from claywit.bench.desk import Desk
from claywit.bench.pages.photographs import MAX_UPLOAD, shown
from claywit.bench.standing import Opened, opened
from claywit.bench.web import Refused, body, desk_of, json_body
from claywit.model.values import Number, Value
from claywit.reasoning.landmarks import MOST, Bar, Overlay, overlay, true_scale
from claywit.records import opening
from claywit.records.case import read_cases

SENT = 4  # pictures that are kept for this run
SAME = 0.006  # of the span: a first threshold, common practice, no source; test it on your own file
ROUNDED = 5e-5  # of a ratio that is shown to four decimals
LENS = (
    "A lens bends straight lines towards the edge of a picture, and what stands higher in the"
    " relief is shifted (parallax): both look like a residual, and a nearer lens like a larger"
    " piece. Use one lens at one distance, square to the piece, with the scale at the height of"
    " the relief."
)
Point = tuple[Number, Number]


@dataclass(frozen=True)
class Choice:
    """A photograph that can be overlaid, by the address at which the page finds it."""

    address: str
    label: str


class Scale(Value):
    """Two ends of a scale as marked, and its length in mm."""

    one: Point
    other: Point
    mm: Annotated[Number, Field(gt=0, le=10_000)]


class Marked(Value):
    """What was marked in both photographs."""

    names: tuple[Annotated[str, Field(max_length=80)], ...] = Field(max_length=MOST)
    first: tuple[Point, ...] = Field(max_length=MOST)
    second: tuple[Point, ...] = Field(max_length=MOST)
    mirrored: bool = False
    scales: tuple[Scale | None, Scale | None] = (None, None)


def choices(desk: Desk, piece: Opened) -> tuple[Choice, ...]:
    """Return the photographs of the casebook, those of this piece first, and those just sent."""
    own = piece.draft.piece.id
    with opening.opened(desk.casebook) as store, store.reading():
        cases = sorted(read_cases(store), key=lambda case: case.id != own)
    kept = [
        Choice(f"/photograph/{photo.clean}", f"{case.id}, {photo.view}")
        for case in cases
        for _, photo in case.photographs
    ]
    sent = [Choice(f"/overlay/{name}", f"sent now, {name[:6]}") for name in desk.pictures]
    return (*kept, *sent)


async def send(request: Request) -> Response:
    """Take a photograph for this run only; it does not go into the casebook."""
    desk = desk_of(request)
    await opened(request)
    async with desk.uploads:
        content = await body(request, MAX_UPLOAD)
        coded = await desk.work(shown, content)
    name = sha256(coded).hexdigest()
    desk.pictures[name] = coded
    while len(desk.pictures) > SENT:
        desk.pictures.popitem(last=False)
    return JSONResponse({"address": f"/overlay/{name}", "label": f"sent now, {name[:6]}"})


async def picture(request: Request) -> Response:
    """Show a photograph that was sent in this run."""
    coded = desk_of(request).pictures.get(request.path_params["name"])
    if coded is None:
        raise Refused(404, "That photograph is no longer at hand; send it again.")
    return Response(coded, media_type="image/jpeg")


async def fit(request: Request) -> Response:
    """Return how the second photograph lies on the first."""
    data = await json_body(request)
    await opened(request)
    try:
        marked = Marked.model_validate(data)
    except ValidationError as wrong:
        raise refused(wrong) from None
    found = overlay(marked.first, marked.second, mirrored=marked.mirrored)
    worst = max(range(len(found.residuals)), key=lambda i: found.residuals[i])
    name = marked.names[worst] if worst < len(marked.names) else ""
    return JSONResponse(
        {
            "matrix": found.matrix,
            "residuals": [f"{r:.1f} px, {100 * r / found.span:.2f}%" for r in found.residuals],
            "residual": _residual_said(found, name or f"landmark {worst + 1}"),
            "scale": _scale_said(found, marked),
            "mind": _doubts_said(found, len(marked.first), mirrored=marked.mirrored),
        }
    )


def _residual_said(found: Overlay, worst: str) -> list[str]:
    share = found.rms / found.span
    side = "within" if share <= SAME else "beyond"
    return [
        f"{100 * share:.2f}% of the greatest distance of two landmarks ({found.rms:.1f} pixels).",
        (
            f"That is {side} {100 * SAME:g}%, a first threshold for one lineage of moulds: common"
            " practice, no source; test it on pieces that you know."
        ),
        f"The largest is at {worst}: {100 * max(found.residuals) / found.span:.2f}%.",
    ]


def _scale_said(found: Overlay, marked: Marked) -> list[str]:
    here, there = marked.scales
    if here is None or there is None:
        return [
            f"{found.scale:.4f} ± {found.u:.4f} in pixels.",
            (
                "In pixels it tells how the photographs were taken, and nothing of the pieces:"
                " mark both ends of a scale in each photograph."
            ),
        ]
    bars = [Bar(bar.one, bar.other, bar.mm) for bar in (here, there)]
    ratio, u = true_scale(found, bars[0], bars[1])
    change = f"{100 * abs(ratio - 1):.2f}% {'larger' if ratio > 1 else 'smaller'}"
    verdict = (
        "that is within two standard uncertainties of one size"
        if abs(ratio - 1) <= 2 * u + ROUNDED
        else f"the first is {change} than the second"
    )
    return [
        f"{ratio:.4f} ± {u:.4f}, the first beside the second in mm: {verdict}.",
        (
            "A cast is smaller all over than the piece it was taken from; so is a piece in a paste"
            " that shrinks more. The scale does not say which."
        ),
    ]


def _doubts_said(found: Overlay, many: int, *, mirrored: bool) -> list[str]:
    said = []
    if found.mirrored_rms < found.rms / 3:
        said.append(
            "Mirrored, the second photograph would fit far better: a mould shows its piece"
            f" mirrored. {'Take the mirror off.' if mirrored else 'Mirror it.'}"
        )
    stretched = found.stretched_rms
    if stretched is not None and found.stretch is not None and stretched < found.rms / 2:
        said.append(
            f"Stretched by {100 * (found.stretch - 1):.1f}% along one direction it would fit twice"
            " as well: a camera was not square to its piece, or one piece shrank unevenly."
        )
    if many < 6:
        said.append(f"{many} landmarks are few; 6 to 8, far apart, tell more.")
    return [
        *said,
        LENS,
    ]


ROUTES = (
    Route("/piece/{draft:str}/overlay/picture", send, methods=["POST"]),
    Route("/piece/{draft:str}/overlay/fit", fit, methods=["POST"]),
    Route("/overlay/{name:str}", picture),
)
