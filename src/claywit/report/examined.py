"""How reliably traits are read, as plain data and in words."""

from collections.abc import Iterator, Sequence
from datetime import date
from math import isnan
from typing import Literal

from claywit.learning.elicitation import rounded
from claywit.learning.examiners import Coefficient, Pair, Panel, Reliability
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.report.numbers import decimals, seen_share, three_digits

FEW_PIECES = 30
ONE_STATE = 0.85
FEW_OF_A_STATE = 5.0
ENOUGH_WITHOUT_TRUTH = 3  # examiners
CAUTIONS = (
    (
        "Kappa and alpha are reported for comparison only; no probability is made of them. What a"
        " model takes is the confusion matrix, P(read | true)."
    ),
    (
        "A confusion matrix takes readings to be independent given the true state. Examiners who"
        " learned from each other, or who read together, look better than they are."
    ),
)


class Figure(Value):
    """A coefficient and its middle 95 % when pieces are drawn again; null where undefined."""

    value: float | None
    low: float | None = None
    high: float | None = None


class PairRead(Value):
    """Two examiners on the same pieces, or one examiner twice (`again`)."""

    one: str
    other: str
    again: bool
    pieces: int
    table: tuple[tuple[int, ...], ...]
    agreeing: Figure
    kappa: Figure
    linear: Figure | None
    quadratic: Figure | None


class PanelRead(Value):
    """All examiners at once, each by the first reading of a piece."""

    pieces: int
    agreeing: Figure
    alpha: Figure
    ordered_alpha: Figure | None
    fleiss: Figure | None


class MatrixRead(Value):
    """How one examiner reads each true state; *rests* is on how many readings a row rests."""

    name: str
    examiner: str
    pieces: int
    p: dict[str, dict[str, float]]
    rests: dict[str, float]


class TraitRead(Value):
    """What repeated readings of one trait show."""

    trait: str
    label: str
    states: tuple[str, ...]
    pieces: int
    readings: int
    hidden: int
    known_truths: int
    panel: PanelRead | None
    pairs: tuple[PairRead, ...]
    shares: dict[str, float]
    matrices: tuple[MatrixRead, ...]
    remarks: tuple[str, ...]


class Examined(Value):
    """How reliably the traits of a file of readings were read."""

    format: Literal["claywit-examiners/1"] = "claywit-examiners/1"
    seed: int
    prior: float
    read: int
    used: int
    rejected: int
    traits: tuple[TraitRead, ...]
    cautions: tuple[str, ...]


def trait_read(found: Reliability, model: Model | None) -> TraitRead:
    """Return what the readings of one trait show, as plain data."""
    readings = found.readings
    shares = found.confusion.shares.tolist() if found.confusion else []
    return TraitRead(
        trait=readings.trait,
        label=model.node(readings.trait).title if model else readings.trait.replace("_", " "),
        states=readings.states,
        pieces=len(readings.pieces),
        readings=len(readings.state),
        hidden=readings.hidden,
        known_truths=int((readings.truth >= 0).sum()),
        panel=_panel(found.panel) if found.panel else None,
        pairs=tuple(_pair(pair) for pair in found.pairs),
        shares={s: three_digits(p) for s, p in zip(readings.states, shares, strict=False)},
        matrices=tuple(_matrices(found)),
        remarks=tuple(_remarks(found)),
    )


def _figure(found: Coefficient) -> Figure:
    if isnan(found.value):
        return Figure(value=None)
    low, high = found.interval or (None, None)
    return Figure(
        value=_digits(found.value),
        low=None if low is None else _digits(low),
        high=None if high is None else _digits(high),
    )


def _digits(value: float) -> float:
    """Return *value* at 3 significant digits; as it is where those would say that all agree."""
    shown = three_digits(value)
    return value if shown == 1 else shown


def _panel(panel: Panel) -> PanelRead:
    return PanelRead(
        pieces=panel.pieces,
        agreeing=_figure(panel.agreeing),
        alpha=_figure(panel.alpha),
        ordered_alpha=_figure(panel.ordered) if panel.ordered else None,
        fleiss=_figure(panel.fleiss) if panel.fleiss else None,
    )


def _pair(pair: Pair) -> PairRead:
    return PairRead(
        one=pair.one,
        other=pair.other,
        again=pair.again,
        pieces=pair.pieces,
        table=tuple(tuple(int(cell) for cell in row) for row in pair.table),
        agreeing=_figure(pair.agreeing),
        kappa=_figure(pair.kappa),
        linear=_figure(pair.linear) if pair.linear else None,
        quadratic=_figure(pair.quadratic) if pair.quadratic else None,
    )


def why_no_matrix(found: Reliability) -> str:
    """Return why no confusion matrix is given, "" where one is."""
    readings = found.readings
    known = int((readings.truth >= 0).sum())
    if found.confusion is None:
        return "nobody could see the trait" if readings.hidden else "nobody read the trait"
    if len(readings.states) < 2:
        return "every reading is of one state"
    if known == len(readings.pieces) or len(readings.examiners) >= ENOUGH_WITHOUT_TRUTH:
        return ""
    if known >= FEW_PIECES:
        return ""
    many = len(readings.examiners)
    return (
        f"{many} examiner{'s' if many != 1 else ''} and {known} pieces of known truth: whose slip a"
        " difference is cannot be told; let a third examiner read, or give the truth of"
        f" {FEW_PIECES} pieces as readings of `truth`"
    )


def _matrices(found: Reliability) -> Iterator[MatrixRead]:
    readings, confusion = found.readings, found.confusion
    if confusion is None or why_no_matrix(found):
        return
    taken: set[str] = set()
    for e, examiner in enumerate(readings.examiners):
        name = matrix_name(examiner, readings.trait)
        name = name if name not in taken else f"{name[:76]}_{e + 1}"
        taken.add(name)
        rows = zip(readings.states, confusion.matrices[e], strict=True)
        read = readings.piece[readings.examiner == e]
        yield MatrixRead(
            name=name,
            examiner=examiner,
            pieces=len(set(read.tolist())),
            p={true: rounded(readings.states, row) for true, row in rows},
            rests={
                true: round(float(n), 1)
                for true, n in zip(readings.states, found.rests[e], strict=True)
            },
        )


def matrix_name(examiner: str, trait: str) -> str:
    """Return the name of a reading matrix: letters, digits and _ only."""
    plain = "".join(c if c.isascii() and c.isalnum() else "_" for c in examiner).strip("_")
    start = plain if plain[:1].isalpha() else f"E{plain}"
    return f"{start}_{trait}"[:80]


def rests_on(answer: Examined, on: date) -> str:
    """Return what the matrices of *answer* rest on, as the source of a model says it."""
    used = [trait for trait in answer.traits if trait.matrices]
    readings = sum(trait.readings for trait in used)
    known = sum(trait.known_truths for trait in used)
    truth = f"{known} true states known" if known else "the truth by consensus only"
    return (
        f"Confusion matrices (Dawid and Skene) from {readings} readings, {on}; {truth};"
        f" {answer.prior:g} piece{'' if answer.prior == 1 else 's'} of an even start behind each"
        " row"
    )


def _remarks(found: Reliability) -> Iterator[str]:
    """Yield what a reader of the figures must not overlook."""
    readings, panel = found.readings, found.panel
    if readings.hidden:
        often = "Once" if readings.hidden == 1 else f"{readings.hidden} times"
        yield (
            f"{often} the trait could not be seen; that is no reading of its state and counts"
            " nowhere here."
        )
    if panel is None:
        yield "Fewer than two pieces were read by two, so nothing is said of their agreement."
    elif panel.pieces < FEW_PIECES:
        yield f"Only {panel.pieces} pieces were read twice or more: go by the intervals."
    yield from _prevalence(found.pairs)
    why = why_no_matrix(found)
    if why:
        yield f"No confusion matrix: {why}."
        return
    yield from _of_matrices(found)


def _prevalence(pairs: Sequence[Pair]) -> Iterator[str]:
    for pair in pairs:
        if isnan(pair.kappa.value):
            yield f"{_whose(pair)}: every reading is of one state, so kappa has no value."
        elif pair.top_share >= ONE_STATE:
            yield (
                f"{_whose(pair)}: {seen_share(pair.top_share)} of the readings are of one state."
                f" Kappa ({decimals(pair.kappa.value, 2)}) then hangs on a few pieces and falls,"
                f" though {seen_share(pair.agreeing.value)} agree; read more pieces of the other"
                " states."
            )


def _whose(pair: Pair) -> str:
    return f"{pair.one} twice" if pair.again else f"{pair.one} and {pair.other}"


def _of_matrices(found: Reliability) -> Iterator[str]:
    readings, confusion = found.readings, found.confusion
    if confusion is None:
        return
    if not confusion.converged:
        yield "The confusion matrices had not come to rest; take them as rough."
    known = int((readings.truth >= 0).sum())
    if known < len(readings.pieces):
        of = f"of {len(readings.pieces) - known} of {len(readings.pieces)} pieces" if known else ""
        yield (
            f"The truth {of or 'of every piece'} is only what the examiners agree on: an error that"
            " all of them share does not show."
        )
    total = confusion.pieces.sum(axis=0)
    for state, n, own in zip(
        readings.states, total.tolist(), confusion.matrices.mean(axis=0).T.tolist(), strict=True
    ):
        true = readings.states.index(state)
        if n < FEW_OF_A_STATE:
            yield (
                f"{state}: about {n:.1f} pieces were truly so; that row of each matrix rests on"
                " little more than the even start."
            )
        elif max(own) > own[true]:
            other = readings.states[own.index(max(own))]
            yield (
                f"A reading of {state} is likelier on a piece that is truly {other}; names may have"
                " changed places. Give the truth of some pieces."
            )
