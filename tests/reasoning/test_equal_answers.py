"""Of answers that look equal the first of the model leads, everywhere (decision 0022)."""

from itertools import pairwise, permutations

import numpy as np
import pytest
from small import SHOPS, examined, model

from claywit import triage
from claywit.evidence.cases import Cases
from claywit.inference.elimination import eliminate_for_columns
from claywit.inference.maximum import most_probable
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, leaders
from claywit.inference.varied import compile_varied
from claywit.learning.drift import drift
from claywit.learning.scores import hits
from claywit.model.renaming import renamed
from claywit.model.soundness import read_model
from claywit.reasoning import policy, rivals
from claywit.reasoning.mixtures import Setting, play
from claywit.reasoning.stories import tell
from claywit.reasoning.typicality import typicality
from claywit.reasoning.uncertainty import intervals
from claywit.report.varying import at_values

NEAR = np.log([0.3, 0.3 * (1 + 4e-16), 0.3 * (1 + 2e-15), 0.1])  # what rounding leaves of equals


def test_the_first_of_equals_leads_in_every_column():
    assert leaders(np.stack([NEAR, NEAR[::-1], np.full(4, np.nan)], axis=1)).tolist() == [0, 1, 0]
    assert at_values(("a", "b", "c", "d"), (0.5,), np.exp(NEAR).tolist()).leader == "a"
    assert hits(np.exp([NEAR]), np.array([0])).all()


def test_the_first_of_equals_gives_the_words():
    known = model()
    shares = {"shop": {"north": 0.45, "south": 0.45 * (1 + 4e-16), "other": 0.1}}
    assert policy._leading(known, "shop", shares).name == "north"


def test_the_first_of_equals_leads_in_a_dispute_and_a_story():
    even = "{north: 0.4, south: 0.4, other: 0.2}"
    text = SHOPS.replace("{north: 0.5, south: 0.4, other: 0.1}", even)
    known = read_model(text.encode(), "m.yaml")
    found = examined(known, "{}").findings
    network = compile_network(known)
    only = Setting((network, network), (found, found))
    game = play((only, only), (), "shop", None)
    assert game.pair == ({"shop": ("north",)}, {"shop": ("south",)})
    told = tell(compile_piece(network, found, ["shop"]), ["shop"], best=3)
    assert [story.states["shop"] for story in told.best] == ["north", "south", "other"]
    assert told.apart.states == {"shop": "north"}


def alike(order):
    """Two shops, as likely as each other on three traits; *order* is that of south's factors.

    0.1 x 0.3 x 0.7, in whatever order, is one number, and not always the same double.
    """
    wares = "".join(
        f"""
  {name}:
    states: [seen, unseen]
    parents: [shop]
    rows:
      - {{given: {{shop: north}}, p: {{seen: {one}, unseen: {1 - one}}}, source: test}}
      - {{given: {{shop: south}}, p: {{seen: {other}, unseen: {1 - other}}}, source: test}}"""
        for name, one, other in zip("xyz", (0.1, 0.3, 0.7), order, strict=True)
    )
    head = SHOPS.partition("nodes:")[0].partition("groups:")[0]
    shop = "nodes:\n  shop: {states: [north, south], rows: [{p: {north: 0.5, south: 0.5}, source: test}]}"
    known = read_model(f"{head}{shop}{wares}\n".encode(), "m.yaml")
    return known, compile_network(known), examined(known, "{x: seen, y: seen, z: seen}").findings


ORDERS = tuple(permutations((0.1, 0.3, 0.7)))


@pytest.mark.parametrize("order", ORDERS)
def test_the_first_of_equals_leads_in_what_is_drawn_and_in_the_whole(order):
    _, network, found = alike(order)
    assert typicality(network, found, "shop", np.random.default_rng(1)).leader == "north"
    varied, before = (compile_varied(network, f, ["shop"]) for f in (found, ()))
    pair = {"shop": ("north",)}, {"shop": ("south",)}
    drawn = intervals(varied, before, "shop", pair, np.random.default_rng(1))
    assert drawn.leads == 1.0  # no row has an n, so every draw is the model itself
    assert most_probable(network, found).states["shop"] == "north"


@pytest.mark.parametrize("order", ORDERS)
def test_the_first_of_equals_leads_before_and_after_a_drift(order):
    old, network, found = alike(ORDERS[0])
    new = alike(order)[0]
    names = renamed(old, new)
    codes = {f.node: np.zeros(1, dtype=np.int16) for f in found}
    piece = Cases(old, ("p",), ("",), np.array([2]), codes, {}, {}, {})
    told = drift(network, compile_network(new), names, [piece]).targets[0]
    assert (told.changed, told.largest.before) == ((), "north")


def test_a_contrast_says_how_large_the_sets_are_that_it_tried():
    states = ", ".join(f"s{i}" for i in range(1_200))
    node = "  {0}: {{states: [{1}], parents: [shop], rows: [{{p: {{s0: 1}}}}]}}\n"
    text = SHOPS.replace(
        "nodes:\n", f"nodes:\n{node.format('x', states)}{node.format('y', states)}", 1
    )
    known = read_model(text.encode(), "m.yaml")
    assert tried(known, "{rim: flat, mark: stroke, wear: much}") == 3
    assert tried(known, "{x: s0, rim: flat}") == 3
    assert tried(known, "{x: s0, y: s0}") == 1  # 1,440,000 pairs, which took gigabytes
    assert tried(known, "{}") == 3


def tried(known, findings):
    found = examined(known, findings).findings
    return rivals.sets_tried(compile_piece(compile_network(known), found, ["shop"]))


@pytest.mark.parametrize(("cut", "near"), [(0.0, None), (1.0, None), (0.5, 0.5)])
def test_a_policy_may_set_a_cut_point_at_the_ends(cut, near):
    assert triage._near(0.1, [cut]) == near


def test_an_order_for_many_columns_costs_what_its_tables_cost():
    names = [f"n{i:03}" for i in range(800)]  # took minutes: each step looked at all tables
    links = [((one, other), 1) for one, other in pairwise(names)]
    found = eliminate_for_columns(dict.fromkeys(names, 2), links, names[:1])
    assert len(found.order) == 799
    assert found.entries == 799 * 4
