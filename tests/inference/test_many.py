"""Thousands of columns at once: another way of summing, and the same numbers."""

from pathlib import Path

import numpy as np
import pytest
from engines import Claywit, drawn_pieces
from networks import random_model

from claywit.inference import many, propagation
from claywit.inference.combined import combine
from claywit.inference.elimination import (
    COLUMNS,
    Changes,
    changes,
    eliminate_for_columns,
    independent,
)
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_scopes
from claywit.inference.propagation import leave_each_out, load, propagate
from claywit.inference.sheet import columns_of, compile_sheet
from claywit.inference.tree import compile_tree
from claywit.inference.units import units
from claywit.reasoning.readings import readings_of
from claywit.records import files

MODEL = Path(__file__).parents[2] / "models" / "oskervane.yaml"
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
    used, work = [], many.work

    def watched(columns, into):
        used.append(columns)
        work(columns, into)

    monkeypatch.setattr(many, "work", watched)
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


def test_for_changes_of_one_piece_the_tree_works_less_behind_what_every_change_touches():
    """All traits of the demo say what lay over the piece: each change is worked from there to the root."""
    network = compile_network(files.read_model(MODEL))
    read = [node for node in network.model.nodes if node.is_trait]
    readings = {node.name: readings_of(network, node, ("class",)) for node in read}

    def behind(sheet):
        buckets, found = sheet.tree.buckets, 0
        touched = {slot for slot, scope in enumerate(sheet.scopes) if scope == ("obstructed",)}
        below = []
        for bucket in buckets:
            slots = {slot for members, _ in bucket.slots for slot in members}
            below.append(bool(slots & touched) or any(below[child] for child, _ in bucket.children))
            found += below[-1] * len(bucket.live)
        return found

    apart = behind(compile_sheet(network, readings, ("class",)))
    assert behind(compile_sheet(network, readings, ("class",), made_for=Changes())) < 0.6 * apart


def test_columns_that_differ_are_combined_or_added_up():
    assert changes([2, 2, 1, 3]) == 5  # as found, or one of four changes
    assert independent([2, 2, 1, 3]) == 12


def one_by_one(loaded, picks, owner):
    """Return the whole and every finding left out, each column worked for itself."""
    kept = [np.where((owner == i)[:, np.newaxis], 0, picks) for i in range(-1, owner.max() + 1)]
    return np.stack([propagate(loaded, each) for each in kept], axis=1)


@pytest.mark.parametrize("missing", [0.0, 0.5])
@pytest.mark.parametrize("size", [6, 20])
def test_leaving_each_finding_out_gives_what_the_rest_gives_alone(size, missing):
    """Findings of several slots too, and sets that are impossible until one is left out."""
    for seed in range(2):
        network, roots, scopes, tables = open_network(seed, size)
        rng = np.random.default_rng(seed)
        owner = rng.integers(0, max(2, len(tables) - 3), len(tables))
        picks = random_picks(rng, tables, missing)[:, :150]
        loaded = load(compile_scopes(network, scopes, roots), tables)
        found = leave_each_out(loaded, picks, owner)
        assert found == pytest.approx(one_by_one(loaded, picks, owner), rel=1e-12, abs=1e-12)


def test_findings_that_speak_of_one_variable_are_left_out_by_its_states():
    """All traits of the demo say what lay over the piece, which has three states."""
    network = compile_network(files.read_model(MODEL))
    read = [node.name for node in network.model.nodes if node.is_trait and node.states]
    ours = Claywit(network, read, network.model.targets)
    owner = np.array([read.index(name) for name in ours.slots])
    sizes = [[g[0].rows.shape[1] for g in groups] for groups in ours.loaded.combined]
    (unit,) = units(ours.tree, owner, sizes).values()
    assert len(unit.states) == 3
    assert unit.findings == tuple(range(len(read)))
    picks = ours.picks(drawn_pieces(network, 60))
    found = leave_each_out(ours.loaded, picks, owner)
    assert found == pytest.approx(one_by_one(ours.loaded, picks, owner), rel=1e-12, abs=1e-12)


def test_findings_too_far_out_for_probabilities_are_left_out_in_logarithms():
    network, roots, scopes, tables = open_network(3, 6)
    far = [table - 900.0 * (np.arange(table.shape[1]) > 0) for table in tables]
    loaded = load(compile_scopes(network, scopes, roots), far)
    owner = np.arange(len(far))
    picks = random_picks(np.random.default_rng(3), far, 0.3)[:, :200]
    found = leave_each_out(loaded, picks, owner)
    assert found == pytest.approx(one_by_one(loaded, picks, owner), rel=1e-12, abs=1e-12)
    assert found[np.isfinite(found)].min() < -1_000


def test_tables_over_the_same_variables_are_looked_up_as_their_product():
    rng = np.random.default_rng(4)
    tables = [rng.random((3, m)) for m in (4, 300, 5, 2)]
    tables[0][:, 3] = tables[0][:, 1]  # two readings that say the same
    picks = np.stack([rng.integers(0, table.shape[1], 50) for table in tables])
    found = combine(tables, [0, 1, 2, 3])
    product = np.prod([each.rows[each.codes(picks)] for each in found], axis=0)
    expected = np.prod([table[:, own] for table, own in zip(tables, picks, strict=True)], axis=0)
    assert pytest.approx(expected, rel=1e-14) == product.T
    assert [len(each.rows) for each in found] == [3 * 300, 5 * 2]


@pytest.mark.parametrize("prior", [[0.0, 1.0, 0.0], [0.5, 0.5, 0.0], [0.0, 0.5, 0.5]])
@pytest.mark.parametrize("count", [999, 1000, 1001])
def test_findings_are_left_out_by_states_where_the_last_states_cannot_occur(prior, count):
    rng = np.random.default_rng(3)
    constants = [(("a",), np.array(prior)), (("a", "b"), rng.dirichlet([1, 1], 3))]
    slots = [("b",), *[("a",)] * 7, ("b",)]
    tree = compile_tree({"a": 3, "b": 2}, constants, slots, ("b",))
    loaded = load(tree, [np.log(1 - rng.random((2 if s == ("b",) else 3, 4))) for s in slots])
    picks, owner = rng.integers(0, 4, (len(slots), count)), np.arange(len(slots))
    for table in loaded.values:
        table[:, 0] = 1.0  # silent
    found = leave_each_out(loaded, picks, owner)  # it ended with an error of ours
    assert np.exp(found) == pytest.approx(np.exp(one_by_one(loaded, picks, owner)), rel=1e-12)
