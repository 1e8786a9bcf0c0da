"""Numbers on their way out: stated digits for files, plain forms for people."""

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from claywit.inference.piece import TOLD
from claywit.reasoning.explanation import NATS_PER_BAN

MOST_ODDS = 1_000  # in words, to 1


def decimal(log_p: float) -> str:
    """Return a probability, given as a logarithm, at 12 significant digits; `0` if excluded."""
    return "0" if log_p == -math.inf else f"{math.exp(min(log_p, 0.0)):#.12g}"


def share(p: float) -> str:
    """Return a probability at 12 significant digits; `0` for 0."""
    return "0" if p <= 0 else f"{min(p, 1.0):#.12g}"


def twelve_digits(value: float) -> float:
    """Return *value* at 12 significant digits."""
    return float(f"{value:.12g}")


def bans(value: float) -> float | None:
    """Return a weight at 9 decimals, never -0; None where it is not finite."""
    return round(value, 9) + 0.0 if math.isfinite(value) else None


def factor(weight: float) -> float | None:
    """Return 10 to the *weight* at 3 significant digits; None where no double holds it."""
    return three_digits(10**weight) if abs(weight) < 300 else None


def log10_odds(log_p: NDArray[np.float64]) -> list[float | None]:
    """Return each state's log10 odds against all others together.

    Args:
        log_p: natural logs of the joint with the evidence, one a state, on any scale.

    The others are added up themselves, not taken from 1 - p, so that a posterior of
    1 - 1e-14 keeps its odds. None where a state is excluded, or is all that is left.
    """
    found: list[float | None] = []
    for i, own in enumerate(log_p):
        rest = np.delete(log_p, i)
        greatest = rest.max()
        if own == -np.inf or greatest == -np.inf:
            found.append(None)
            continue
        others = greatest + math.log(np.exp(rest - greatest).sum())
        found.append(bans(float(own - others) / NATS_PER_BAN))
    return found


def three_digits(value: float) -> float:
    """Return *value* at 3 significant digits."""
    return float(f"{value:.3g}")


def ranked(shares: Mapping[str, str]) -> list[str]:
    """Return states by their probabilities at 12 digits, likeliest first, as `piece.ranked`."""

    def told(state: str) -> float:
        p = float(shares[state])
        return round(math.log(p), TOLD) if p > 0 else -math.inf

    return sorted(shares, key=lambda state: -told(state))


def percent(p: float | str) -> str:
    """Return a probability for a reader; never 0% or 100%."""
    shown = f"{100 * float(p):.1f}"
    shown = {"0.0": "below 0.1", "100.0": "above 99.9"}.get(shown, shown)
    return f"{shown}%"


def seen_share(share: float) -> str:
    """Return a share that was counted in whole percent: all and none only where it is so."""
    if share in {0, 1}:
        return "all" if share else "none"
    shown = f"{100 * share:.0f} %"
    return {"0 %": "under 1 %", "100 %": "over 99 %"}.get(shown, shown)


def of_hundred(p: float) -> str:
    """Return a share in pieces of a hundred, and neither none nor all where it is not so."""
    shown = f"{100 * p:.1f}"
    return {"0.0": "<0.1", "100.0": ">99.9"}.get(shown, shown)


def decimals(value: float, digits: int) -> str:
    """Return *value* at so many decimals, never −0."""
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "−")


def row_part(p: float) -> str:
    """Return a share of a row, or how sure a reading is, at 3 digits; 1 only where it is 1."""
    shown = f"{p:.3g}"
    return "above 0.999" if shown == "1" and p < 1 else shown


def row_number(value: float) -> str:
    """Return a number of a row, a share or a measure, at 4 digits; 1 for no share below it."""
    shown = f"{value:.4g}"
    return "above 0.9999" if shown == "1" and value < 1 else shown


def chance(p: float | None, is_density: bool) -> str:  # noqa: FBT001 - a template's call
    """Return the probability of a finding, or its density, for a reader."""
    if p is None:
        return "–"
    return f"~{p:.2g}" if is_density else percent(p)


def signed_bans(value: float | None, excludes: str = "neither") -> str:
    """Return a weight with its sign, in bans at two decimals; `≈ 0` where they show nothing.

    A weight without limit is ∞ with the sign of the side it is good for; `–` where there was
    nothing left to move.
    """
    if value is None:
        return {"against": "+∞", "for": "−∞"}.get(excludes, "–")
    return "≈ 0" if abs(value) < 0.005 else f"{value:+.2f}".replace("-", "−")


def times(ratio: float | None, most: int = MOST_ODDS) -> str:
    """Return odds or a likelihood ratio in words: `22 to 1`, `1 to 4.5`, `even`.

    Two digits, and an end where percentages have theirs (above 99.9%): what words say must not
    look better known than the numbers of a model ever are. The report holds the number itself.

    Args:
        ratio: None where no double holds it.
        most: where the words end; counted pieces can support more than a model's numbers.
    """
    if ratio is None:
        return "beyond any figure"
    if ratio > most:
        return f"more than {most:,} to 1"
    if ratio < 1 / most:
        return f"less than 1 to {most:,}"
    if two_digits(ratio) == "1" or two_digits(1 / ratio) == "1":
        return "even"
    return f"{two_digits(ratio)} to 1" if ratio > 1 else f"1 to {two_digits(1 / ratio)}"


def times_better(ratio: float | None) -> str:
    """Return how much better odds become, in words that end as those of `times`: `8 times`."""
    if ratio is None or ratio > MOST_ODDS:
        return f"more than {MOST_ODDS:,} times"
    return f"{two_digits(ratio)} times"


def odds_said(ratio: float | None, weight: float | None) -> str:
    """Return odds in words, as `times`; the *weight*, in bans, where no double holds them."""
    if ratio is None and weight is not None:
        ratio = math.inf if weight > 0 else 0.0
    return times(ratio)


def two_digits(value: float) -> str:
    """Return *value* at two digits, as a person writes it: `1.7`, `68`, `390`."""
    return f"{float(f'{value:.2g}'):,.12g}"
