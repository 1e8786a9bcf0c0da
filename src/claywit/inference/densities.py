"""Log densities and log interval probabilities of measured values.

Everything is a logarithm from the start: a reading 40 sd from every mean must still rank
its explanations.
"""

from math import asinh, expm1, hypot, inf, lgamma, log, log1p, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from claywit.evidence.findings import Measure
from claywit.model.tables import LogNormal, Normal, StudentT

Floats = NDArray[np.float64]
NEGLIGIBLE = 40.0  # nats below the largest density, where nothing reaches the last digit
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_BREAKS = np.array([-inf, -20.0, -12.0, -4.0, 4.0, 12.0, 20.0, inf])


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


def log_likelihood(density: Normal | StudentT | LogNormal, measure: Measure, u: float) -> float:
    """Return log P(measure | density), the reading's standard uncertainty *u* added.

    The uncertainty is added to the scale in squares, for a log-normal on the logarithm.
    A value gives a density per unit, limits give a probability; the limits of a log-normal
    count as exact, since an uncertainty is another share of each.
    """
    if isinstance(density, LogNormal):
        return _log_normal(density, measure, u)
    if isinstance(density, Normal):
        at, scale, df = density.mean, hypot(density.sd, u), np.inf
    else:
        at, scale, df = density.location, hypot(density.scale, u), density.df
    return log_located(measure, at, scale, df)


def log_located(measure: Measure, at: float, scale: float, df: float) -> float:
    """Return log P(measure) under a Student-t (normal for infinite *df*) at *at*."""
    if measure.value is not None:
        z = (measure.value - at) / scale
        return float(log_student(np.array(z * z), np.array(2 * log(scale)), df, 1))
    low = -np.inf if measure.low is None else (measure.low - at) / scale
    high = np.inf if measure.high is None else (measure.high - at) / scale
    if high < 0:
        low, high = -high, -low  # the limit nearer the middle comes first
    return _log_between_normal(low, high) if df == np.inf else _log_between_t(low, high, df)


def _log_normal(density: LogNormal, measure: Measure, u: float) -> float:
    if measure.value is not None:
        if measure.value <= 0:
            return -np.inf
        scale = hypot(density.log_sd, u / measure.value)
        on_log = Measure(value=log(measure.value))
        return log_located(on_log, log(density.median), scale, np.inf) - log(measure.value)
    limits = Measure(
        low=log(measure.low) if measure.low is not None and measure.low > 0 else None,
        high=log(measure.high) if measure.high is not None and measure.high > 0 else None,
    )
    if measure.high is not None and measure.high <= 0:
        return -np.inf
    return log_located(limits, log(density.median), density.log_sd, np.inf)


def _log_between_normal(low: float, high: float) -> float:
    """Return log P(low < z < high), for high >= 0, by quadrature outwards from the middle.

    Only the fall of the density from its largest value in the interval is integrated, so
    neither a narrow interval nor one far out in the tail loses digits.
    """
    near = max(low, 0.0)
    if near * near == inf:
        return -inf
    reach = 2 * NEGLIGIBLE / (sqrt(near * near + 2 * NEGLIGIBLE) + near)
    t, weights = _grid(max(low - near, -reach), min(high - near, reach))
    area = float(weights @ np.exp(-0.5 * t * (2 * near + t)))
    return _log(area) - 0.5 * (near * near + log(2 * pi))


def _log_between_t(low: float, high: float, df: float) -> float:
    """Return log P(low < t < high), for high >= 0, by quadrature over asinh(t / sqrt(df)).

    The substitution makes the density cosh(y)^-df, which is smooth and falls off
    exponentially, whatever *df* is; otherwise as for a normal.
    """
    low, high = asinh(low / sqrt(df)), asinh(high / sqrt(df))
    if low == inf:
        return -inf
    near = float(_log_cosh(np.array(max(low, 0.0))))
    least = near + NEGLIGIBLE / df
    reach = least + log1p(sqrt(-expm1(-2 * least)))  # where log cosh is *least*
    y, weights = _grid(max(low, -reach), min(high, reach))
    area = float(weights @ np.exp(-df * (_log_cosh(y) - near)))
    constant = lgamma((df + 1) / 2) - lgamma(df / 2) - 0.5 * log(pi)
    return constant - df * near + _log(area)


def _grid(low: float, high: float) -> tuple[Floats, Floats]:
    """Return the points and weights of Gauss-Legendre quadrature in panels from low to high."""
    breaks = np.clip(_BREAKS, low, high)
    half = 0.5 * np.diff(breaks)[:, np.newaxis]
    middle = 0.5 * (breaks[1:] + breaks[:-1])[:, np.newaxis]
    return (middle + half * _NODES).ravel(), (half * _WEIGHTS).ravel()


def _log_cosh(y: Floats) -> Floats:
    size = np.abs(y)
    small = np.log1p(2 * np.sinh(0.5 * np.minimum(size, 20.0)) ** 2)
    return np.where(size > 20, size - log(2), small)


def _log(area: float) -> float:
    return log(area) if area > 0 else -inf
