from dataclasses import replace

import networks
import numpy as np
import pytest
from learnt import cases, drawn
from scipy.optimize import approx_fprime

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import parent_tables
from claywit.inference.network import compile_network
from claywit.learning import cavities, sizes
from claywit.learning.effective import effective
from claywit.learning.fit import fit
from claywit.learning.numbers import elicited

BODY = {
    "mould": {"states": ["M1", "M2", "M0"], "rows": [{"p": {"M1": 0.5, "M2": 0.3, "M0": 0.2}, "n": 20}]},
    "paste": {"states": ["A", "B"], "rows": [{"p": {"A": 0.5, "B": 0.5}, "n": 20}]},
    "size": {
        "parents": ["mould", "paste"], "measured": {"h": "mm", "w": "mm"}, "u": {"h": 0.1, "w": 0.1},
        "dimensions": {
            "cavity": {"M1": {"h": 46, "w": 34}, "M2": {"h": 43, "w": 31}},
            "unfiled": {"M0": {"h": {"mean": 41, "sd": 6}, "w": {"mean": 30, "sd": 4},
                               "correlation": 0.9, "tails": 3}},
            "shrinkage": {"A": {"mean": 0.02, "sd": 0.005}, "B": {"mean": 0.05, "sd": 0.01}},
            "tails": 4, "n": 10}},
}  # fmt: skip
MODEL = networks.build("sizes", BODY)
NODE = MODEL.node("size")


def pieces(seed, count=12):
    rng = np.random.default_rng(seed)
    values = np.array([44.0, 32.5]) * (1 + 0.05 * rng.standard_normal((count, 1)))
    values = values + 0.2 * rng.standard_normal((count, 2))
    values[0, 1] = values[3, 0] = np.nan
    u = np.full((count, 2), 0.1)
    u[5] = [0.4, 0.3]
    return values, u


@pytest.mark.parametrize("tails", ["normal", 4])
def test_the_density_of_sizes_is_the_one_the_engine_weighs(tails):
    changed = {**BODY["size"]["dimensions"], "tails": tails}
    model = networks.build("sizes", {**BODY, "size": {**BODY["size"], "dimensions": changed}})
    network, node = compile_network(model), model.node("size")
    values, u = pieces(1)
    found = sizes.log_sizes_of(network, sizes.sized(node, values, u))
    for i, (row, doubt) in enumerate(zip(values, u, strict=True)):
        measures = {
            name: Measure(value=v, u=d)
            for name, v, d in zip(node.measured, row, doubt, strict=True)
            if not np.isnan(v)
        }
        table = parent_tables(network, Finding("size", measures=measures))[0]
        assert found[:, i] == pytest.approx(table.values.ravel(), abs=1e-9)


def test_the_slopes_are_those_of_the_height():
    network = compile_network(MODEL)
    prior = cavities.elicited(network, NODE)
    values, u = pieces(2)
    of = sizes.sized(NODE, values, u)
    rng = np.random.default_rng(3)
    weights = rng.dirichlet(np.ones(6), len(values)).T
    vector = cavities._Vector(prior)
    start = 0.3 * rng.standard_normal(len(vector.steps(network.sizes["size"])))
    near = cavities._near(of, weights)
    value, slope = cavities._slope(network, of, near, (vector, start))
    numeric = approx_fprime(
        start, lambda x: cavities._slope(network, of, near, (vector, x))[0], 1e-6
    )
    assert slope == pytest.approx(numeric, rel=2e-4, abs=2e-3 * np.abs(numeric).max())
    assert np.isfinite(value)


def test_a_vector_and_back_are_the_same_sizes():
    network = compile_network(MODEL)
    vector = cavities._Vector(cavities.elicited(network, NODE))
    held = replace(network.sizes["size"], cavity=network.sizes["size"].cavity * 1.01)
    back = vector.sizes(vector.steps(held))
    for name in ("cavity", "mean", "sd", "unfiled_at", "unfiled_sd"):
        assert getattr(back, name) == pytest.approx(getattr(held, name), rel=1e-12)


def test_a_cavity_and_a_shrinkage_are_recovered_from_many_pieces():
    true = {**BODY["size"]["dimensions"],
            "cavity": {"M1": {"h": 46.5, "w": 34}, "M2": {"h": 43, "w": 31}},
            "shrinkage": {"A": {"mean": 0.025, "sd": 0.003}, "B": {"mean": 0.05, "sd": 0.01}}}  # fmt: skip
    truth = networks.build("sizes", {**BODY, "size": {**BODY["size"], "dimensions": true}})
    found = fit(MODEL, drawn(truth, 1500, 4)).numbers.network.sizes["size"]
    # Only cavity x (1 - shrinkage) can be seen; each alone leans on what was elicited.
    assert found.cavity[0] * (1 - found.mean[0]) == pytest.approx(
        [46.5 * 0.975, 34 * 0.975], rel=1e-3
    )
    assert found.cavity[0, 0] / found.cavity[0, 1] == pytest.approx(46.5 / 34, rel=1e-3)
    assert found.sd == pytest.approx([0.003, 0.01], rel=0.15)
    assert found.unfiled_sd[0] == pytest.approx([6, 4], rel=0.12)


def test_a_mould_with_few_pieces_stays_near_what_was_elicited():
    def moved(count):
        some = [{"mould": "M2", "paste": "A", "size": (43.5, 31.36)}] * count
        held = fit(MODEL, cases(MODEL, some)).numbers.network.sizes["size"]
        return float(held.cavity[1, 0] * (1 - held.mean[0]) - 43 * 0.98)

    one, ten, many = moved(1), moved(10), moved(1000)
    gap = 43.5 - 43 * 0.98
    assert 0 < one < 0.3 * gap
    assert one < ten < many
    assert many == pytest.approx(gap, rel=0.02)


def test_pieces_count_for_their_mould_and_their_paste():
    some = [{"mould": "M2", "paste": "A", "size": (42.1, 30.4)}] * 3
    worth = effective(
        fit(MODEL, cases(MODEL, [*some, {"mould": "M0", "paste": "B", "size": (52, 38)}]))
    )
    assert worth.moulds["size"] == pytest.approx([0, 3, 1], abs=1e-3)
    assert worth.pastes["size"] == pytest.approx([3, 0], abs=1e-3)


def test_sizes_without_n_are_exact():
    bare = {k: v for k, v in BODY["size"]["dimensions"].items() if k != "n"}
    model = networks.build("sizes", {**BODY, "size": {**BODY["size"], "dimensions": bare}})
    found = fit(model, drawn(MODEL, 50, 1))
    held = elicited(model).network.sizes["size"]
    assert found.numbers.network.sizes["size"].cavity == pytest.approx(held.cavity)


def test_a_limit_places_a_piece_and_moves_no_size():
    special = {0: {"size": Finding("size", measures={"h": Measure(low=44.5)})}}
    found = fit(MODEL, cases(MODEL, [{"paste": "A"}], special=special))
    assert found.numbers.shares["mould"][0, 0] > 0.5
    held = elicited(MODEL).network.sizes["size"]
    assert found.numbers.network.sizes["size"].cavity == pytest.approx(held.cavity, rel=1e-6)


def test_pieces_with_the_same_measures_stand_together_in_their_order():
    nan = np.nan
    values = np.array([[1, nan], [2, 3], [4, nan], [nan, nan], [nan, 5], [6, 7]])
    found = sizes.sized(NODE, values, np.full(values.shape, 0.1))
    told = {tuple(one.measures.tolist()): one.pieces.tolist() for one in found.alike}
    assert told == {(0,): [0, 2], (0, 1): [1, 5], (1,): [4]}
    assert found.count == 6
    assert sizes.sized(NODE, values[:0], values[:0]).alike == ()
