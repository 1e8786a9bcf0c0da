"""Measured leaves far from the ordinary: far tails, narrow limits, many dimensions."""

from itertools import pairwise
from math import exp, log, pi, sqrt

import numpy as np
import pytest
from networks import build
from scipy import integrate, stats

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import log_likelihood
from claywit.inference.likelihood import parent_tables
from claywit.inference.network import compile_network
from claywit.model.tables import LogNormal, Normal, StudentT

NORMAL, LOG_NORMAL = Normal(mean=6, sd=0.5), LogNormal(median=6, log_sd=0.3)
STUDENTS = [StudentT(location=6, scale=0.5, df=df) for df in (1, 1.5, 2.5, 4, 30, 300)]
# How many scales out; 300 degrees of freedom leave the range of scipy's doubles soon.
FAR = [(t, out) for t in STUDENTS for out in (0, 1, 10, 1e3, 1e6) if t.df < 300 or out < 1e3]


def log_between(density, low, high):
    return log_likelihood(density, Measure(low=low, high=high), 0)


def log_difference(of_low, of_high):
    return of_low + np.log1p(-np.exp(of_high - of_low))


@pytest.mark.parametrize("sd", [1, 5, 8, 20, 37, 39, 60, 1000])
@pytest.mark.parametrize("width", [0.01, 1, np.inf])
def test_a_normal_keeps_its_digits_however_far_out(sd, width):
    """39 sd out scipy's own sf is 0; its logarithm is not."""
    low, high = 6 + 0.5 * sd, None if width == np.inf else 6 + 0.5 * (sd + width)
    of_high = -np.inf if high is None else stats.norm.logsf((high - 6) / 0.5)
    expected = log_difference(stats.norm.logsf((low - 6) / 0.5), of_high)
    assert log_between(NORMAL, low, high) == pytest.approx(expected, rel=1e-12, abs=1e-12)
    mirrored = log_between(NORMAL, None if high is None else 12 - high, 12 - low)
    assert mirrored == pytest.approx(expected, rel=1e-12, abs=1e-11)


@pytest.mark.parametrize(("density", "scales"), FAR, ids=str)
def test_a_student_t_keeps_its_digits_for_every_df_however_far_out(density, scales):
    frozen = stats.t(density.df, 6, 0.5)
    low, high = 6 + 0.5 * scales, 6 + 0.5 * (2 * scales + 1)
    tails = frozen.sf(low), frozen.sf(high)
    assert exp(log_between(density, low, None)) == pytest.approx(tails[0], rel=1e-12)
    assert exp(log_between(density, None, 12 - low)) == pytest.approx(tails[0], rel=1e-12)
    assert exp(log_between(density, low, high)) == pytest.approx(tails[0] - tails[1], rel=1e-12)


@pytest.mark.parametrize("density", [NORMAL, *STUDENTS, LOG_NORMAL], ids=str)
@pytest.mark.parametrize("at", [5.9, 6.0, 6.6, 9.0, 26.0])
@pytest.mark.parametrize("width", [1e-2, 1e-3, 1e-5])
def test_narrow_limits_hold_the_density_times_the_width(density, at, width):
    """A difference of two tails would lose digits that the interval still has.

    Its ends are rounded to a double's last place, so its width is known no better.
    """
    found = exp(log_between(density, at, at + width) - log(width))
    points, weights = np.polynomial.legendre.leggauss(5)
    values = at + width * (points + 1) / 2
    densities = [exp(log_likelihood(density, Measure(value=v), 0)) for v in values]
    lost = 1e-12 + 8 * np.spacing(at) / width
    assert found == pytest.approx(weights @ densities / 2, rel=lost)


@pytest.mark.parametrize("density", [NORMAL, *STUDENTS, LOG_NORMAL], ids=str)
def test_intervals_that_leave_no_gap_share_out_the_whole(density):
    limits = [None, 1, 3, 5, 5.5, 6, 6.001, 7, 9, 30, 1e6, None]
    parts = [log_between(density, low, high) for low, high in pairwise(limits)]
    assert np.exp(parts).sum() == pytest.approx(1, abs=1e-12)
    assert log_between(density, None, None) == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("u", [0.0, 0.2])
@pytest.mark.parametrize("density", [NORMAL, STUDENTS[3]], ids=str)
def test_a_density_with_its_reading_error_still_integrates_to_one(density, u):
    def pdf(value):
        return exp(log_likelihood(density, Measure(value=value), u))

    assert integrate.quad(pdf, 6, np.inf)[0] == pytest.approx(0.5, abs=1e-8)


def thickness(**more):
    rows = [{"given": {"root": "a"}, "normal": {"mean": 6, "sd": 0.5}},
            {"given": {"root": "b"}, "student_t": {"location": 7, "scale": 0.4, "df": 4}}]  # fmt: skip
    root = {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]}
    leaf = {"measured": {"thick": "mm"}, "parents": ["root"], "rows": rows, **more}
    return compile_network(build("thick", {"root": root, "leaf": leaf}))


def leaf_table(network, name="leaf", **measures):
    (table,) = parent_tables(network, Finding(name, measures=measures))
    return np.exp(table.values)


def test_the_models_u_holds_where_the_finding_gives_none():
    stated = leaf_table(thickness(), thick=Measure(value=6.4, u=0.3))
    assert leaf_table(thickness(u={"thick": 0.3}), thick=Measure(value=6.4)) == pytest.approx(
        stated, rel=1e-15
    )
    expected = [
        stats.norm.pdf(6.4, 6, sqrt(0.25 + 0.09)),
        stats.t.pdf(6.4, 4, 7, sqrt(0.16 + 0.09)),
    ]
    assert stated == pytest.approx(expected, rel=1e-12)


def test_a_finding_may_be_finer_than_the_models_u():
    found = leaf_table(thickness(u={"thick": 0.3}), thick=Measure(value=6.4, u=0.01))
    assert found[0] == pytest.approx(stats.norm.pdf(6.4, 6, sqrt(0.25 + 0.0001)), rel=1e-12)


THREE = {"height": 40.0, "width": 30.0, "depth": 6.0}


def three_sizes(**unfiled):
    two = lambda a, b: {"states": [a, b], "rows": [{"p": {a: 0.5, b: 0.5}}]}  # noqa: E731
    stranger = {
        "height": {"mean": 41, "sd": 6}, "width": {"mean": 30.2, "sd": 4.4},
        "depth": {"mean": 5.5, "sd": 1.5}, "correlation": 0.9, "tails": 3, **unfiled,
    }  # fmt: skip
    size = {"measured": dict.fromkeys(THREE, "mm"), "u": dict.fromkeys(THREE, 0.1),
            "parents": ["mould", "paste"],
            "dimensions": {"cavity": {"M1": THREE}, "unfiled": {"M0": stranger},
                           "shrinkage": {"B": {"mean": 0.04, "sd": 0.006},
                                         "C": {"mean": 0.05, "sd": 0.008}}}}  # fmt: skip
    nodes = {"mould": two("M1", "M0"), "paste": two("B", "C"), "size": size}
    return compile_network(build("three", nodes))


READ = {"height": 38.5, "width": 28.7, "depth": 5.8}
SD, MEAN = np.array([6, 4.4, 1.5]), np.array([41, 30.2, 5.5])
TOGETHER = np.where(np.eye(3) == 1, 1, 0.9) * np.outer(SD, SD)


def measured(*names, u=None):
    return {name: Measure(value=READ[name], u=u) for name in names}


def test_three_sizes_that_shrink_together_have_the_density_of_a_multivariate_t():
    found = leaf_table(three_sizes(), "size", **measured(*READ))
    values, cavity = list(READ.values()), np.array(list(THREE.values()))
    scale = 0.01 * np.eye(3) + 0.008**2 * np.outer(cavity, cavity)
    pressed = stats.multivariate_t(cavity * 0.95, scale, df=4)
    assert found[0, 1] == pytest.approx(pressed.pdf(values), rel=1e-12)
    stranger = stats.multivariate_t(MEAN, TOGETHER + 0.01 * np.eye(3), df=3)
    assert found[1] == pytest.approx([stranger.pdf(values)] * 2, rel=1e-12)


def test_a_spread_of_measured_values_takes_no_second_reading_error():
    found = leaf_table(three_sizes(includes_u="true"), "size", **measured(*READ))
    stranger = stats.multivariate_t(MEAN, TOGETHER, df=3)
    assert found[1, 0] == pytest.approx(stranger.pdf(list(READ.values())), rel=1e-12)


@pytest.mark.parametrize("names", [("height", "depth"), ("depth", "height"), ("width",)])
def test_dimensions_that_were_not_taken_leave_the_marginal_of_the_rest(names):
    found = leaf_table(three_sizes(), "size", **measured(*names))
    kept = [list(READ).index(name) for name in names]
    values = [READ[name] for name in names]
    scale = (TOGETHER + 0.01 * np.eye(3))[np.ix_(kept, kept)]
    stranger = stats.multivariate_t(MEAN[kept], scale, df=3)
    assert found[1, 0] == pytest.approx(stranger.pdf(values), rel=1e-12)


def test_sizes_a_thousand_sd_away_still_rank_the_moulds():
    far = {name: Measure(value=40 * value) for name, value in READ.items()}
    (table,) = parent_tables(three_sizes(), Finding("size", measures=far))
    assert np.isfinite(table.values).all()
    assert table.values[1, 0] > table.values[0, 0]  # the stranger's wider spread


def test_a_normal_density_far_out_is_its_own_formula():
    found = log_likelihood(Normal(mean=0, sd=0.001), Measure(value=1e6), 0)
    assert found == pytest.approx(-0.5e18 - log(0.001 * sqrt(2 * pi)), rel=1e-15)
