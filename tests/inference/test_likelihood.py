"""What a finding says, as a table: readings, doubt, obstruction and measures."""

from math import exp, log, sqrt

import numpy as np
import pytest
from networks import build
from scipy import stats

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import log_likelihood
from claywit.inference.likelihood import parent_tables, without_reading_error
from claywit.inference.network import compile_network
from claywit.model.tables import LogNormal, Normal, StudentT

ROOT = {"states": ["one", "two"], "rows": [{"p": {"one": 0.5, "two": 0.5}}]}


def leaf(rows, **more):
    node = {"states": ["x", "y", "z"], "parents": ["root"], "rows": [
        {"given": {"root": "one"}, "p": rows[0]}, {"given": {"root": "two"}, "p": rows[1]}], **more}  # fmt: skip
    veil = {"states": ["clear", "thick"], "rows": [{"p": {"clear": 0.8, "thick": 0.2}}]}
    matrices = {
        "M": {
            "node": "leaf",
            "p": {"x": {"x": 0.8, "y": 0.2}, "y": {"y": 1}, "z": {"x": 0.3, "z": 0.7}},
        }
    }
    return compile_network(
        build("leaf", {"root": ROOT, "veil": veil, "leaf": node}, reading_matrices=matrices)
    )


ROWS = {"x": 0.90, "y": 0.06, "z": 0.04}, {"x": 0.05, "y": 0.55, "z": 0.40}


def says(network, **finding):
    first, *_ = parent_tables(network, Finding("leaf", **finding))
    return np.exp(first.values).tolist()


def test_a_certain_reading_says_what_the_rows_say():
    assert says(leaf(ROWS), state="x") == pytest.approx([0.90, 0.05])


def test_a_half_certain_reading_shrinks_a_ratio_of_18_to_about_4():
    """Worked by hand for k = 3: .90 and .05 read at .733 become .67 and .16."""
    one, two = says(leaf(ROWS), state="x", sure=0.733)
    assert one == pytest.approx(0.733 * 0.90 + 0.1335 * 0.10)
    assert two == pytest.approx(0.733 * 0.05 + 0.1335 * 0.95)
    assert one / two == pytest.approx(4.1, abs=0.05)


def test_a_reading_sure_at_one_in_k_says_nothing():
    one, two = says(leaf(ROWS), state="x", sure=1 / 3)
    assert one == pytest.approx(two)


def test_a_likelihood_finding_averages_over_the_states():
    found = says(leaf(ROWS), likelihood={"x": 1.0, "y": 0.5, "z": 0.0})
    assert found == pytest.approx([0.90 + 0.03, 0.05 + 0.275])


def test_a_reading_matrix_says_how_often_each_true_state_is_read_so():
    assert says(leaf(ROWS), state="x", matrix="M") == pytest.approx(
        [0.8 * 0.90 + 0.3 * 0.04, 0.8 * 0.05 + 0.3 * 0.40]
    )


def test_on_rows_that_hold_reading_error_sure_replaces_that_error():
    rows = {"x": 0.92, "y": 0.04, "z": 0.04}, {"x": 0.04, "y": 0.92, "z": 0.04}
    network = leaf(rows, reading_error="in_rows")
    assert says(network, state="x", sure=0.92) == pytest.approx(says(network, state="x"))
    assert says(network, state="x", sure=0.733) == pytest.approx([0.733, 0.1335])
    assert says(network, state="x", sure=1.0) == pytest.approx([1.0, 0.0])


@pytest.mark.parametrize("seed", range(10))
def test_sure_at_the_error_of_the_rows_is_the_plain_reading_for_any_rows(seed):
    """The error spread over each of the other states is the smallest cell of all rows."""
    rng = np.random.default_rng(seed)
    shares = 0.02 + 0.94 * rng.dirichlet(np.ones(3), 2)
    network = leaf([dict(zip("xyz", row, strict=True)) for row in shares.tolist()],
                   reading_error="in_rows")  # fmt: skip
    sure = 1 - 2 * shares.min()
    for state in "xyz":
        found = says(network, state=state, sure=sure)
        assert found == pytest.approx(says(network, state=state), rel=1e-12)


def test_taking_the_reading_error_out_leaves_probabilities():
    rows = np.array([[0.92, 0.05, 0.03], [0.40, 0.40, 0.20]])
    true = without_reading_error(rows, rows.ndim - 1)
    assert true.min() >= 0
    assert true.sum(axis=1) == pytest.approx([1, 1])


def test_not_visible_speaks_of_the_obstruction_alone():
    network = leaf(ROWS, visibility={"parent": "veil", "p": {"clear": 0.01, "thick": 0.75}})
    (only,) = parent_tables(network, Finding("leaf", not_visible=True))
    assert only.scope == ("veil",)
    assert np.exp(only.values) == pytest.approx([0.01, 0.75])


def test_a_reading_is_itself_evidence_that_nothing_is_in_the_way():
    network = leaf(ROWS, visibility={"parent": "veil", "p": {"clear": 0.01, "thick": 0.75}})
    _, seen = parent_tables(network, Finding("leaf", state="x"))
    assert np.exp(seen.values) == pytest.approx([0.99, 0.25])


VALUES = [5.0, 5.7, 6.9, 9.5, 25.0, 60.0]


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize("u", [0.0, 0.3])
def test_densities_of_values_are_those_of_scipy(value, u):
    reading = Measure(value=value)
    normal = log_likelihood(Normal(mean=6, sd=0.5), reading, u)
    assert normal == pytest.approx(stats.norm.logpdf(value, 6, sqrt(0.25 + u**2)), rel=1e-12)
    student = log_likelihood(StudentT(location=6, scale=0.5, df=4), reading, u)
    assert student == pytest.approx(stats.t.logpdf(value, 4, 6, sqrt(0.25 + u**2)), rel=1e-12)
    lognormal = log_likelihood(LogNormal(median=6, log_sd=0.3), reading, u)
    shape = sqrt(0.09 + (u / value) ** 2)
    assert lognormal == pytest.approx(stats.lognorm.logpdf(value, shape, scale=6), rel=1e-12)


LIMITS = [(5.5, 6.5), (None, 5.0), (6.2, None), (7.0, 7.5), (9.0, 9.5), (None, 2.0), (20.0, None)]


@pytest.mark.parametrize(("low", "high"), LIMITS)
def test_probabilities_of_bounded_values_are_those_of_scipy(low, high):
    reading = Measure(low=low, high=high)

    def between(frozen):
        a, b = -np.inf if low is None else low, np.inf if high is None else high
        upper = a > frozen.median()
        return frozen.sf(a) - frozen.sf(b) if upper else frozen.cdf(b) - frozen.cdf(a)

    student = exp(log_likelihood(StudentT(location=6, scale=0.5, df=4), reading, 0))
    assert student == pytest.approx(between(stats.t(4, 6, 0.5)), rel=1e-9)
    normal = exp(log_likelihood(Normal(mean=6, sd=0.5), reading, 0))
    assert normal == pytest.approx(between(stats.norm(6, 0.5)), rel=1e-9)
    lognormal = exp(log_likelihood(LogNormal(median=6, log_sd=0.3), reading, 0))
    assert lognormal == pytest.approx(between(stats.lognorm(0.3, scale=6)), rel=1e-9)


def test_a_bound_beyond_the_range_of_a_double_still_ranks():
    far, near = (log_likelihood(Normal(mean=m, sd=0.1), Measure(low=20.0), 0) for m in (6.0, 8.0))
    assert -np.inf < far < near
    assert near == pytest.approx(stats.norm.logsf(120.0), rel=1e-4)


SIZES = {"measured": {"height": "mm", "width": "mm"}, "u": {"height": 0.1, "width": 0.1},
         "parents": ["mould", "paste"], "dimensions": {
             "cavity": {"M1": {"height": 42.6, "width": 31.2}},
             "unfiled": {"M0": {"height": {"mean": 41, "sd": 6}, "width": {"mean": 30.2, "sd": 4.4},
                                "correlation": 0.98, "tails": 3}},
             "shrinkage": {"B": {"mean": 0.036, "sd": 0.006}, "C": {"mean": 0.052, "sd": 0.008}}}}  # fmt: skip


def sizes(**changed):
    two = lambda a, b: {"states": [a, b], "rows": [{"p": {a: 0.5, b: 0.5}}]}  # noqa: E731
    node = {**SIZES, "dimensions": {**SIZES["dimensions"], **changed}}
    return compile_network(
        build("sizes", {"mould": two("M1", "M0"), "paste": two("B", "C"), "size": node})
    )


def size_table(network, **measures):
    (table,) = parent_tables(network, Finding("size", measures=measures))
    return np.exp(table.values)


CAVITY, U = np.array([42.6, 31.2]), np.array([0.1, 0.1])
HEIGHT, WIDTH = Measure(value=41.2), Measure(value=30.1)


def scale_of(sd, u=U):
    return np.diag(u**2) + sd**2 * np.outer(CAVITY, CAVITY)


def test_sizes_that_shrink_together_have_the_density_of_a_multivariate_t():
    found = size_table(sizes(), height=HEIGHT, width=WIDTH)
    for j, (mean, sd) in enumerate([(0.036, 0.006), (0.052, 0.008)]):
        t = stats.multivariate_t(CAVITY * (1 - mean), scale_of(sd), df=4)
        assert found[0, j] == pytest.approx(t.pdf([41.2, 30.1]), rel=1e-12)
    together = np.array([[36, 0.98 * 26.4], [0.98 * 26.4, 19.36]]) + np.diag(U**2)
    stranger = stats.multivariate_t([41, 30.2], together, df=3)
    assert found[1] == pytest.approx([stranger.pdf([41.2, 30.1])] * 2, rel=1e-12)


def test_the_scale_matrix_of_m05_in_ferry_paste_is_the_published_one():
    """Worked in the definition of the demonstration: mean and scale of mould M05, paste B."""
    assert pytest.approx([41.066, 30.077], abs=0.001) == CAVITY * (1 - 0.036)
    assert scale_of(0.006)[0] == pytest.approx([0.07533, 0.04785], abs=1e-5)
    assert scale_of(0.006)[1, 1] == pytest.approx(0.04504, abs=1e-5)


def test_normal_tails_give_a_multivariate_normal():
    found = size_table(sizes(tails="normal"), height=HEIGHT, width=WIDTH)
    normal = stats.multivariate_normal(CAVITY * (1 - 0.036), scale_of(0.006))
    assert found[0, 0] == pytest.approx(normal.pdf([41.2, 30.1]), rel=1e-12)


def test_a_missing_dimension_leaves_the_marginal_of_the_other():
    found = size_table(sizes(), height=HEIGHT)
    t = stats.t(4, 42.6 * (1 - 0.036), sqrt(scale_of(0.006)[0, 0]))
    assert found[0, 0] == pytest.approx(t.pdf(41.2), rel=1e-12)
    exact = stats.t(4, 42.6 * (1 - 0.036), 0.006 * 42.6)  # limits hold their own doubt
    bounded = size_table(sizes(), height=Measure(low=41.0, high=41.5))
    assert bounded[0, 0] == pytest.approx(exact.cdf(41.5) - exact.cdf(41.0), rel=1e-9)


def test_a_stated_uncertainty_takes_the_place_of_the_models_own():
    found = size_table(sizes(), height=Measure(value=41.2, u=0.4), width=WIDTH)
    t = stats.multivariate_t(CAVITY * 0.964, scale_of(0.006, np.array([0.4, 0.1])), df=4)
    assert found[0, 0] == pytest.approx(t.pdf([41.2, 30.1]), rel=1e-12)


def test_a_noisy_max_takes_the_highest_of_what_its_causes_propose():
    """By hand: leak .9/.1 and a cause .5/.2/.3 give .45, .25, .30."""
    nodes = {"cause": {"states": ["off", "on"], "rows": [{"p": {"off": 0.5, "on": 0.5}}]},
             "level": {"states": ["low", "mid", "high"], "parents": ["cause"], "noisy_max": {
                 "leak": {"p": {"mid": 0.1}},
                 "causes": [{"given": {"cause": "on"}, "p": {"mid": 0.2, "high": 0.3}}]}}}  # fmt: skip
    table = compile_network(build("gate", nodes)).rows["level"]
    assert table[0] == pytest.approx([0.9, 0.1, 0.0])
    assert table[1] == pytest.approx([0.45, 0.25, 0.30])


def test_log_densities_never_leave_the_range_of_a_double():
    found = log_likelihood(Normal(mean=0, sd=0.001), Measure(value=1e6), 0)
    assert found == pytest.approx(-0.5e18 - log(0.001 * sqrt(2 * np.pi)))
