"""Log densities and log interval probabilities of measured values.

Everything is a logarithm from the start: a reading 40 sd from every mean must still rank
its explanations.
"""

from math import erfc, lgamma, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from claywit.evidence.findings import Measure
from claywit.model.tables import LogNormal, Normal, StudentT

Floats = NDArray[np.float64]
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)


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
    A value gives a density per unit, limits give a probability.
    """
    if isinstance(density, LogNormal):
        return _log_normal(density, measure, u)
    if isinstance(density, Normal):
        at, scale, df = density.mean, sqrt(density.sd**2 + u**2), np.inf
    else:
        at, scale, df = density.location, sqrt(density.scale**2 + u**2), density.df
    return log_located(measure, at, scale, df)


def log_located(measure: Measure, at: float, scale: float, df: float) -> float:
    """Return log P(measure) under a Student-t (normal for infinite *df*) at *at*."""
    if measure.value is not None:
        q = np.array(((measure.value - at) / scale) ** 2)
        return float(log_student(q, np.array(2 * log(scale)), df, 1))
    low = -np.inf if measure.low is None else (measure.low - at) / scale
    high = np.inf if measure.high is None else (measure.high - at) / scale
    return _log_between_normal(low, high) if df == np.inf else _log_between_t(low, high, df)


def _log_normal(density: LogNormal, measure: Measure, u: float) -> float:
    if measure.value is not None:
        if measure.value <= 0:
            return -np.inf
        scale = sqrt(density.log_sd**2 + (u / measure.value) ** 2)
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
    """Return log P(low < z < high), keeping its digits far out in a tail."""
    if low > 0:
        low, high = -high, -low  # work in the lower tail, where erfc loses nothing
    inner = 0.5 * erfc(-high / sqrt(2))
    if inner > 0:
        total = inner - (0.5 * erfc(-low / sqrt(2)) if low > -np.inf else 0.0)
        if total > 0:
            return log(total)
    # Beyond 38 sd: the leading term of Mills' ratio; its relative error is below 1 / z^2.
    return -0.5 * high**2 - log(-high * sqrt(2 * pi))


def _log_between_t(low: float, high: float, df: float) -> float:
    """Return log P(low < t < high) by quadrature over atan(t / sqrt(df)).

    The substitution makes the density cos(x)^(df - 1), smooth and on a finite range, so
    integrating between the limits themselves loses no digits in a tail.
    """
    a, b = np.arctan(low / sqrt(df)), np.arctan(high / sqrt(df))
    x = 0.5 * (b - a) * _NODES + 0.5 * (a + b)
    logs = (df - 1) * np.log(np.cos(x))
    greatest = float(logs.max())
    area = 0.5 * (b - a) * float(_WEIGHTS @ np.exp(logs - greatest))
    constant = lgamma((df + 1) / 2) - lgamma(df / 2) - 0.5 * log(pi)
    return constant + greatest + log(area)
