"""Outer bounds: no model contaminated as far as stated leaves them."""

from dataclasses import replace

import numpy as np
import pytest
from networks import a_case, random_model
from scipy import stats
from small import HIDDEN, examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_odds
from claywit.inference.varied import compile_varied
from claywit.reasoning.uncertainty import outer_bounds

NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


@pytest.mark.parametrize("seed", range(20))
def test_no_contaminated_model_leaves_the_outer_bounds(seed):
    rng = np.random.default_rng(seed)
    known = random_model(rng, 7, hideable=0.0, gates=0.0)
    network = compile_network(known)
    findings, root = a_case(rng, known)
    varied = compile_varied(network, findings, [root])
    states = known.node(root).state_names
    pair = ({root: states[:1]}, {root: states[1:2]})
    bounds = outer_bounds(varied, root, pair)
    for _ in range(30):
        rows = {}
        for name, table in network.rows.items():
            other = rng.dirichlet(np.full(table.shape[-1], 0.3), table.shape[:-1]) * (table > 0)
            other /= np.maximum(other.sum(axis=-1, keepdims=True), 1e-300)
            rows[name] = (1 - bounds.epsilon) * table + bounds.epsilon * other
        piece = compile_piece(replace(network, rows=rows), findings, [root])
        joint = piece.log_joint(np.ones((1, len(findings)), dtype=bool))
        for k, share in enumerate(varied.marginal(joint, root)[:, 0]):
            assert bounds.shares[k].low - 1e-12 <= share <= bounds.shares[k].high + 1e-12
        bans = log_odds(joint, *(varied.holds(p) for p in pair))[0] / np.log(10)
        if bounds.posterior and np.isfinite(bans):
            assert bounds.posterior.low - 1e-9 <= bans <= bounds.posterior.high + 1e-9


def test_the_leader_holds_up_to_the_contamination_that_is_stated():
    known = model()
    network = compile_network(known)
    varied = compile_varied(network, examined(known, "{rim: bevelled}").findings, ["shop"])
    bounds = outer_bounds(varied, "shop", (NORTH, SOUTH))
    # By hand: north .5 x .8 against south .4 x .1; lower (1 - e)^2 .4, upper of south
    # ((1 - e) .4 + e)((1 - e) .1 + e): they cross near e = .264; the largest tried is .2.
    assert bounds.holds_to == pytest.approx(0.2)
    low, high = ((1 - 0.01) ** 2 * 0.4, (0.99 * 0.5 + 0.01) * (0.99 * 0.8 + 0.01))
    south = ((1 - 0.01) ** 2 * 0.04, (0.99 * 0.4 + 0.01) * (0.99 * 0.1 + 0.01))
    assert bounds.posterior.low == pytest.approx(np.log10(low / south[1]))
    assert bounds.posterior.high == pytest.approx(np.log10(high / south[0]))


def bounds_of(findings, text=HIDDEN):
    known = model(text)
    varied = compile_varied(compile_network(known), examined(known, findings).findings, ["r"])
    return outer_bounds(varied, "r", ({"r": ("a",)}, {"r": ("b",)})).shares[0]


def test_a_measure_that_can_be_hidden_is_bounded_by_its_density_and_its_visibility():
    """Corners by hand at e = .01: each visible share and each density at its ends, P(a) at its own."""
    bounds = bounds_of("{size: {h: 5.2 mm}}")
    e, density = 0.01, stats.norm.pdf([5.2 - 5, 5.2 - 6], scale=np.hypot(1, 0.1))
    seen = np.array([0.9 * 0.9 + 0.1 * 0.5, 0.4 * 0.9 + 0.6 * 0.5])
    found = []
    for corner in np.ndindex(2, 2, 2, 2):
        f = [(1 - e) * d + e * density.max() * c for d, c in zip(density, corner[:2], strict=True)]
        v = [(1 - e) * s + e * c for s, c in zip(seen, corner[2:], strict=True)]
        a, b = f[0] * v[0] * ((1 - e) * 0.5 + e), f[1] * v[1] * (1 - e) * 0.5
        found.append(a / (a + b))
    assert bounds.high >= max(found) - 1e-9


def test_a_measure_that_is_only_bounded_may_be_certain_under_contamination():
    """P(h > 9) is .0000317 and .00135; one in a hundred of a row may lie above 9."""
    bounds = bounds_of("{size: {above: 9 mm}}")
    assert bounds.low < 0.05
    assert bounds.high > 0.9
