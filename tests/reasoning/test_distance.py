"""The distance of Chan & Darwiche, by hand, by enumeration, and as a bound that holds.

Source: Chan & Darwiche (2005), Int. J. Approximate Reasoning 38:149-174; theorems from memory.
"""

import itertools
from math import inf, log10

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from networks import build, published, random_model
from small import HIDDEN, SHOPS, model

from claywit.inference.network import compile_network
from claywit.model.schema import Model
from claywit.reasoning.distance import distance
from claywit.report.digest import plain


def apart(one, other):
    return distance(compile_network(one), compile_network(other))


def with_row(known, node, row, **shares):
    """Return the model with other shares in one row."""
    data = plain(known)
    rows = next(n for n in data["nodes"] if n["name"] == node)["rows"]
    rows[row]["p"] = shares
    return Model.model_validate(data)


def worlds(known):
    """Return the joint of all discrete nodes, an axis for each in the order of their names."""
    network = compile_network(known)
    names = sorted(network.states)
    joint = np.ones([len(network.states[name]) for name in names])
    for name in names:
        scope, table = network.table(name)
        order = sorted(scope)
        sizes = [len(network.states[n]) if n in scope else 1 for n in names]
        joint = joint * table.transpose([scope.index(n) for n in order]).reshape(sizes)
    return joint


def by_enumeration(one, other):
    """Return the distance from its definition, over all worlds, in bans."""
    before, after = worlds(one), worlds(other)
    lives = (before > 0) | (after > 0)
    with np.errstate(divide="ignore"):
        ratio = np.log10(after[lives]) - np.log10(before[lives])
    return ratio.max() - ratio.min()


def test_one_row_of_two_states_moves_its_own_odds_by_just_the_distance():
    """On Asia, P(lung given smoke) from .1 to .2: odds 1 to 9 become 1 to 4, log10(9/4) bans."""
    old, _ = published("asia")
    new = with_row(old, "lung", 0, yes=0.2, no=0.8)
    found = apart(old, new)
    assert found.bans == pytest.approx(log10(9 / 4), abs=1e-12)
    assert [(t.node, dict(t.row)) for t in found.tables] == [("lung", {"smoke": "yes"})]
    assert by_enumeration(old, new) == pytest.approx(found.bans, abs=1e-12)


def test_a_table_with_two_rows_changed_spans_from_the_least_ratio_to_the_greatest():
    """.1 to .2 doubles, .01 to .005 halves: log10 2 - log10 .5 = log10 4, more than either row."""
    old, _ = published("asia")
    new = with_row(with_row(old, "lung", 0, yes=0.2, no=0.8), "lung", 1, yes=0.005, no=0.995)
    found = apart(old, new)
    assert found.bans == pytest.approx(log10(4), abs=1e-12)
    assert found.tables[0].row_bans == pytest.approx(log10(9 / 4), abs=1e-12)
    assert by_enumeration(old, new) == pytest.approx(found.bans, abs=1e-12)


def perturbed(known, rng):
    """Return the model with some shares moved, zeros kept."""
    data = plain(known)
    for node in data["nodes"]:
        for row in node.get("rows", ()):
            if rng.random() < 0.5:
                drawn = {s: p * float(rng.uniform(0.5, 2)) for s, p in row["p"].items()}
                row["p"] = {s: p / sum(drawn.values()) for s, p in drawn.items()}
    return Model.model_validate(data)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_no_odds_under_any_evidence_differ_by_more(seed):
    rng = np.random.default_rng(seed)
    old = random_model(rng, 5, gates=0)
    new = perturbed(old, rng)
    bound = apart(old, new).bans
    assert by_enumeration(old, new) <= bound + 1e-9
    before, after = worlds(old), worlds(new)
    for _ in range(5):
        evidence = rng.random(before.shape) < 0.5
        event = rng.random(before.shape) < 0.5
        odds = [
            np.log10(joint[evidence & event].sum()) - np.log10(joint[evidence & ~event].sum())
            for joint in (before, after)
            if joint[evidence & event].sum() > 0 and joint[evidence & ~event].sum() > 0
        ]
        if len(odds) == 2:
            assert abs(odds[1] - odds[0]) <= bound + 1e-9


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_one_table_changed_alone_gives_the_very_distance(seed):
    """Where every configuration of the parents can occur, as without zeros."""
    rng = np.random.default_rng(seed)
    old = random_model(rng, 5, zeros=0, gates=0)
    data, moved = plain(old), plain(perturbed(old, rng))
    k = int(rng.integers(5))
    data["nodes"][k] = moved["nodes"][k]
    new = Model.model_validate(data)
    assert apart(old, new).bans == pytest.approx(by_enumeration(old, new), abs=1e-9)


def test_a_zero_that_goes_leaves_no_bound():
    new = SHOPS.replace("p: {absent: 1}", "p: {absent: 0.99, pressed: 0.01}")
    found = apart(model(), model(new))
    assert found.bans == inf
    assert [table.node for table in found.tables] == ["seal"]


def test_a_row_that_no_piece_ever_needs_moves_nothing():
    """With no piece from the north, the rim of the north may say what it likes."""
    old = SHOPS.replace("{north: 0.5, south: 0.4, other: 0.1}", "{south: 0.9, other: 0.1}")
    new = old.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.1, flat: 0.9}")
    assert apart(model(old), model(new)).bans == 0


def test_a_trait_more_on_which_nothing_hangs_moves_nothing():
    more = (
        "  dots:\n    states: [none, some]\n    parents: [shop]\n    examine: {view: back}\n"
        "    rows: [{p: {none: 0.5, some: 0.5}, source: test, n: 20}]\n"
    )
    found = apart(model(), model(SHOPS + more))
    assert (found.bans, found.incomparable) == (0, "")


def test_a_cause_more_above_what_both_have_cannot_be_compared():
    more = "  kiln:\n    states: [wood, coal]\n    rows: [{p: {wood: 0.5, coal: 0.5}, source: test, n: 20}]\n"
    new = SHOPS.replace("[little, much]\n", "[little, much]\n    parents: [kiln]\n") + more
    found = apart(model(), model(new))
    assert found.bans is None
    assert found.incomparable == "wear is in both and hangs on kiln, which is in one only"


def test_a_parent_more_is_compared_over_the_configurations_of_both():
    """The wear now hangs on the shop: .7 and .3 become .6 and .4 in the north alone."""
    rows = (
        "    parents: [shop]\n    rows:\n"
        "      - {given: {shop: north}, p: {little: 0.6, much: 0.4}, source: test, n: 20}\n"
        "      - {given: {}, p: {little: 0.7, much: 0.3}, source: test, n: 20}\n"
    )
    new = SHOPS.replace("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]\n", rows)
    found = apart(model(), model(new))
    assert found.bans == pytest.approx(log10(0.4 / 0.3) - log10(0.6 / 0.7), abs=1e-12)
    assert dict(found.tables[0].row) == {"shop": "north"}


def test_states_are_matched_by_name_and_not_by_place():
    new = SHOPS.replace("    states: [absent, stroke]\n", "    states: [stroke, absent]\n")
    assert apart(model(), model(new)).bans == 0


def test_a_measured_node_that_changed_is_named_and_not_bounded():
    found = apart(model(HIDDEN), model(HIDDEN.replace("{mean: 5, sd: 1}", "{mean: 5.5, sd: 1}")))
    assert (found.bans, found.measured) == (0, ("size",))


def test_how_often_a_trait_is_hidden_counts():
    """A trait of two states hidden by 1/2 instead of 1/4: the ratios are 2/3 and 2."""
    rows = [{"p": {"y": 0.5, "n": 0.5}}]

    def known(v):
        coat = {"states": ["thin", "thick"], "rows": [{"p": {"thin": 0.5, "thick": 0.5}}]}
        seen = {"parent": "coat", "p": {"thin": 0.25, "thick": v}}
        return build("hidden", {"a": {"states": ["y", "n"], "rows": rows}, "coat": coat,
                                "t": {"states": ["y", "n"], "rows": rows, "visibility": seen}})  # fmt: skip

    found = apart(known(0.25), known(0.5))
    assert found.bans == pytest.approx(log10(2) - log10(2 / 3), abs=1e-12)
    assert dict(found.tables[0].row) == {"coat": "thick"}


def test_every_world_is_asked_once():
    """The oracle itself: the worlds of Asia add up to one, and there are 256 of them."""
    joint = worlds(published("asia")[0])
    assert joint.size == 256
    assert joint.sum() == pytest.approx(1, abs=1e-12)
    assert len(list(itertools.product(*map(range, joint.shape)))) == 256
