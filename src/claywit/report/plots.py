"""Pictures of an evaluation as geometry: where each mark lies, for a template to draw."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from claywit.report.charts import Tick, odds_text
from claywit.report.evaluated import AnswerFigures, Bin, RatioFigures
from claywit.report.numbers import percent

WIDTH, HEIGHT = 460, 300
LEFT, RIGHT, TOP, BOTTOM = 52, 26, 14, 46
REACH = 6.0  # bans, beyond which LRs are drawn at the edge


@dataclass(frozen=True)
class Line:
    """A line; *kind* says how it is drawn, *name* what it is; *end* where its name stands."""

    kind: str
    name: str
    path: str


@dataclass(frozen=True)
class Mark:
    """A point, as large as the pieces it stands for, and what it says when pointed at."""

    kind: str
    x: float
    y: float
    r: float
    said: str


@dataclass(frozen=True)
class Block:
    """A rectangle behind the lines."""

    kind: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Plot:
    """One picture with its axes; positions in the units of the drawing."""

    name: str
    said: str  # the picture in words, for who cannot see it
    across: str
    up: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    blocks: tuple[Block, ...]
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...] = ()
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


@dataclass(frozen=True)
class _Frame:
    """From figures to the drawing."""

    x: tuple[float, float]
    y: tuple[float, float]

    def at_x(self, value: float) -> float:
        low, high = self.x
        share = (min(max(value, low), high) - low) / (high - low)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)

    def at_y(self, value: float) -> float:
        low, high = self.y
        share = (min(max(value, low), high) - low) / (high - low)
        return round(HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM), 1)

    def path(self, points: Iterable[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{self.at_x(x)} {self.at_y(y)}" for x, y in points)

    def steps(self, points: Sequence[tuple[float, float]]) -> str:
        """Return a path that goes across first and then up or down."""
        turned = [points[0]]
        for x, y in points[1:]:
            turned += [(x, turned[-1][1]), (x, y)]
        return self.path(turned)

    def x_ticks(self, values: Iterable[float], said: Callable[[float], str]) -> tuple[Tick, ...]:
        return tuple(Tick(self.at_x(v), said(v)) for v in values)

    def y_ticks(self, values: Iterable[float], said: Callable[[float], str]) -> tuple[Tick, ...]:
        return tuple(Tick(self.at_y(v), said(v)) for v in values)


def _part(value: float) -> str:
    return f"{value:.2g}"


TENTHS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)


def reliability_plot(found: AnswerFigures) -> Plot:
    """Return what was said of the leading state against what was right, bin by bin."""
    low = min(0.4, *(0.2 * int(b.low / 0.2) for b in found.reliability))
    frame = _Frame((low, 1.0), (0.0, 1.0))
    most = max(b.pieces for b in found.reliability)
    across = [t for t in TENTHS if t >= low - 1e-9]
    return Plot(
        name="Does it mean what it says?",
        said="Reliability diagram: the share that was right against the probability that was said,"
        f" in {len(found.reliability)} bins; the figures are in the table below it.",
        across="What was said of the leading state",
        up="What was right",
        x_ticks=frame.x_ticks(across, _part),
        y_ticks=frame.y_ticks(TENTHS, _part),
        blocks=tuple(_band(frame, b) for b in found.reliability),
        lines=(Line("ideal", "said is right", frame.path([(low, low), (1.0, 1.0)])),),
        marks=tuple(
            Mark(
                "point",
                frame.at_x(b.said),
                frame.at_y(b.right / b.pieces),
                round(3 + 7 * (b.pieces / most) ** 0.5, 1),
                f"{b.right} of {b.pieces} right, {percent(b.said)} said",
            )
            for b in found.reliability
        ),
    )


def _band(frame: _Frame, b: Bin) -> Block:
    top, bottom = frame.at_y(b.most / b.pieces), frame.at_y(b.least / b.pieces)
    return Block("band", frame.at_x(b.said) - 9, top, 18, max(round(bottom - top, 1), 2.0))


def _shares_from(low: float) -> list[float]:
    step = 5 if low > 0.75 else 10 if low > 0.55 else 20
    return [share / 100 for share in range(round(100 * low), 101, step)]


def abstention_plot(found: AnswerFigures) -> Plot:
    """Return how many answers are right against how many are given."""
    points = [(a.answered / found.pieces, a.right / a.answered) for a in found.abstention]
    low = min(0.2 * int(min(y for _, y in points) / 0.2), 0.8)
    frame = _Frame((0.0, 1.0), (low, 1.0))
    overall = found.right / found.pieces
    return Plot(
        name="What if it may keep silent?",
        said=f"Abstention curve: all named, {percent(overall)} are right; the fewer are named,"
        " the surest first, the more of them are right if the probabilities order them well.",
        across="Share of the pieces that are named, the surest first",
        up="Share of these that is right",
        x_ticks=frame.x_ticks(TENTHS, _part),
        y_ticks=frame.y_ticks(_shares_from(low), _part),
        blocks=(),
        lines=(
            Line("ideal", "all named", frame.path([(0.0, overall), (1.0, overall)])),
            Line("one", "right", frame.path(points)),
        ),
    )


def _odds_ticks(frame: _Frame, reach: float) -> tuple[Tick, ...]:
    step = 1 if reach <= 3 else 2
    whole = int(reach)
    at = [b for b in range(-whole, whole + 1) if b % step == 0]
    return tuple(Tick(frame.at_x(b), odds_text(b)) for b in at)


def tippett_plot(found: RatioFigures) -> Plot:
    """Return the share of LRs of each side that are at least as large as each value."""
    every = [*found.lr_for, *found.lr_against]
    reach = float(min(max(2.0, *(abs(b) for b in every)), REACH))
    reach = float(-int(-reach // 1)) if reach % 1 else reach
    frame = _Frame((-reach, reach), (0.0, 1.0))
    low, high = found.by_sources.least_bans, found.by_sources.most_bans
    left, right = frame.at_x(low), frame.at_x(high)
    return Plot(
        name="How large the LRs are",
        said=f"Tippett plot: of {found.pieces_for} pieces for which A is true"
        f" {found.misleading_for} have an LR below 1, of {found.pieces_against} for which B is true"
        f" {found.misleading_against} have one above 1.",
        across="LR of A against B",
        up="Share with at least this LR",
        x_ticks=_odds_ticks(frame, reach),
        y_ticks=frame.y_ticks(TENTHS, _part),
        blocks=(Block("inside", left, TOP, round(right - left, 1), HEIGHT - TOP - BOTTOM),),
        lines=(
            Line("zero", "even", frame.path([(0.0, 0.0), (0.0, 1.0)])),
            Line("one", "A is true", frame.steps(_at_least(found.lr_for, reach))),
            Line("other", "B is true", frame.steps(_at_least(found.lr_against, reach))),
        ),
    )


def _at_least(bans: Sequence[float], reach: float) -> list[tuple[float, float]]:
    """Return the share of LRs that are at least as large, falling from 1 to 0 along the axis."""
    n = len(bans)
    return [(-reach, 1.0), *((b, 1 - (i + 1) / n) for i, b in enumerate(bans)), (reach, 0.0)]


def entropy_plot(found: RatioFigures) -> Plot:
    """Return the empirical cross-entropy over prior odds: as given, at best, and without LRs."""
    points = [e for e in found.cross_entropy if abs(e.prior_bans) <= 2]
    top = max(1.0, *(min(e.given if e.given is not None else 2.0, 2.0) for e in points))
    frame = _Frame((-2.0, 2.0), (0.0, top))
    given = [(e.prior_bans, e.given) for e in points if e.given is not None]
    return Plot(
        name="What the LRs are worth at any prior",
        said="Empirical cross-entropy in bits over prior odds: without any LR, with the LRs as"
        " given, and with the best that could be made of their order.",
        across="Prior odds of A against B",
        up="Doubt left, bits",
        x_ticks=_odds_ticks(frame, 2.0),
        y_ticks=frame.y_ticks([0.0, 0.5, 1.0, *([1.5, 2.0] if top > 1.25 else [])], "{:g}".format),
        blocks=(),
        lines=(
            Line("ideal", "no LR", frame.path([(e.prior_bans, e.neutral) for e in points])),
            Line("other", "at best", frame.path([(e.prior_bans, e.best) for e in points])),
            *([Line("one", "as given", frame.path(given))] if given else []),
        ),
    )
