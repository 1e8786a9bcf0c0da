"""Thousands of columns at once: another way of summing, and the same numbers."""

import numpy as np
import pytest
from networks import random_model

from claywit.inference import many, propagation
from claywit.inference.elimination import COLUMNS, eliminate_for_columns
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_scopes
from claywit.inference.propagation import load, propagate
from claywit.inference.sheet import columns_of
from claywit.reasoning.readings import readings_of

MANY = propagation.MANY + 500


def open_network(seed, size):
    """Return slots for every reading of every node of a random network, and their tables."""
    rng = np.random.default_rng(seed)
    network = compile_network(random_model(rng, size, measured=0.15))
    roots = tuple(sorted(network.states))[:2]
    scopes, tables = [], []
    for node in network.model.nodes:
        readings = readings_of(network, node, roots)
        for scope in sorted({table.scope for reading in readings for table in reading}):
            scopes.append(scope)
            tables.append(columns_of(network, scope, readings))
    return network, roots, scopes, tables


def random_picks(rng, tables, missing):
    picks = np.stack([rng.integers(1, table.shape[1], MANY) for table in tables])
    picks[rng.random(picks.shape) < missing] = 0
    return picks


@pytest.mark.parametrize("missing", [0.0, 0.4, 0.95])
@pytest.mark.parametrize("size", [6, 20, 35])
def test_many_columns_at_once_give_what_a_few_at_a_time_give(size, missing):
    """Readings on inner nodes too, whole families unobserved, and sets that are impossible."""
    for seed in range(4):
        network, roots, scopes, tables = open_network(seed, size)
        picks = random_picks(np.random.default_rng(seed), tables, missing)
        few = load(compile_scopes(network, scopes, roots), tables)
        expected = np.concatenate([propagate(few, part) for part in np.array_split(picks, 3, 1)], 1)
        versions = [table.shape[1] for table in tables]
        for_many = load(compile_scopes(network, scopes, roots, versions), tables)
        found = propagate(for_many, picks)
        order = [few.tree.root_states.tolist().index(s) for s in for_many.tree.root_states.tolist()]
        assert found == pytest.approx(expected[order], rel=1e-12, abs=1e-12)
        assert not np.isnan(found).any()


def test_the_cases_hold_columns_that_are_impossible_and_are_worked_by_the_block(monkeypatch):
    network, roots, scopes, tables = open_network(1, 20)
    picks = random_picks(np.random.default_rng(1), tables, 0.0)
    used = []

    def watched(columns):
        used.append(columns)
        return many.work(columns)

    monkeypatch.setattr(propagation, "work", watched)
    found = propagate(load(compile_scopes(network, scopes, roots), tables), picks)
    assert used
    impossible = np.isneginf(found).all(axis=0)
    assert impossible.any()
    assert not impossible.all()


def test_running_the_same_columns_twice_gives_the_same_numbers_to_the_last_bit():
    network, roots, scopes, tables = open_network(2, 20)
    picks = random_picks(np.random.default_rng(2), tables, 0.3)
    loaded = load(compile_scopes(network, scopes, roots), tables)
    assert propagate(loaded, picks).tobytes() == propagate(loaded, picks).tobytes()


def test_an_order_for_many_columns_keeps_what_differs_most_for_the_last():
    """Two chains meet in *c*; the one whose evidence has a thousand versions goes last."""
    cards = dict.fromkeys("abc", 3)
    scopes = [(("a", "c"), 1), (("b", "c"), 1), (("a",), 1_000), (("b",), 2)]
    assert eliminate_for_columns(cards, scopes, ("c",)).order == ("b", "a")
    scopes[2:] = [(("a",), 2), (("b",), COLUMNS)]
    assert eliminate_for_columns(cards, scopes, ("c",)).order == ("a", "b")
