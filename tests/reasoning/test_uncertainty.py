"""Intervals, outer bounds, and whether the intervals hold what they promise."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from networks import a_case, build, random_model, with_n
from scipy import stats
from small import examined, model

from claywit.assessment import assess
from claywit.inference.contributions import contributions
from claywit.inference.drawing import Dice, Drawn, draw
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_odds
from claywit.inference.varied import compile_varied, entering, run
from claywit.reasoning import uncertainty
from claywit.reasoning.sensitivity import doubts
from claywit.reasoning.uncertainty import intervals
from claywit.records import files

STANDARDS = files.read_standards()
NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


def of_shops(findings, text=None, seed=1):
    known = model(text) if text else model()
    network = compile_network(known)
    found = examined(known, findings).findings
    varied, before = (compile_varied(network, f, ["shop"]) for f in (found, ()))
    return intervals(varied, before, "shop", (NORTH, SOUTH), np.random.default_rng(seed))


def test_without_findings_the_interval_is_that_of_the_prior_row():
    """Gelman et al., Bayesian Data Analysis, 2.4: 437 girls of 980, Beta(438, 544), .415 to .477."""
    nodes = {"sex": {"states": ["girl", "boy"],
                     "rows": [{"p": {"girl": 438 / 982, "boy": 544 / 982}, "n": 982}]}}  # fmt: skip
    network = compile_network(build("placenta-previa", nodes))
    varied = compile_varied(network, (), ["sex"])
    pair = ({"sex": ("girl",)}, {"sex": ("boy",)})
    found = intervals(varied, varied, "sex", pair, np.random.default_rng(1))
    girl = found.shares["sex"][0]
    # 2,000 draws give an end of the interval to about .001.
    assert (girl.low, girl.high) == pytest.approx((0.41506549, 0.47719977), abs=0.003)


def test_one_finding_has_the_interval_of_a_ratio_of_beta_draws():
    found = of_shops("{rim: bevelled}").total
    rng = np.random.default_rng(7)
    ratio = stats.beta.rvs(16, 4, size=400_000, random_state=rng) / stats.beta.rvs(
        2, 18, size=400_000, random_state=rng
    )
    low, high = np.quantile(np.log10(ratio), [0.025, 0.975])
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.06)


def test_who_makes_the_draws_does_not_change_them():
    known = model()
    findings = examined(known, "{rim: bevelled, mark: stroke}").findings
    network = compile_network(known)
    varied, before = (compile_varied(network, f, ["shop"]) for f in (findings, ()))

    def backwards(work, rounds):
        every = [pickle.loads(pickle.dumps((work, one))) for one in rounds]  # noqa: S301
        return reversed([work(one) for work, one in reversed(every)])

    here, elsewhere = (
        intervals(varied, before, "shop", (NORTH, SOUTH), np.random.default_rng(1), run_all=run_all)
        for run_all in (map, backwards)
    )
    assert here == elsewhere


def test_the_same_seed_gives_the_same_interval_and_another_seed_nearly_the_same():
    one, again, other = (of_shops("{rim: bevelled, mark: stroke}", seed=s) for s in (1, 1, 2))
    assert one == again
    assert one.total != other.total
    assert one.total.low == pytest.approx(other.total.low, abs=0.08)


def test_the_more_stands_behind_the_rows_the_narrower_the_interval():
    width = []
    for n in (5, 20, 80, 320):
        known = with_n(model(), n)
        network = compile_network(known)
        found = examined(known, "{rim: bevelled}").findings
        varied, before = (compile_varied(network, f, ["shop"]) for f in (found, ()))
        total = intervals(varied, before, "shop", (NORTH, SOUTH), np.random.default_rng(1)).total
        width.append(total.high - total.low)
    assert width == sorted(width, reverse=True)
    # Four times the pieces, half the width.
    assert width[2] / width[3] == pytest.approx(2, rel=0.15)


def test_a_row_without_n_is_exact_and_said_to_be():
    from small import SHOPS

    row = "p: {bevelled: 0.1, flat: 0.9}, source: test"
    text = SHOPS.replace(f"{row}, n: 20", row)
    found = of_shops("{rim: bevelled}", text)
    assert found.exact == {"rim": 1}
    whole = of_shops("{rim: bevelled}").total
    assert found.total.high - found.total.low < whole.high - whole.low


def test_a_clients_prior_is_not_drawn():
    known = model()
    given = examined(known, "{}", "priors: {shop: {north: 0.2, south: 0.7, other: 0.1}}")
    report = assess(known, given, STANDARDS)
    assert report.intervals.prior_bans[0] == pytest.approx(report.intervals.prior_bans[1])


def sliced(drawn, d):
    """Return one of the drawn networks as a network of its own."""
    network = drawn.network

    def of(values, plain):
        return values[..., d] if values.ndim > plain.ndim else values

    base = compile_network(network.model)
    return replace(
        network,
        rows={k: of(drawn.whole(k).rows[k], v) for k, v in base.rows.items()},
        hiding={k: of(v, base.hiding[k]) for k, v in network.hiding.items()},
        densities={
            k: tuple(replace(row, at=of(row.at, b.at), scale=of(row.scale, b.scale))
                     for row, b in zip(v, base.densities[k], strict=True))
            for k, v in network.densities.items()
        },
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(25))
def test_every_draw_gets_the_answer_of_a_model_with_its_numbers(seed):
    rng = np.random.default_rng(seed)
    known = with_n(random_model(rng, 9, measured=0.2), 6.0)
    network = compile_network(known)
    findings, root = a_case(rng, known)
    varied = compile_varied(network, findings, [root])
    drawn = draw(network, known.by_name, Dice(rng, 3))
    together = run(varied.tree, entering(varied, drawn))
    everything = np.ones((1, len(findings)), dtype=bool)
    for d in range(3):
        alone = compile_piece(sliced(drawn, d), findings, [root]).log_joint(everything)[:, 0]
        assert together[:, d] == pytest.approx(alone, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_what_is_kept_of_a_piece_read_otherwise_changes_no_draw(seed):
    """The same dice for one reading after the other, then for networks that have kept nothing."""
    rng = np.random.default_rng(seed)
    known = with_n(random_model(rng, 9, measured=0.2), 6.0)
    network = compile_network(known)
    leaves = sorted(name for name in network.leaves if known.node(name).states)
    reads = [{leaf: state} for leaf in leaves for state in known.node(leaf).state_names]
    for read in ({}, *reads, {}):
        found, afresh = (
            draw(each, known.by_name, Dice(np.random.default_rng(seed), 5), read)
            for each in (network, replace(network))
        )
        assert found.rows.keys() == afresh.rows.keys()
        assert found.said.keys() == afresh.said.keys() == read.keys()
        for name in found.rows:
            assert (found.rows[name] == afresh.rows[name]).all()
        for name in found.said:
            assert (found.said[name] == afresh.said[name]).all()
        for name, one in found.network.densities.items():
            for x, y in zip(one, afresh.network.densities[name], strict=True):
                assert (x.at == y.at).all()
    assert len(network.draws) == 1


def test_columns_too_small_for_a_double_are_run_again_in_logarithms():
    nodes = {"r": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]}}
    for i in range(60):
        nodes[f"t{i}"] = {"states": ["x", "y"], "parents": ["r"],
                          "rows": [{"given": {"r": "a"}, "p": {"x": 1e-12, "y": 1 - 1e-12}},
                                   {"given": {"r": "b"}, "p": {"x": 2e-12, "y": 1 - 2e-12}}]}  # fmt: skip
        nodes[f"s{i}"] = {"states": ["x", "y"], "parents": ["r"],
                          "rows": [{"given": {"r": "a"}, "p": {"x": 0.9, "y": 0.1}},
                                   {"given": {"r": "b"}, "p": {"x": 1e-13, "y": 1 - 1e-13}}]}  # fmt: skip
    network = compile_network(build("tiny", nodes))
    from claywit.evidence.findings import Finding

    findings = [Finding(name, state="x") for name in nodes if name != "r"]
    varied = compile_varied(network, findings, ["r"])
    sides = [varied.holds({"r": (s,)}) for s in ("a", "b")]
    joint = run(varied.tree, entering(varied, Drawn(network)), sides)
    expected = 60 * (np.log(1e-12) + np.log(0.9) - np.log(2e-12) - np.log(1e-13))
    assert log_odds(joint, *sides)[0] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_for_much_evidence_the_draws_spread_as_the_delta_method_says(seed, monkeypatch):
    """First order: Var(log odds) is the sum over rows of slope' Cov slope (Dirichlet covariance)."""
    monkeypatch.setattr(uncertainty, "ENDS", (0.1587, 0.8413))  # one sd either side
    rng = np.random.default_rng(seed)
    known = with_n(random_model(rng, 8, zeros=0.0, measured=0.2), 4000.0)
    network = compile_network(known)
    findings, root = a_case(rng, known)
    varied, before = (compile_varied(network, f, [root]) for f in (findings, ()))
    states = known.node(root).state_names
    pair = ({root: states[:1]}, {root: states[1:2]})
    parts = contributions(varied)
    if parts.left_out:
        pytest.skip("a half-certain reading bends rows")
    expected = np.sqrt(sum(d.sd**2 for d in doubts(varied, parts, *pair)))
    found = intervals(varied, before, root, pair, rng).posterior
    assert (found.high - found.low) / 2 == pytest.approx(expected, rel=0.09)


def test_a_drawn_gate_of_rare_causes_keeps_an_answer():
    text = """
format: claywit-model/1
name: gate
version: 1.0.0
targets: [r]
status: elicited
nodes:
  r:
    states: [a, b]
    rows: [{p: {a: 0.5, b: 0.5}, n: 1}]
  g:
    states: ['no', 'yes']
    parents: [r]
    examine: {view: lens}
    noisy_or:
      leak: {p: {'yes': 0.999}, n: 1}
      causes: [{given: {r: a}, p: {'yes': 0.999}, n: 1}]
"""
    known = model(text)
    report = assess(known, examined(known, "{g: 'no'}"), STANDARDS)
    for low, high in report.intervals.shares["r"].values():
        assert 0 <= float(low) <= float(high) <= 1


def test_a_reading_that_bends_its_rows_lies_within_its_own_interval():
    text = """
format: claywit-model/1
name: bent
version: 1.0.0
targets: [r]
status: elicited
nodes:
  r:
    states: [a, b]
    rows: [{p: {a: 0.5, b: 0.5}, n: 20}]
  t:
    states: [x, y, z]
    parents: [r]
    reading_error: in_rows
    examine: {view: lens}
    rows:
      - {given: {r: a}, p: {x: 0.9, y: 0.05, z: 0.05}, n: 20}
      - {given: {r: b}, p: {x: 0.05, y: 0.9, z: 0.05}, n: 20}
"""
    known = model(text)
    report = assess(known, examined(known, "{t: {state: x, sure: 0.95}}"), STANDARDS)
    low, high = report.intervals.posterior_bans
    assert low < report.explanation.posterior_bans < high
