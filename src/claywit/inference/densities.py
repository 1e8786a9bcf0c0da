"""Log densities and log interval probabilities of measured values.

Everything is a logarithm from the start: a reading 40 sd from every mean must still rank
its explanations.
"""

from dataclasses import dataclass
from functools import cache
from math import inf, lgamma, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from claywit.evidence.findings import Measure
from claywit.model.tables import LogNormal, Normal, StudentT

Floats = NDArray[np.float64]
NEGLIGIBLE = 40.0  # nats below the largest density, where nothing reaches the last digit
_BREAKS = np.array([-inf, -20.0, -12.0, -4.0, 4.0, 12.0, 20.0, inf])
AT_ONCE = 1024  # pairs of limits, for each of which there are 448 points


def log_student(q: Floats, log_det: Floats, df: float, dims: int) -> Floats:
    """Return the log density of a multivariate Student-t; normal for infinite *df*.

    Args:
        q: squared Mahalanobis distance by the scale matrix.
        log_det: log determinant of the scale matrix, as it is (not a covariance).
        df: degrees of freedom.
        dims: how many dimensions.

    Source: Kotz & Nadarajah (2004), Multivariate t Distributions, eq. 1.1 (from memory).
    """
    if df == np.inf:
        return -0.5 * (q + log_det + dims * log(2 * pi))
    constant = lgamma((df + dims) / 2) - lgamma(df / 2) - 0.5 * dims * log(df * pi)
    return constant - 0.5 * log_det - 0.5 * (df + dims) * np.log1p(q / df)


@dataclass(frozen=True)
class Located:
    """A density by where it lies: *at* and *scale*, arrays of one shape, and its tails.

    df: degrees of freedom, infinite for a normal. on_log: it is the density of the logarithm.
    """

    at: Floats
    scale: Floats
    df: float
    on_log: bool = False


def located(density: Normal | StudentT | LogNormal) -> Located:
    """Return *density* by where it lies, its arrays without axes."""
    if isinstance(density, LogNormal):
        return Located(np.array(log(density.median)), np.array(density.log_sd), inf, on_log=True)
    if isinstance(density, Normal):
        return Located(np.array(density.mean), np.array(density.sd), inf)
    return Located(np.array(density.location), np.array(density.scale), density.df)


def log_likelihood(density: Normal | StudentT | LogNormal, measure: Measure, u: float) -> float:
    """Return log P(measure | density), as `log_measured`."""
    return float(log_measured(located(density), measure, u))


def log_measured(density: Located, measure: Measure, u: float) -> Floats:
    """Return log P(measure | density), the reading's standard uncertainty *u* added.

    A value gives a density per unit, limits give a probability; the limits of a log-normal
    count as exact, since an uncertainty is another share of each.
    """
    if measure.value is not None:
        return log_value(density, np.array(measure.value), u)
    low, high = measure.low, measure.high
    if density.on_log:
        if high is not None and high <= 0:
            return np.full(density.at.shape, -inf)
        low = log(low) if low is not None and low > 0 else None
        high = log(high) if high is not None else None
        u = 0.0
    return _log_between(density, low, high, u)


def log_limits(density: Located, low: Floats, high: Floats) -> Floats:
    """Return log P(low < value < high) of each pair of exact limits, as `log_measured`.

    Args:
        density: one density, its arrays without axes.
        low: the lower limits, shape (pairs,), infinite where there is none.
        high: the upper limits, as *low*.
    """
    possible = np.ones(low.shape, dtype=bool)
    if density.on_log:
        possible = high > 0
        low, high = on_log_scale(low, high)
    # The same few limits of what can be measured stand beside many pieces.
    pairs, of = np.unique(np.stack([low, high], axis=1), axis=0, return_inverse=True)
    parts = np.array_split(pairs, -(-len(pairs) // AT_ONCE))
    logs = [_log_between(density, part[:, 0], part[:, 1], 0.0) for part in parts]
    return np.where(possible, np.concatenate(logs)[of.ravel()], -inf)


def on_log_scale(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the logarithms of limits, infinite where a limit is not above 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(low > 0, np.log(low), -inf), np.where(high > 0, np.log(high), inf)


def log_value(density: Located, value: Floats, u: float | Floats) -> Floats:
    """Return the log density per unit of *value*, which broadcasts against the density.

    The uncertainty is added to the scale in squares, for a log-normal on the logarithm.
    """
    if not density.on_log:
        scale = np.hypot(density.scale, u)
        return log_student(((value - density.at) / scale) ** 2, 2 * np.log(scale), density.df, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(value)
        scale = np.hypot(density.scale, u / value)
        found = log_student(((logs - density.at) / scale) ** 2, 2 * np.log(scale), density.df, 1)
        return np.where(value > 0, found - logs, -inf)


def _log_between(
    density: Located, low: float | Floats | None, high: float | Floats | None, u: float
) -> Floats:
    scale = np.hypot(density.scale, u)
    least = np.full(scale.shape, -inf) if low is None else (low - density.at) / scale
    most = np.full(scale.shape, inf) if high is None else (high - density.at) / scale
    mirrored = most < 0  # the limit nearer the middle comes first
    near, far = np.where(mirrored, -most, least), np.where(mirrored, -least, most)
    if density.df == inf:
        return _log_between_normal(near, far)
    return _log_between_t(near, far, density.df)


def _log_between_normal(low: Floats, high: Floats) -> Floats:
    """Return log P(low < z < high), for high >= 0, by quadrature outwards from the middle.

    Only the fall of the density from its largest value in the interval is integrated, so
    neither a narrow interval nor one far out in the tail loses digits.
    """
    near = np.maximum(low, 0.0)
    with np.errstate(over="ignore", invalid="ignore"):
        reach = 2 * NEGLIGIBLE / (np.sqrt(near * near + 2 * NEGLIGIBLE) + near)
        t, weights = _grid(np.maximum(low - near, -reach), np.minimum(high - near, reach))
        area = (weights * np.exp(-0.5 * t * (2 * near[..., np.newaxis] + t))).sum(axis=-1)
        found = _log(area) - 0.5 * (near * near + log(2 * pi))
        return np.where(near * near == inf, -inf, found)


def _log_between_t(low: Floats, high: Floats, df: float) -> Floats:
    """Return log P(low < t < high), for high >= 0, by quadrature over asinh(t / sqrt(df)).

    The substitution makes the density cosh(y)^-df, which is smooth and falls off
    exponentially, whatever *df* is; otherwise as for a normal.
    """
    low, high = np.arcsinh(low / sqrt(df)), np.arcsinh(high / sqrt(df))
    with np.errstate(invalid="ignore"):
        near = _log_cosh(np.maximum(low, 0.0))
        least = near + NEGLIGIBLE / df
        reach = least + np.log1p(np.sqrt(-np.expm1(-2 * least)))  # where log cosh is *least*
        y, weights = _grid(np.maximum(low, -reach), np.minimum(high, reach))
        area = (weights * np.exp(-df * (_log_cosh(y) - near[..., np.newaxis]))).sum(axis=-1)
        constant = lgamma((df + 1) / 2) - lgamma(df / 2) - 0.5 * log(pi)
        return np.where(low == inf, -inf, constant - df * near + _log(area))


def _grid(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the points and weights of Gauss-Legendre quadrature in panels from low to high.

    Shape (*low, points).
    """
    breaks = np.clip(_BREAKS, low[..., np.newaxis], high[..., np.newaxis])
    half = 0.5 * np.diff(breaks)[..., np.newaxis]
    middle = 0.5 * (breaks[..., 1:] + breaks[..., :-1])[..., np.newaxis]
    nodes, weights = _legendre()
    points = middle + half * nodes
    return points.reshape(*low.shape, -1), (half * weights).reshape(*low.shape, -1)


@cache
def _legendre() -> tuple[Floats, Floats]:
    """Return points and weights from -1 to 1, which take long to load and few pieces need."""
    points, weights = np.polynomial.legendre.leggauss(64)
    return points, weights


def _log_cosh(y: Floats) -> Floats:
    size = np.abs(y)
    small = np.log1p(2 * np.sinh(0.5 * np.minimum(size, 20.0)) ** 2)
    return np.where(size > 20, size - log(2), small)


def _log(area: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        logs: Floats = np.log(area)
    return logs
