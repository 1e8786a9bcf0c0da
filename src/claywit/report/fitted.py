"""What `fit` says: what was counted, what it moved, and what nothing was counted for."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from claywit.learning.fit import ENOUGH, OBSTRUCTED, Fit
from claywit.learning.refit import Refitted
from claywit.learning.strays import Stray
from claywit.learning.unseen import Open
from claywit.learning.writing import FEWEST, STILL, Changed
from claywit.model.problems import subject
from claywit.model.values import Value
from claywit.report.counting import bulleted, fit_cautions, share_said
from claywit.report.numbers import row_number

SHOWN = 10


class MovedNumbers(Value):
    """Numbers of one place in the model: before, after, and what they now rest on."""

    place: str
    before: dict[str, float]
    after: dict[str, float]
    elicited_n: float | None
    counted_n: float
    moved: float


class Visible(Value):
    """Whether a node's power to hide was learned, and from how many pieces that record it."""

    node: str
    recorded: int
    learned: bool


class Far(Value):
    """A piece with a measure so many scale units from all that the elicited model predicts."""

    piece: str
    line: int
    node: str
    scales: float


class NotInFile(Value):
    """The share of pieces that are not in the file, for one node with an open state.

    uncovered, low, high: by the states seen once, with a 95 % interval (Good 1953, Esty 1983).
    elicited, counted, now: the open state's share before, as counted, and in the new model.
    """

    node: str
    state: str
    pieces: int
    states: int
    once: int
    twice: int
    recorded: int
    uncovered: float
    low: float
    high: float
    elicited: float
    counted: float
    now: float


class Fitted(Value):
    """The answer of a fit."""

    format: Literal["claywit-fit/1"] = "claywit-fit/1"
    model: str
    version_before: str
    version: str
    status: str
    cases: str
    cases_digest: str
    read: int
    used: int
    rejected: int
    rounds: int
    converged: bool
    last_gain: float
    enough: float
    log_likelihood_before: float
    log_likelihood: float
    moved: tuple[MovedNumbers, ...]
    untouched: tuple[str, ...]
    exact: tuple[str, ...]
    visibility: tuple[Visible, ...]
    unfiled: tuple[NotInFile, ...]
    far: tuple[Far, ...]
    faults: int
    drawn: int
    cautions: tuple[str, ...]

    def text(self) -> str:
        """Return the answer as lines for a terminal."""
        lines = [
            f"{self.read:,} pieces read: {self.used:,} used, {self.rejected:,} rejected",
            f"{self.model} {self.version_before} -> {self.version}, status {self.status}",
            *self._climb(),
            "",
            *self._most(),
            *self._unfiled(),
            *self._visible(),
            *self._far(),
            "",
            *self._rest(),
        ]
        return "\n".join(lines)

    def _climb(self) -> list[str]:
        rise = (self.log_likelihood - self.log_likelihood_before) / self.used
        before, after = (
            logs / self.used for logs in (self.log_likelihood_before, self.log_likelihood)
        )
        rounds = f"{self.rounds} rounds"
        how = (
            f"converged after {rounds}: the last gained less than {self.enough:.0e} nats a piece"
            if self.converged
            else f"NOT converged after {rounds}: the last still gained {self.last_gain:.1e} nats"
            f" a piece, {self.enough:.0e} is enough"
        )
        return [
            how,
            f"log likelihood a piece {before:.3f} -> {after:.3f} nats ({rise:+.3f})",
        ]

    def _most(self) -> list[str]:
        lines = [f"What changed most (of {len(self.moved)} places):"]
        for one in self.moved[:SHOWN]:
            pairs = [
                f"{name} {row_number(one.before[name])} -> {row_number(value)}"
                for name, value in one.after.items()
                if row_number(one.before[name]) != row_number(value)
            ]
            lines.append(f"  {one.place}{', '.join(pairs[:4])}{', …' if len(pairs) > 4 else ''}")
            lines.append(f"    elicited n {one.elicited_n:g}, counted n {one.counted_n:.1f}")
        return lines

    def _unfiled(self) -> list[str]:
        lines: list[str] = []
        for one in self.unfiled:
            said = (
                f"so {share_said(one.uncovered)} of all pieces are of states not seen"
                f" (95 %: {share_said(one.low)} to {share_said(one.high)})"
                if one.once
                else "so what is missing is likely to be little"
                f" (95 %: up to {share_said(one.high)})"
            )
            seen = f"{one.pieces} pieces of {one.states} named states, {one.once} of them seen once"
            lines += [
                f"Not in the file, {one.node}={one.state}: {seen}, {said}",
                (
                    f"  its share: elicited {share_said(one.elicited)}, as counted"
                    f" {share_said(one.counted)}, in the new model {share_said(one.now)}"
                ),
            ]
        return ["", *lines] if lines else []

    def _visible(self) -> list[str]:
        lines: list[str] = []
        for one in self.visibility:
            recorded = f"{one.recorded} pieces record obstruction"
            lines.append(
                f"Visibility under {one.node} was learned: {recorded}."
                if one.learned
                else f"Visibility under {one.node} keeps its elicited values: {recorded},"
                f" {OBSTRUCTED} are asked for."
            )
        return ["", *lines] if lines else []

    def _far(self) -> list[str]:
        if not self.far:
            return []
        count = len(self.far)
        lines = [
            "",
            f"Far from all that the model predicted ({count}), yet counted; look for a slip:",
        ]
        lines += [
            f"  line {one.line}, {one.piece}: {one.node}, {one.scales:.3g} times its spread away"
            for one in self.far[:SHOWN]
        ]
        if len(self.far) > SHOWN:
            lines.append(f"  … and {len(self.far) - SHOWN} more (--json lists them)")
        return lines

    def _rest(self) -> list[str]:
        lines = []
        if self.untouched:
            many = len(self.untouched)
            lines.append(f"No piece touched {many} place{'s' * (many != 1)}, kept as before:")
            lines += [f"  {place}" for place in self.untouched[:SHOWN]]
            if len(self.untouched) > SHOWN:
                lines.append(f"  … and {len(self.untouched) - SHOWN} more (--json lists them)")
        if self.exact:
            some = "1 place has" if len(self.exact) == 1 else f"{len(self.exact)} places have"
            lines.append(f"{some} no n, so what stands there is exact and stays:")
            lines += [f"  {place}" for place in self.exact[:SHOWN]]
        if self.faults:
            count = f"{self.faults} fault{'s' if self.faults > 1 else ''}"
            lines.append(f"`claywit check` finds {count} in the new file.")
        return [*lines, *([""] if lines else []), *bulleted(self.cautions)]


@dataclass(frozen=True)
class Account:
    """Where a fit came from and went: file names, versions, and what became of the pieces."""

    cases: str
    digest: str
    read: int
    rejected: int
    version: str
    status: str
    faults: int
    drawn: int


def fitted(fit: Fit, new: Refitted, far: Sequence[Stray], of: Account) -> Fitted:
    """Return the answer of a fit, the numbers that moved most first."""
    model, changed = fit.start.model, new.changed
    moved = sorted((one for one in changed if one.n is not None), key=lambda one: -one.moved)
    gained = fit.objective
    return Fitted(
        model=model.name,
        version_before=model.version,
        version=of.version,
        status=of.status,
        cases=of.cases,
        cases_digest=of.digest,
        read=of.read,
        used=of.read - of.rejected,
        rejected=of.rejected,
        rounds=len(gained) - 1,
        converged=fit.converged,
        last_gain=(gained[-1] - gained[-2]) / float(fit.used.sum()),
        enough=ENOUGH,
        log_likelihood_before=fit.log_likelihood[0],
        log_likelihood=fit.log_likelihood[1],
        moved=tuple(_moved(one) for one in moved if one.counted >= FEWEST or one.moved > STILL),
        untouched=tuple(
            _place(one).strip(": ")
            for one in changed
            if one.n is not None and one.counted < FEWEST and one.moved <= STILL
        ),
        exact=tuple(_place(one).strip(": ") for one in changed if one.n is None),
        visibility=tuple(
            Visible(node=node, recorded=count, learned=count >= OBSTRUCTED)
            for node, count in fit.obstructed.items()
        ),
        unfiled=tuple(_unfiled(one) for one in new.opened),
        far=tuple(
            Far(piece=one.piece, line=one.line, node=one.node, scales=one.scales) for one in far
        ),
        faults=of.faults,
        drawn=of.drawn,
        cautions=tuple(fit_cautions(of.status, of.drawn)),
    )


def _place(one: Changed) -> str:
    rest = "" if one.given or one.what != "row" or not one.path[-1] else ", otherwise"
    said = subject(f"{one.node}{rest}", one.given)
    return said if one.what == "row" else f"{said}{one.what}: "


def _moved(one: Changed) -> MovedNumbers:
    return MovedNumbers(
        place=_place(one),
        before=dict(one.before),
        after=dict(one.after),
        elicited_n=one.elicited_n,
        counted_n=one.counted + one.before_counted,
        moved=one.moved,
    )


def _unfiled(one: Open) -> NotInFile:
    unseen = one.covered.unseen
    return NotInFile(
        node=one.node,
        state=one.state,
        pieces=one.named.pieces,
        states=one.named.moulds,
        once=one.named.left(1),
        twice=one.named.left(2),
        recorded=one.recorded,
        uncovered=unseen.share,
        low=unseen.low,
        high=unseen.high,
        elicited=one.elicited,
        counted=one.counted,
        now=one.share,
    )
