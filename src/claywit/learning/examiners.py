"""How reliably a trait is read: between examiners, by one examiner again, against the truth."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from claywit.learning import kappa
from claywit.learning.dawid_skene import Confusion, estimate
from claywit.learning.kappa import Floats, Statistic
from claywit.learning.readings import Readings

FEWEST_TO_COMPARE = 2
LINEAR, QUADRATIC = 1, 2
Interval = tuple[float, float] | None


@dataclass(frozen=True)
class Coefficient:
    """A figure and its middle 95 %; nan and None where it has no value."""

    value: float
    interval: Interval


@dataclass(frozen=True)
class Pair:
    """Two series of readings of the same pieces: two examiners, or one examiner twice.

    linear, quadratic: weighted kappa, None for a trait whose states have no order.
    top_share: the share of the commonest state in both series together.
    """

    one: str
    other: str
    again: bool
    table: Floats
    agreeing: Coefficient
    kappa: Coefficient
    linear: Coefficient | None
    quadratic: Coefficient | None
    top_share: float

    @property
    def pieces(self) -> int:
        """Return on how many pieces the pair rests."""
        return int(self.table.sum())


@dataclass(frozen=True)
class Panel:
    """All examiners at once, each by the first reading of a piece.

    fleiss: None unless every piece was read equally often.
    ordered: alpha on the steps between states, None for a trait whose states have no order.
    """

    pieces: int
    agreeing: Coefficient
    alpha: Coefficient
    ordered: Coefficient | None
    fleiss: Coefficient | None


@dataclass(frozen=True)
class Reliability:
    """What repeated readings of one trait show.

    panel: None where no piece was read by two.
    confusion: None where there is nothing to estimate it from.
    rests: for each examiner and true state, how many readings its row rests on.
    """

    readings: Readings
    pairs: tuple[Pair, ...]
    panel: Panel | None
    confusion: Confusion | None
    rests: Floats


def examine(readings: Readings, *, seed: int, prior: float, ordered: bool = False) -> Reliability:
    """Return how reliably one trait was read.

    Args:
        readings: of that trait.
        seed: of the bootstrap over pieces.
        prior: pieces of each true state that stand behind every row of a confusion matrix
            before anything was read, evenly.
        ordered: whether the states stand in an order, so that a near miss is half a hit.
    """
    rng = np.random.default_rng(seed)
    counts = readings.counts()
    confusion = estimate(counts, readings.truth, prior) if len(readings.state) else None
    rests = np.zeros(counts.shape[1:])
    if confusion:
        rests = np.einsum("ij,iel->ej", confusion.pieces, counts)
    return Reliability(
        readings,
        tuple(_pairs(readings, rng, ordered=ordered)),
        _panel(readings, rng, ordered=ordered),
        confusion,
        rests,
    )


def _pairs(readings: Readings, rng: np.random.Generator, *, ordered: bool) -> Iterator[Pair]:
    first, again = readings.grid(0), readings.grid(1)
    make = partial(_pair, states=len(readings.states), rng=rng, ordered=ordered)
    for i, j in combinations(range(len(readings.examiners)), 2):
        names = (readings.examiners[i], readings.examiners[j])
        yield from make(first[:, i], first[:, j], names)
    for i, name in enumerate(readings.examiners):
        yield from make(first[:, i], again[:, i], (name, name))


def _pair(
    one: kappa.Ints,
    other: kappa.Ints,
    names: tuple[str, str],
    *,
    states: int,
    rng: np.random.Generator,
    ordered: bool,
) -> Iterator[Pair]:
    """Yield the pair, or nothing where too few pieces were read twice."""
    both = (one >= 0) & (other >= 0)
    if both.sum() < FEWEST_TO_COMPARE:
        return
    pieces = np.zeros((int(both.sum()), states, states))
    pieces[np.arange(len(pieces)), one[both], other[both]] = 1.0
    table = pieces.sum(axis=0)
    each = table.sum(axis=0) + table.sum(axis=1)

    samples = kappa.resampled(pieces, rng)

    def of(statistic: Statistic) -> Coefficient:
        return Coefficient(float(statistic(table)), kappa.interval(samples, statistic))

    yield Pair(
        one=names[0],
        other=names[1],
        again=names[0] == names[1],
        table=table,
        agreeing=of(kappa.share_agreeing),
        kappa=of(kappa.cohen),
        linear=of(partial(kappa.cohen, power=LINEAR)) if ordered else None,
        quadratic=of(partial(kappa.cohen, power=QUADRATIC)) if ordered else None,
        top_share=float(each.max() / each.sum()),
    )


def _panel(readings: Readings, rng: np.random.Generator, *, ordered: bool) -> Panel | None:
    grid = readings.grid(0)
    counts = (grid[:, :, np.newaxis] == np.arange(len(readings.states))).sum(axis=1)
    often = counts.sum(axis=1)
    pieces = kappa.coincidences(counts[often > 1].astype(np.float64))
    if len(pieces) < FEWEST_TO_COMPARE:
        return None
    table = pieces.sum(axis=0)

    samples = kappa.resampled(pieces, rng)

    def of(statistic: Statistic) -> Coefficient:
        return Coefficient(float(statistic(table)), kappa.interval(samples, statistic))

    even = len(set(often[often > 0].tolist())) == 1
    return Panel(
        pieces=len(pieces),
        agreeing=of(kappa.share_agreeing),
        alpha=of(kappa.alpha),
        ordered=of(partial(kappa.alpha, power=QUADRATIC)) if ordered else None,
        fleiss=of(kappa.fleiss) if even else None,
    )
