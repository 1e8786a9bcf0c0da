"""Charts as geometry: where each mark of a picture lies, for a template to draw."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from claywit.report.numbers import ranked, signed_bans
from claywit.report.report import Explained, Report
from claywit.report.wording import hardly_said, told_apart

ROW = 36  # a line for the words and the figure, and the bar below them
WIDTH = 660  # in the units of the drawing
EDGE = 36


@dataclass(frozen=True)
class Step:
    """One row of the ladder: from where to where the odds moved, and how to say it.

    x, width: the bar; end: where the rung to the next row stands. y: top of the row.
    kind: prior, group, finding, still (findings that hardly move it) or posterior.
    excludes: the bar runs off the scale.
    """

    kind: str
    label: str
    y: int
    x: float
    width: float
    end: float
    bans: str
    against: bool
    excludes: bool


@dataclass(frozen=True)
class Tick:
    """A line of the scale with the odds it stands for."""

    x: float
    label: str


@dataclass(frozen=True)
class Ladder:
    """The way from prior to posterior odds, one rung for each finding."""

    steps: tuple[Step, ...]
    ticks: tuple[Tick, ...]
    zero: float
    width: int
    height: int


def ladder(report: Report) -> Ladder:
    """Return the ladder of the report's explanation.

    An infinite step, where a finding excludes one side, runs to the edge of the scale.
    """
    low, high = limits(_ends(report.explanation))
    scale = (WIDTH - 2 * EDGE) / (high - low)

    def at(bans: float) -> float:
        return round(EDGE + (min(max(bans, low), high) - low) * scale, 1)

    moves = enumerate(_moves(report, high - low))
    steps = tuple(_drawn(move, row * ROW, at) for row, move in moves)
    return Ladder(steps, ticks_of(low, high, at), at(0), WIDTH, len(steps) * ROW)


@dataclass(frozen=True)
class _Move:
    """One row of the ladder in bans: from where to where, and what is said of it."""

    kind: str
    label: str
    start: float
    end: float
    said: float | None


def _moves(report: Report, span: float) -> Iterator[_Move]:
    """Yield the rows of the ladder from top to bottom; *span* is how far an infinite step goes."""
    why = report.explanation
    here = why.prior_bans or 0.0
    yield _Move("prior", "Prior odds", 0.0, here, why.prior_bans)
    for group in why.groups:
        yield _Move("group", group.label, here, here, group.bans)
        moving, still = told_apart(why, group)
        for weighed in moving:
            there = here + _step(weighed.bans, weighed.excludes, span)
            label = f"{report.nodes[weighed.node].label}: {weighed.reading}"
            yield _Move("finding", label, here, there, weighed.bans)
            here = there
        here += sum(weighed.bans or 0.0 for weighed in still)
        if still:
            yield _Move("still", hardly_said(report, still), here, here, 0.0)
    yield _Move("posterior", "Posterior odds", 0.0, here, why.posterior_bans)


def _drawn(move: _Move, y: int, at: Callable[[float], float]) -> Step:
    rises, falls = move.end > move.start, move.end < move.start
    x, width = bar(at(move.start), at(move.end))
    return Step(
        kind=move.kind,
        label=move.label,
        y=y,
        x=x,
        width=width,
        end=at(move.end),
        bans=signed_bans(move.said, "against" if rises else "for" if falls else "neither"),
        against=falls,
        excludes=move.said is None,
    )


def _step(bans: float | None, excludes: str, span: float) -> float:
    if bans is not None:
        return bans
    return {"against": span, "for": -span}.get(excludes, 0.0)


def _ends(why: Explained) -> list[float]:
    here = why.prior_bans or 0.0
    ends = [here]
    for weighed in why.findings:
        here += weighed.bans or 0.0
        ends.append(here)
    return ends


def limits(ends: Sequence[float]) -> tuple[int, int]:
    """Return the whole bans between which all *ends* and even odds lie with a little room."""
    return math.floor(min([*ends, 0]) - 0.2), math.ceil(max([*ends, 0]) + 0.2)


def bar(start: float, end: float) -> tuple[float, float]:
    """Return where a bar begins and how wide it is; one of no length is still seen."""
    left, right = sorted((start, end))
    return left, round(max(right - left, 1.5), 1)


def ticks_of(low: int, high: int, at: Callable[[float], float]) -> tuple[Tick, ...]:
    """Return a line for each whole ban from *low* to *high*, about eight; *at* places one."""
    # By the step, not one by one: a reading a million sd out spans milliards of bans.
    step = max(1, math.ceil((high - low) / 8))
    return tuple(Tick(at(b), odds_text(b)) for b in range(-(-low // step) * step, high + 1, step))


def odds_text(bans: int) -> str:
    """Return whole bans as odds: `even`, `100 : 1`, `1 : 10`, `10⁷ : 1`."""
    if bans == 0:
        return "even"
    size = f"{10 ** abs(bans):,}" if abs(bans) <= 4 else "10" + _superscript(abs(bans))
    return f"{size} : 1" if bans > 0 else f"1 : {size}"


def _superscript(number: int) -> str:
    return str(number).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))


@dataclass(frozen=True)
class Share:
    """One state's bar: now and before, as parts of the width."""

    state: str
    now: float
    before: float
    leading: bool


def shares(report: Report, name: str, least: float = 0.005) -> tuple[Sequence[Share], Share | None]:
    """Return the bars of the likeliest states of a node, and one for all others together."""
    now, before = report.posterior[name], report.prior[name]
    order = ranked(now)
    kept = [s for i, s in enumerate(order) if i < 2 or float(now[s]) >= least]
    bars = [Share(s, float(now[s]), float(before[s]), s == order[0]) for s in kept]
    rest = [s for s in order if s not in kept]
    if not rest:
        return bars, None
    others = "1 other" if len(rest) == 1 else f"{len(rest)} others together"
    together = [sum(float(side[s]) for s in rest) for side in (now, before)]
    return bars, Share(others, together[0], together[1], leading=False)
