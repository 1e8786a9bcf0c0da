"""A batch of pieces in three heaps: which deserve the lens, which are settled, which stay open.

The rule, in plain words. A piece *deserves the lens* if a finding looks like a slip, or if its
answer is not firm and a look is worth the minutes. It is *settled* if its answer is firm. It
*stays open* if its answer is not firm and no look that is left would help.

Firm: the odds of the leading answer are more than three times beyond the highest cut point of the
policy's words (0.95 as shipped), so that a prior three times as large or small would not change
them, and no single look has one chance in twenty of making another answer lead. Worth the minutes:
a look is expected to settle a twentieth of a bit, or has that chance.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log10
from typing import Literal

from claywit import assessment
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.inference.network import compile_network
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.casts import casts
from claywit.report.advised import Next
from claywit.report.labels import state_label
from claywit.report.numbers import percent, ranked
from claywit.report.report import Report
from claywit.report.standards import Standards

ROBUST = 3.0  # a prior that much larger or smaller must not change the words
OVERTURNS = 0.05
WORTH = 0.05  # bits
SAME_SIZE = 2.0  # standard uncertainties from ratio 1
Heap = Literal["lens", "settled", "open", "unreadable"]
HEAPS: dict[Heap, str] = {
    "lens": "Deserve the lens",
    "settled": "Settled",
    "open": "Open, and no look that is left would help",
    "unreadable": "Could not be weighed",
}


@dataclass(frozen=True)
class Candidate:
    """A piece to sort: where it came from, and what was examined or why it cannot be weighed."""

    name: str
    examined: Examined | None
    fault: str = ""


class Best(Value):
    """The look that is worth most for each minute."""

    label: str
    bits: float
    minutes: float
    overturns: float


class Sorted(Value):
    """One piece in its heap.

    why: in words. doubt_bits: entropy of the question. targets: the leading state of each
    question of the model, with its probability.
    """

    name: str
    piece: str
    heap: Heap
    why: tuple[str, ...]
    question: str = ""
    leading: str = ""
    label: str = ""
    share: str = "0"
    doubt_bits: float = 0.0
    best: Best | None = None
    targets: dict[str, tuple[str, str]] = {}


class Alike(Value):
    """Two pieces to lay side by side."""

    larger: str
    smaller: str
    ratio: float
    u: float
    shared: tuple[str, ...]
    differing: tuple[str, ...]
    by_chance: float
    why: str


class Triage(Value):
    """A batch in its heaps, and the pairs that look like casts of each other."""

    format: Literal["claywit-triage/1"] = "claywit-triage/1"
    model: str
    version: str
    pieces: tuple[Sorted, ...]
    pairs: tuple[Alike, ...]


def triage(model: Model, candidates: Sequence[Candidate], standards: Standards) -> Triage:
    """Return the *candidates* in their heaps, the most rewarding first.

    A piece that cannot be weighed does not keep the others from being sorted.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    pieces = sorted(
        (_sort(model, candidate, standards) for candidate in candidates),
        key=lambda piece: (list(HEAPS).index(piece.heap), _urgency(piece), piece.name),
    )
    good = {piece.name for piece in pieces if piece.heap != "unreadable"}
    weighed = [c for c in candidates if c.examined and c.name in good]
    return Triage(
        model=model.name,
        version=model.version,
        pieces=tuple(pieces),
        pairs=tuple(_alike(model, weighed)),
    )


def _urgency(piece: Sorted) -> tuple[bool, float]:
    slips = any(why.startswith("look again") for why in piece.why)
    return not slips, -(piece.best.bits / piece.best.minutes) if piece.best else 0.0


def _sort(model: Model, candidate: Candidate, standards: Standards) -> Sorted:
    examined = candidate.examined
    if examined is None:
        return _unreadable(candidate.name, "", candidate.fault)
    try:
        report = assessment.assess(model, examined, standards, seed=None)
        following = assessment.look_next(model, examined, standards.policy)
    except ClaywitError as wrong:
        return _unreadable(candidate.name, examined.evidence.piece.id, str(wrong))
    best = _best(following)
    cuts = tuple(sorted(grade.at_least for grade in standards.policy.grades))
    heap, why = _heap(report, best, cuts)
    question = report.question
    return Sorted(
        name=candidate.name,
        piece=examined.evidence.piece.id,
        heap=heap,
        why=tuple(why),
        question=question,
        leading=report.leading,
        label=state_label(report, question, report.leading),
        share=report.posterior[question][report.leading],
        doubt_bits=following.doubt_bits,
        best=best,
        targets={
            name: _leading(report, name) for name in model.targets if name in report.posterior
        },
    )


def _unreadable(name: str, piece: str, fault: str) -> Sorted:
    return Sorted(name=name, piece=piece, heap="unreadable", why=(fault,))


def _leading(report: Report, name: str) -> tuple[str, str]:
    shares = report.posterior[name]
    state = ranked(shares)[0]
    return state, shares[state]


def _best(following: Next) -> Best | None:
    """Return the look that is worth most per minute among those that are worth anything."""
    worth = [look for look in following.next if look.bits >= WORTH or look.overturns >= OVERTURNS]
    if not worth:
        return None
    look = worth[0]
    return Best(
        label=look.labels[0], bits=look.bits, minutes=look.minutes, overturns=look.overturns
    )


def _heap(report: Report, best: Best | None, cuts: Sequence[float]) -> tuple[Heap, list[str]]:
    """Apply the rule that the docstring of this module states."""
    slips = [f"look again: {_slip(report, misfit.nodes)}" for misfit in report.misfits]
    odds = report.log10_odds[report.question][report.leading]
    near = None if odds is None else _near(odds, cuts)
    highest = _log_odds(cuts[-1])
    beyond = odds is None or odds > highest + log10(ROBUST)
    overturned = best is not None and best.overturns >= OVERTURNS
    why = [*slips]
    if not beyond:
        close = f"odds within a factor {ROBUST:g} of the cut point {near:g}"
        why.append(close if near else f"below the cut point {cuts[-1]:g}")
    if best and (not beyond or overturned):
        why.append(
            f"{best.label.lower()} is expected to settle {best.bits:.2f} bits"
            f" and overturns with {percent(best.overturns)}"
        )
    if slips or (best and (not beyond or overturned)):
        return "lens", why
    return ("settled" if beyond else "open"), why


def _log_odds(cut: float) -> float:
    """Return the odds of a cut point as log10; a policy may set it at 0 or 1."""
    if cut in (0.0, 1.0):
        return inf if cut else -inf
    return log10(cut / (1 - cut))


def _near(odds: float, cuts: Sequence[float]) -> float | None:
    """Return the cut point within a factor of ROBUST of the odds (as log10), if there is one."""
    apart = {cut: abs(odds - _log_odds(cut)) for cut in cuts}
    nearest = min(apart, key=lambda cut: apart[cut])
    return nearest if apart[nearest] <= log10(ROBUST) else None


def _slip(report: Report, nodes: Sequence[str]) -> str:
    return " and ".join(report.nodes[name].label.lower() for name in nodes)


def _alike(model: Model, weighed: Sequence[Candidate]) -> list[Alike]:
    """Return the pairs that look like casts; two readings of one piece are no pair."""
    examined = [c.examined for c in weighed if c.examined]
    found = casts(compile_network(model, {}), [e.findings for e in examined])
    ids = [e.evidence.piece.id for e in examined]
    pairs = []
    for pair in found:
        if ids[pair.larger] == ids[pair.smaller]:
            continue
        same = 1 - pair.ratio <= SAME_SIZE * pair.u
        size = (
            "of one size: from one mould, or a cast that did not shrink"
            if same
            else f"{100 * (1 - pair.ratio):.1f}% smaller all over: a cast of it, or another paste"
        )
        flaws = ", ".join(model.node(name).title.lower() for name in pair.shared)
        pairs.append(
            Alike(
                larger=weighed[pair.larger].name,
                smaller=weighed[pair.smaller].name,
                ratio=float(f"{pair.ratio:.6g}"),
                u=float(f"{pair.u:.3g}"),
                shared=pair.shared,
                differing=pair.differing,
                by_chance=float(f"{pair.by_chance:.3g}"),
                why=f"{size}; shared: {flaws}",
            )
        )
    return pairs


def triage_said(found: Triage) -> str:
    """Return a batch in its heaps, for a terminal."""
    lines: list[str] = []
    for heap, title in HEAPS.items():
        pieces = [piece for piece in found.pieces if piece.heap == heap]
        if pieces:
            lines.append(f"{title}: {len(pieces)}")
        for piece in pieces:
            answer = f"{piece.label}, {percent(piece.share)}" if piece.label else ""
            lines.append(f"  {piece.name}  {answer}".rstrip())
            lines += [f"    {why}" for why in piece.why]
    if found.pairs:
        lines.append(f"Lay side by side: {len(found.pairs)}")
    lines += [f"  {pair.larger} and {pair.smaller}: {pair.why}" for pair in found.pairs]
    return "\n".join(lines)
