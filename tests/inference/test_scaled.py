"""Columns scaled bucket by bucket give what the plain engine gives, however far out values lie."""

import numpy as np
import pytest
from inference.test_many import open_network, random_picks

from claywit.inference import totals
from claywit.inference.piece import compile_scopes, log_total
from claywit.inference.propagation import load, propagate
from claywit.inference.scaled import run_scaled


@pytest.mark.parametrize("missing", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("size", [6, 20])
def test_scaled_columns_give_what_the_engine_gives(size, missing):
    """Sets that are impossible among them: those stay at exactly no probability."""
    for seed in range(4):
        network, roots, scopes, tables = open_network(seed, size)
        picks = random_picks(np.random.default_rng(seed), tables, missing)[:, :300]
        tree = compile_scopes(network, scopes, roots)
        expected = propagate(load(tree, tables), picks)
        assert run_scaled(tree, tables, picks) == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("apart", [100.0, 400.0])
def test_tables_far_out_of_the_range_of_a_double_keep_their_totals(apart):
    """Every table is taken down by 2,000 nats, half of its states by some hundred more.

    With 400 more what leads in one table is lost in the next, so columns are run in logarithms.
    """
    network, roots, scopes, tables = open_network(1, 20)
    picks = random_picks(np.random.default_rng(1), tables, 0.3)[:, :200]
    tree = compile_scopes(network, scopes, roots)
    far = [t - 2_000.0 - apart * (np.arange(len(t))[:, np.newaxis] % 2) for t in tables]
    expected, found = propagate(load(tree, far), picks), run_scaled(tree, far, picks)
    assert np.exp(expected).max() == 0  # by far out of range
    total = log_total(expected)
    assert np.isfinite(total).any()
    assert log_total(found) == pytest.approx(total, rel=1e-12)
    held = expected > total - 400
    assert found[held] == pytest.approx(expected[held], rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_factors_multiplied_where_they_meet_in_few_combinations_give_the_same(seed, monkeypatch):
    network, roots, scopes, tables = open_network(seed, 20)
    picks = random_picks(np.random.default_rng(seed), tables, 0.3)[:, :250]
    tree = compile_scopes(network, scopes, roots)
    monkeypatch.setattr(totals, "PLANNED", 10**9)
    expected = run_scaled(tree, tables, picks)
    assert not any(bucket.products for bucket in tree.buckets)
    monkeypatch.setattr(totals, "PLANNED", 0)
    assert run_scaled(tree, tables, picks) == pytest.approx(expected, rel=1e-13, abs=1e-13)
    assert any(bucket.products for bucket in tree.buckets)
