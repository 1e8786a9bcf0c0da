"""Noisy gates: the table is the closed form, to the last digit and to the last zero."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from networks import build

from claywit.evidence.findings import Finding
from claywit.inference.likelihood import parent_tables
from claywit.inference.network import compile_network

LEVELS = ["none", "low", "mid", "high"]


def gate(leak, *causes, levels=LEVELS, kind="noisy_max"):
    """Return the table of a gate with a two-state cause for each of *causes*."""
    nodes = {f"c{i}": {"states": ["off", "on"], "rows": [{"p": {"off": 0.5, "on": 0.5}}]}
             for i in range(len(causes))}  # fmt: skip
    entries = [{"given": {f"c{i}": "on"}, "p": p} for i, p in enumerate(causes)]
    nodes["level"] = {"states": levels, "parents": list(nodes),
                      kind: {"leak": {"p": leak}, "causes": entries}}  # fmt: skip
    return compile_network(build("gate", nodes))


def exact(leak, *active):
    """Return P(highest proposal) in fractions, by the product of P(at most this level)."""

    def at_most(p):
        shares = [Fraction(p.get(level, 0.0)) for level in LEVELS[1:]]
        return list(itertools.accumulate([1 - sum(shares), *shares]))

    products = [Fraction(1)] * len(LEVELS)
    for p in (leak, *active):
        products = [one * other for one, other in zip(products, at_most(p), strict=True)]
    return [high - low for low, high in itertools.pairwise([Fraction(0), *products])]


def test_two_causes_and_a_leak_by_hand():
    """P(at most low) = .9 x .5 x .8 = .36; P(none) = .9 x .3 x .6 = .162."""
    table = gate({"mid": 0.1}, {"low": 0.2, "high": 0.5}, {"low": 0.2, "mid": 0.2}).rows["level"]
    assert table[0, 0] == pytest.approx([0.9, 0, 0.1, 0])
    assert table[1, 1] == pytest.approx([0.162, 0.36 - 0.162, 0.5 - 0.36, 0.5])


def test_a_noisy_or_is_one_minus_the_product_of_what_fails():
    network = gate({"yes": 0.1}, {"yes": 0.7}, {"yes": 0.4}, levels=["no", "yes"], kind="noisy_or")
    table = network.rows["level"]
    assert table[1, 1, 1] == pytest.approx(1 - 0.9 * 0.3 * 0.6)
    assert table[1, 0, 1] == pytest.approx(1 - 0.9 * 0.3)


def random_share(rng):
    """Return a proposal of two decimals, as people write them, often without the top level."""
    shares = np.round(rng.dirichlet(np.ones(4)), 2)[1:]
    if rng.random() < 0.5:
        shares[2] = 0
    while shares.sum() > 1:
        shares -= 0.01
    return {s: round(float(p), 2) for s, p in zip(LEVELS[1:], shares, strict=True) if p > 0}


@pytest.mark.parametrize("seed", range(40))
def test_gates_of_two_decimals_agree_with_fractions_cell_by_cell(seed):
    """No cell is below 0, and a level that nothing proposes is at exactly 0."""
    rng = np.random.default_rng(seed)
    leak, one, other = (random_share(rng) for _ in range(3))
    table = gate(leak, one, other).rows["level"]
    assert table.min() >= 0
    for i, j in itertools.product(range(2), repeat=2):
        active = [p for on, p in ((i, one), (j, other)) if on]
        expected = [float(p) for p in exact(leak, *active)]
        assert table[i, j] == pytest.approx(expected, rel=1e-12, abs=2e-16)
        nobody = [k for k, s in enumerate(LEVELS[1:], 1) if not any(s in p for p in (leak, *active))]  # fmt: skip
        assert not table[i, j, nobody].any()


@pytest.mark.parametrize("share", [1e-3, 1e-9, 1e-15])
def test_a_rare_level_keeps_all_its_digits(share):
    """1 - (1 - share) would have lost them."""
    table = gate({"low": 0.2, "high": share}, {"mid": 0.3, "high": share}).rows["level"]
    expected = float(exact({"low": 0.2, "high": share}, {"mid": 0.3, "high": share})[3])
    assert table[1, 3] == pytest.approx(expected, rel=1e-14)


def test_shares_a_hair_above_one_leave_the_lowest_level_at_zero_and_no_nan():
    network = gate({"low": 0.1}, {"mid": 0.5, "high": 0.5000008})
    assert network.rows["level"][1, 0] == 0
    (table,) = parent_tables(network, Finding("level", state="none"))
    assert table.values[1] == -np.inf
    assert table.values[0] == pytest.approx(np.log(0.9))
