"""The way from one opinion to the other as geometry, for a template to draw."""

from dataclasses import dataclass

from claywit.report.charts import WIDTH, Tick, bar, limits, ticks_of
from claywit.report.joint import Joint
from claywit.report.numbers import signed_bans

ROW = 21  # close enough that ten points and all else fit on one sheet
WORDS, FIGURE = 250, 60  # what is kept at the left for the label, at the right for the figure


@dataclass(frozen=True)
class Span:
    """One row: an opinion at its odds, or what a point in dispute moves them by.

    x, width: the bar; end: where the next row begins. y: top of the row.
    """

    kind: str  # opinion, or point
    label: str
    y: int
    x: float
    width: float
    end: float
    bans: str
    against: bool


@dataclass(frozen=True)
class Bridge:
    """The odds of the one opinion, what moves them, and the odds of the other."""

    spans: tuple[Span, ...]
    ticks: tuple[Tick, ...]
    zero: float
    width: int
    height: int


def bridge(joint: Joint) -> Bridge | None:
    """Return the picture, the largest share first; None where no shares can be drawn."""
    shares = [(d.label, d.share_bans) for d in joint.disagreed]
    known = [(label, share) for label, share in shares if share is not None]
    if joint.a_bans is None or joint.b_bans is None or len(known) < len(shares):
        return None
    ends = [joint.a_bans]
    for _, share in known:
        ends.append(ends[-1] + share)
    low, high = limits(ends)
    scale = (WIDTH - WORDS - FIGURE) / (high - low)

    def at(bans: float) -> float:
        return round(WORDS + (bans - low) * scale, 1)

    a, b = (party.name for party in joint.parties)
    rows = [("opinion", a, 0.0, joint.a_bans, joint.a_bans)]
    rows += [
        ("point", label, start, start + share, share)
        for start, (label, share) in zip(ends, known, strict=False)
    ]
    rows.append(("opinion", b, 0.0, joint.b_bans, joint.b_bans))
    spans = []
    for i, (kind, label, start, end, said) in enumerate(rows):
        x, width = bar(at(start), at(end))
        spans.append(
            Span(
                kind=kind,
                label=label,
                y=i * ROW,
                x=x,
                width=width,
                end=at(end),
                bans=signed_bans(said),
                against=said < 0,
            )
        )
    return Bridge(tuple(spans), ticks_of(low, high, at), at(0), WIDTH, len(spans) * ROW)
