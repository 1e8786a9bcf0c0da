"""How many moulds there were, and how much of what they made a file of pieces covers.

The estimators come from studies of coin dies and from ecology, where the question is the same:
each rests on its own assumption of how unequal the lives of moulds were, so none is right alone.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp, log, sqrt

Z = 1.959963984540054  # of a two-sided 95 % interval


@dataclass(frozen=True)
class Sightings:
    """How often the moulds of a file were met.

    pieces: n, of moulds that can be told apart. moulds: d, different ones among them.
    frequencies: for each number of pieces how many moulds left so many, in rising order.
    """

    pieces: int
    moulds: int
    frequencies: Mapping[int, int]

    def left(self, times: int) -> int:
        """Return how many moulds left just so many pieces."""
        return self.frequencies.get(times, 0)


def sightings(counts: Iterable[int]) -> Sightings:
    """Return what *counts* of pieces by mould amount to; moulds without a piece do not count."""
    seen = [count for count in counts if count > 0]
    return Sightings(sum(seen), len(seen), dict(sorted(Counter(seen).items())))


@dataclass(frozen=True)
class Coverage:
    """Which share of all pieces is of moulds that the file holds, with a 95 % interval."""

    share: float
    low: float
    high: float

    @property
    def unseen(self) -> "Coverage":
        """Return the same of moulds that the file does not hold."""
        return Coverage(1 - self.share, 1 - self.high, 1 - self.low)


def coverage(seen: Sightings) -> Coverage:
    """Return 1 - f1 / n (Good 1953, Biometrika 40, 237), its interval cut off at 0 and 1.

    The interval is f1 / n +- z sqrt((f1 (n - f1) + 2 n f2) / n^3) about what is not covered
    (Esty 1983, Annals of Statistics 11, 905). Where no mould was met just once that says
    nothing, so there the lower end is the share above which one unseen mould would have been
    met with a chance of 95 %: 1 - its share, (0.05)^(1/n). Where every mould was met just once
    it says nothing either; there the upper end is that of moulds which made as many pieces, so
    few that one would have been met again with a chance of 95 %: 2 log(20) / (n - 1).

    Raises:
        ValueError: there is no piece.
    """
    n, once, twice = seen.pieces, seen.left(1), seen.left(2)
    if not n:
        raise ValueError("no piece, so nothing is known of what a file would cover")
    reach = Z * sqrt((once * (n - once) + 2 * n * twice) / n**3)
    share = 1 - once / n
    low = share - reach if once else min(1 - reach, 0.05 ** (1 / n))
    high = share + reach
    if once == n:
        high = 2 * log(20) / (n - 1) if n > 1 else 1.0
    return Coverage(share, max(low, 0.0), min(high, 1.0))


@dataclass(frozen=True)
class Estimate:
    """One estimate of the number of moulds, and what it takes for granted.

    moulds: None where the pieces are too few for it. low, high: a 95 % interval, if it has one.
    """

    name: str
    assumes: str
    source: str
    moulds: float | None
    low: float | None = None
    high: float | None = None


def estimates(seen: Sightings) -> tuple[Estimate, ...]:
    """Return the estimates of the number of moulds, in a fixed order.

    Raises:
        ValueError: there is no piece.
    """
    return _good(seen), _carter(seen), _geometric(seen), _chao(seen)


def _good(seen: Sightings) -> Estimate:
    """Return n d / (n - f1), d over the coverage; its interval is d over that of the coverage."""
    found = coverage(seen)

    def over(share: float) -> float | None:
        return seen.moulds / share if share > 0 else None

    return Estimate(
        "Good",
        "if every mould made as many pieces",
        "Good 1953, Biometrika 40, 237; interval from Esty 1983, Annals of Statistics 11, 905",
        over(found.share),
        over(found.high),
        over(found.low),
    )


def _carter(seen: Sightings) -> Estimate:
    """Return Carter's simplified formula, which changes with the pieces a mould; d at least."""
    n, d = seen.pieces, seen.moulds
    a, b = (1.124, 1.016) if n < 2 * d else (1.214, 1.197) if n < 3 * d else (1.069, 0.843)
    return Estimate(
        "Carter",
        "if lives of moulds spread as those of dies often do (gamma, shape 2)",
        "Carter 1983, ANS Museum Notes 28, 195 (formula from memory, checked by simulation)",
        max(n * d / (a * n - b * d), d) if n > d else None,
    )


def _geometric(seen: Sightings) -> Estimate:
    """Return n d / (n - d)."""
    n, d = seen.pieces, seen.moulds
    return Estimate(
        "geometric",
        "if a mould was as likely to break at any piece (exponential lives)",
        "Esty 2011, Numismatic Chronicle 171, 43 (formula from memory, checked by simulation)",
        n * d / (n - d) if n > d else None,
    )


def _chao(seen: Sightings) -> Estimate:
    """Return d + f1 (f1 - 1) / (2 (f2 + 1)), with an interval on log(estimate - d)."""
    d, once, twice = seen.moulds, seen.left(1), seen.left(2)
    unseen = once * (once - 1) / (2 * (twice + 1))
    low: float | None = None
    high: float | None = None
    if seen.pieces == d:
        return Estimate("Chao1", _CHAO[0], _CHAO[1], None)
    if unseen > 0:
        variance = (
            unseen
            + once * (2 * once - 1) ** 2 / (4 * (twice + 1) ** 2)
            + once**2 * twice * (once - 1) ** 2 / (4 * (twice + 1) ** 4)
        )
        factor = exp(Z * sqrt(log(1 + variance / unseen**2)))
        low, high = d + unseen / factor, d + unseen * factor
    return Estimate("Chao1", *_CHAO, d + unseen, low, high)


_CHAO = (
    "whatever the lives of moulds (a lower bound)",
    (
        "Chao 1984, Scand. J. Statist. 11, 265, bias-corrected;"
        " interval Chao 1987, Biometrics 43, 783 (from memory)"
    ),
)


def bounds(found: Iterable[Estimate]) -> tuple[float, float] | None:
    """Return the least and the greatest estimate, or None if no estimate can be made."""
    made = [estimate.moulds for estimate in found if estimate.moulds is not None]
    return (min(made), max(made)) if made else None
