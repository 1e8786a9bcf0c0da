"""Single measures learned: where a normal, Student-t or log-normal row lies, and its spread.

Behind a Student-t stands a normal whose precision differs from piece to piece (its scale
mixture; Lange, Little & Taylor 1989, from memory), behind a reading the true value it misses by
its uncertainty. Both are summed out exactly, limits included, so each round climbs. What was
elicited is worth n pieces at that place with that spread (normal and scaled inverse chi-squared,
Gelman et al. 2013, Bayesian Data Analysis, 3.3, from memory); degrees of freedom stay.
"""

from dataclasses import dataclass, replace
from math import inf, log, sqrt

import numpy as np
from scipy import stats

from claywit.evidence.findings import Measure
from claywit.inference.densities import Located
from claywit.inference.network import Floats
from claywit.learning.slots import MeasureSlot


@dataclass(frozen=True)
class Sums:
    """What a row needs to know of its pieces.

    count: of pieces. weight: of those, each by how little it lies in the tails. first, second:
    the sums of true values and of their squares, by that weight.
    """

    count: float
    weight: float
    first: float
    second: float


def sums(slot: MeasureSlot, density: Located, weights: Floats) -> Sums:
    """Return what pieces say of a row, given how surely each of them is one of its pieces.

    Args:
        slot: the pieces.
        density: the row as it stands.
        weights: P(row | all findings) times the pieces a form stands for, shape (forms,).
    """
    known = ~np.isnan(slot.values)
    values, u, w = slot.values[known], slot.u[known], weights[known]
    if density.on_log:
        with np.errstate(divide="ignore", invalid="ignore"):
            values, u = np.log(values), u / values
        sound = np.isfinite(values)
        values, u, w = values[sound], u[sound], w[sound]
    at, scale = float(density.at), float(density.scale)
    whole = scale**2 + u**2
    kept = scale**2 / whole
    delta = values - at
    weight = np.ones_like(w)
    if density.df != inf:
        weight = (density.df + 1) / (density.df + delta**2 / whole)
    off = kept * delta  # of the true value from *at*
    parts = [
        float(w.sum()),
        float(w @ weight),
        float(w @ (weight * off)),
        float(w @ (weight * off**2 + kept * u**2)),
    ]
    for form, measure in slot.limits.items():
        moments = _between(density, measure)
        parts = [
            total + float(weights[form]) * one
            for total, one in zip(parts, (1.0, *moments), strict=True)
        ]
    # Turned from distances to values: sum of w (at + off), and of its square.
    count, weighed, first, second = parts
    return Sums(count, weighed, first + weighed * at, second + 2 * at * first + weighed * at**2)


def _between(density: Located, measure: Measure) -> tuple[float, float, float]:
    """Return the mean weight, weight times distance and distance squared between limits.

    A piece's weight times the Student-t density of df degrees is a Student-t density of df + 2
    at scale sqrt(df / (df + 2)), so the means are its moments between the limits.
    """
    at, scale = float(density.at), float(density.scale)
    low, high = measure.low, measure.high
    if density.on_log:
        low = log(low) if low is not None and low > 0 else None
        high = log(high) if high is not None and high > 0 else None
    z = [
        -inf if low is None else (low - at) / scale,
        inf if high is None else (high - at) / scale,
    ]
    df = density.df
    plain = stats.norm if df == inf else stats.t(df)
    heavy = stats.norm if df == inf else stats.t(df + 2, scale=sqrt(df / (df + 2)))
    chance = _chance(plain, z)
    if chance <= 1e-280:
        nearest = z[0] if z[0] > 0 else z[1]
        weight = 1.0 if df == inf else (df + 1) / (df + nearest**2)
        return weight, weight * nearest * scale, weight * nearest**2 * scale**2
    zero = _chance(heavy, z)
    first, second = _moments(df, z, zero)
    return zero / chance, scale * first / chance, scale**2 * max(second, 0.0) / chance


def _chance(law: "stats.rv_frozen", z: list[float]) -> float:
    """Return P(z0 < Z < z1) from the side on which it keeps its digits."""
    if z[0] > 0:
        return float(law.sf(z[0]) - law.sf(z[1]))
    return float(law.cdf(z[1]) - law.cdf(z[0]))


def _moments(df: float, z: list[float], zero: float) -> tuple[float, float]:
    """Return the first and second moments between limits of the law of `_between`."""
    ends = [0.0 if abs(one) == inf else one for one in z]
    if df == inf:
        heights = [0.0 if abs(one) == inf else float(stats.norm.pdf(one)) for one in z]
        first = heights[0] - heights[1]
        return first, zero + ends[0] * heights[0] - ends[1] * heights[1]
    # d/dz of the density f of df + 2 degrees at that scale s is -(v + 1) z f / (v s^2 + z^2).
    v, s2 = df + 2, df / (df + 2)
    law = stats.t(v, scale=sqrt(s2))
    tails = [
        0.0 if abs(one) == inf else (v * s2 + one**2) * float(law.pdf(one)) / (v - 1) for one in z
    ]
    first = tails[0] - tails[1]
    edge = ends[0] * tails[0] - ends[1] * tails[1]
    second = ((v - 1) * edge + v * s2 * zero) / (v - 2)
    return first, second


def moved(prior: Located, n: float, found: Sums) -> Located:
    """Return the row that its pieces and what was elicited make likeliest.

    Args:
        prior: the row as it was elicited.
        n: the pieces that it is worth.
        found: what its pieces say.
    """
    at0, scale0 = float(prior.at), float(prior.scale)
    at = (n * at0 + found.first) / (n + found.weight)
    spread = found.second - 2 * at * found.first + at**2 * found.weight
    squared = (n * scale0**2 + n * (at - at0) ** 2 + max(spread, 0.0)) / (n + found.count)
    return replace(prior, at=np.array(at), scale=np.array(sqrt(squared)))


def log_prior(prior: Located, n: float, now: Located) -> float:
    """Return the log prior density of a row, up to a constant."""
    scale2 = float(now.scale) ** 2
    off = float(now.at - prior.at) ** 2 + float(prior.scale) ** 2
    return -0.5 * n * (log(scale2) + off / scale2)
