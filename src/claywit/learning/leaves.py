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

from claywit.inference.densities import Located, on_log_scale
from claywit.inference.network import Floats
from claywit.learning.slots import MeasureSlot

FARTHEST = 1e100  # scales; nothing is known of what lies farther out
LEAST_CHANCE = 1e-280  # below which a chance between limits has no digits left


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
    if slot.limits:
        of = weights[list(slot.limits)]
        moments = _between(density, *slot.ends())
        parts = [total + float(of @ one) for total, one in zip(parts, moments, strict=True)]
    # Turned from distances to values: sum of w (at + off), and of its square.
    count, weighed, first, second = parts
    return Sums(count, weighed, first + weighed * at, second + 2 * at * first + weighed * at**2)


def _between(density: Located, low: Floats, high: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return 1 and the mean weight, weight times distance and distance squared between limits.

    A piece's weight times the Student-t density of df degrees is a Student-t density of df + 2
    at scale sqrt(df / (df + 2)), so the means are its moments between the limits.
    """
    at, scale, df = float(density.at), float(density.scale), density.df
    if density.on_log:
        low, high = on_log_scale(low, high)
    z = (_scales(low, at, scale), _scales(high, at, scale))
    plain = stats.norm if df == inf else stats.t(df)
    heavy = stats.norm if df == inf else stats.t(df + 2, scale=sqrt(df / (df + 2)))
    chance, zero = _chance(plain, z), _chance(heavy, z)
    first, second = _moments(df, z, zero)
    far = chance <= LEAST_CHANCE  # all of it lies at the nearer limit
    nearest = np.where(far, np.where(z[0] > 0, z[0], z[1]), 0.0)
    alone = np.ones_like(nearest) if df == inf else (df + 1) / (df + nearest**2)
    of = np.where(far, 1.0, chance)
    weight = np.where(far, alone, zero / of)
    once = np.where(far, alone * nearest, first / of)
    twice = np.where(far, alone * nearest**2, np.maximum(second, 0.0) / of)
    return np.ones_like(chance), weight, scale * once, scale**2 * twice


def _scales(ends: Floats, at: float, scale: float) -> Floats:
    """Return limits in units of the scale, none so far out that its square is no number."""
    z = (ends - at) / scale
    return np.where(np.isinf(z), z, np.clip(z, -FARTHEST, FARTHEST))


def _chance(law: "stats.rv_frozen", z: tuple[Floats, Floats]) -> Floats:
    """Return P(z0 < Z < z1) from the side on which it keeps its digits."""
    found: Floats = np.where(z[0] > 0, law.sf(z[0]) - law.sf(z[1]), law.cdf(z[1]) - law.cdf(z[0]))
    return found


def _moments(df: float, z: tuple[Floats, Floats], zero: Floats) -> tuple[Floats, Floats]:
    """Return the first and second moments between limits of the law of `_between`."""
    ends = [np.where(np.isinf(one), 0.0, one) for one in z]
    if df == inf:
        heights = [stats.norm.pdf(one) for one in z]
        return heights[0] - heights[1], zero + ends[0] * heights[0] - ends[1] * heights[1]
    # d/dz of the density f of df + 2 degrees at that scale s is -(v + 1) z f / (v s^2 + z^2).
    v, s2 = df + 2, df / (df + 2)
    law = stats.t(v, scale=sqrt(s2))
    tails = [
        np.where(np.isinf(one), 0.0, (v * s2 + end**2) * law.pdf(end) / (v - 1))
        for one, end in zip(z, ends, strict=True)
    ]
    edge = ends[0] * tails[0] - ends[1] * tails[1]
    return tails[0] - tails[1], ((v - 1) * edge + v * s2 * zero) / (v - 2)


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
