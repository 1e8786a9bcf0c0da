import networks
import numpy as np
import pytest
from learnt import cases, drawn
from scipy import integrate, stats

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import Located, log_limits, log_measured
from claywit.learning.effective import effective
from claywit.learning.fit import Terms, fit
from claywit.learning.leaves import _between


def leaf(density, u=None, n=10):
    node = {"parents": ["s"], "measured": {"t": "mm"}, "rows": [
        {"given": {"s": "a"}, **density, "n": n}, {"given": {"s": "b"}, **density, "n": n}]}  # fmt: skip
    if u:
        node["u"] = {"t": u}
    prior = {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}, "n": 20}]}
    return networks.build("leaf", {"s": prior, "t": node})


NORMAL = {"normal": {"mean": 5, "sd": 1}}


def test_a_normal_row_is_the_posterior_mean_of_conjugate_updating():
    """n0 = 10 at 5 with sd 1, then 7, 8, 9: Gelman et al. 2013, 3.3."""
    model = leaf(NORMAL)
    found = fit(
        model, cases(model, [{"s": "a", "t": t} for t in (7.0, 8.0, 9.0)]), Terms(enough=1e-12)
    )
    row = found.numbers.network.densities["t"][0]
    assert float(row.at) == pytest.approx((10 * 5 + 24) / 13)
    assert float(row.scale) ** 2 == pytest.approx((10 * 1 + 2 + 10 * 3 / 13 * 9) / 13)
    assert effective(found).rows["t"] == pytest.approx([3, 0])


def test_the_spread_of_pieces_is_what_is_left_without_the_reading_error():
    truth, model = leaf(NORMAL, u=0.8), leaf({"normal": {"mean": 5, "sd": 2}}, u=0.8)
    read = drawn(truth, 6000, 2)
    read.doubts["t"][:] = np.nan
    rng = np.random.default_rng(1)
    read.values["t"][:] = 5 + rng.standard_normal((6000, 1)) + 0.8 * rng.standard_normal((6000, 1))
    row = fit(model, read).numbers.network.densities["t"][0]
    assert float(row.scale) == pytest.approx(1, abs=0.05)


def test_a_student_t_row_shrugs_off_what_lies_far_out():
    heavy = {"student_t": {"location": 5, "scale": 1, "df": 3}}
    pieces = [{"s": "a", "t": t} for t in (5.5, 6.0, 6.5, 60.0)]
    rows = [
        fit(model, cases(model, pieces)).numbers.network.densities["t"][0]
        for model in (leaf(heavy), leaf(NORMAL))
    ]
    assert float(rows[0].at) < 5.6
    assert float(rows[1].at) > 8


def test_a_student_t_is_recovered_from_many_pieces():
    truth = leaf({"student_t": {"location": 6, "scale": 0.5, "df": 4}})
    model = leaf({"student_t": {"location": 5, "scale": 1, "df": 4}})
    row = fit(model, drawn(truth, 4000, 6)).numbers.network.densities["t"][0]
    assert float(row.at) == pytest.approx(6, abs=0.04)
    assert float(row.scale) == pytest.approx(0.5, abs=0.03)


def test_a_log_normal_is_learned_on_the_logarithm():
    model = leaf({"log_normal": {"median": 5, "log_sd": 0.5}})
    found = fit(model, cases(model, [{"s": "a", "t": 8.0}] * 5), Terms(enough=1e-12))
    row = found.numbers.network.densities["t"][0]
    assert float(row.at) == pytest.approx((10 * np.log(5) + 5 * np.log(8)) / 15)


@pytest.mark.parametrize("df", [np.inf, 1.0, 3.0, 30.0])
@pytest.mark.parametrize(
    "limits", [(6.0, None), (None, 4.2), (4.9, 5.4), (9.0, 11.0), (None, None)]
)
def test_moments_between_limits_are_those_of_adding_up(df, limits):
    low, high = limits
    at, scale = 5.0, 0.7
    ends = (-np.inf if low is None else low, np.inf if high is None else high)
    density = Located(np.array(at), np.array(scale), df)
    one, *found = (float(part[0]) for part in _between(density, *np.array([ends]).T))
    law = stats.norm(at, scale) if df == np.inf else stats.t(df, at, scale)

    def weight(y):
        return 1.0 if df == np.inf else (df + 1) / (df + ((y - at) / scale) ** 2)

    parts = [
        integrate.quad(lambda y, k=k: weight(y) * (y - at) ** k * law.pdf(y), *ends, limit=200)[0]
        for k in range(3)
    ]
    chance = law.cdf(ends[1]) - law.cdf(ends[0])
    assert one == 1
    assert found == pytest.approx([p / chance for p in parts], rel=1e-6, abs=1e-8)


FAR = [(-1e300, 1e300), (1e200, np.inf), (-np.inf, -1e200), (1e308, 1.1e308), (60.0, 61.0)]


@pytest.mark.parametrize("df", [np.inf, 1.0, 30.0])
@pytest.mark.parametrize("on_log", [False, True])
def test_limits_far_out_leave_numbers(df, on_log):
    low, high = np.array(FAR).T
    found = _between(Located(np.array(5.0), np.array(0.7), df, on_log), low, high)
    assert np.isfinite(found).all()


@pytest.mark.parametrize("df", [np.inf, 3.0])
@pytest.mark.parametrize("on_log", [False, True])
def test_many_limits_at_once_have_the_chances_of_each_alone(df, on_log):
    rng = np.random.default_rng(4)
    low = np.where(rng.random(3000) < 0.3, -np.inf, rng.normal(4, 3, 3000).round(2))
    high = np.where(rng.random(3000) < 0.3, np.inf, low + rng.exponential(2, 3000))
    high = np.where(np.isneginf(low), rng.normal(6, 3, 3000), high)
    density = Located(np.array(1.0), np.array(0.7), df, on_log)
    found = log_limits(density, low, high)
    for k in range(0, 3000, 30):
        ends = [None if np.isinf(end) else float(end) for end in (low[k], high[k])]
        alone = log_measured(density, Measure(low=ends[0], high=ends[1]), 0.0)
        assert found[k] == pytest.approx(float(alone), rel=1e-13)


def test_a_limit_pulls_a_row_as_a_value_beyond_it_would_but_less():
    model = leaf(NORMAL)
    special = {i: {"t": Finding("t", measures={"t": Measure(low=7.0)})} for i in range(5)}
    limited = fit(model, cases(model, [{"s": "a"}] * 5, special=special))
    valued = fit(model, cases(model, [{"s": "a", "t": 7.0}] * 5))
    at = [float(f.numbers.network.densities["t"][0].at) for f in (limited, valued)]
    assert 5 < at[1] < at[0] < 8
    assert (np.diff(limited.objective) > -1e-9).all()


def test_a_row_of_unknown_parents_counts_as_far_as_they_are_known():
    model = leaf(NORMAL)
    found = fit(model, cases(model, [{"t": 5.0}] * 8))
    assert effective(found).rows["t"] == pytest.approx([2, 2], rel=1e-3)
