"""Shapley values of textbook games, and the shares of groups that follow from them."""

from itertools import combinations

import numpy as np
import pytest
from small import SHOPS, examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning.explanation import explain
from claywit.reasoning.shares import group_shares, shapley


def game(players, worth):
    values = np.zeros(2**players)
    for size in range(1, players + 1):
        for members in combinations(range(players), size):
            values[sum(1 << k for k in members)] = worth(frozenset(k + 1 for k in members))
    return shapley(values)


def test_the_glove_game():
    """Players 1 and 2 own a right glove, 3 a left one: 1/6, 1/6, 2/3."""
    found = game(3, lambda s: float(3 in s and bool(s & {1, 2})))
    assert found == pytest.approx([1 / 6, 1 / 6, 2 / 3])


def test_the_airport_game():
    """Costs 40, 50, 60, 70, 80, 90: the shares are sixths of 40, 52, 67, 87, 117, 177."""
    costs = [40, 50, 60, 70, 80, 90]
    found = game(6, lambda s: max(costs[k - 1] for k in s))
    assert 6 * found == pytest.approx([40, 52, 67, 87, 117, 177])


def test_a_game_with_a_useless_looking_player():
    """v(1)=2, v(12)=2, v(13)=2, v(23)=6, v(123)=8: 2, 3, 3."""
    worth = {"1": 2, "12": 2, "13": 2, "23": 6, "123": 8}
    found = game(3, lambda s: worth.get("".join(str(k) for k in sorted(s)), 0))
    assert found == pytest.approx([2, 3, 3])


def shares(findings, text=SHOPS):
    known = model(text)
    piece = compile_piece(compile_network(known), examined(known, findings).findings, ["shop"])
    found = explain(piece, {"shop": ("north",)}, {"shop": ("south",)})
    return group_shares(piece, found), found


def test_the_shares_of_the_groups_add_up_to_the_whole_move():
    found, explanation = shares("{rim: bevelled, mark: stroke, wear: much, seal: absent}")
    assert sum(found.values()) == pytest.approx(explanation.total, abs=1e-9)


def test_the_order_of_the_groups_changes_the_chain_and_not_the_shares():
    turned = SHOPS.replace(
        "groups: {shape: {label: Shape, nodes: [rim]}, signs: [mark, wear]}",
        "groups: {signs: [mark, wear], shape: {label: Shape, nodes: [rim]}}",
    )
    one, _ = shares("{rim: bevelled, mark: stroke}")
    other, _ = shares("{rim: bevelled, mark: stroke}", turned)
    assert one == pytest.approx(other)


def test_where_a_side_is_excluded_there_are_no_shares():
    assert shares("{seal: pressed, rim: flat}")[0] == {}
