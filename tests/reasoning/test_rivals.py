"""Rivals side by side: what each says of every finding, and the least that would flip them."""

import itertools
from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from networks import random_findings, random_model
from oracles import a_piece
from small import examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_odds
from claywit.reasoning.explanation import explain
from claywit.reasoning.rivals import Change, side_by_side, smallest_flip

NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


def piece_of(findings):
    known = model()
    return compile_piece(compile_network(known), examined(known, findings).findings, ["shop"])


def test_side_by_side_stands_the_probability_of_the_finding_under_each():
    piece = piece_of("{rim: bevelled, mark: stroke}")
    rim, mark = side_by_side(piece, explain(piece, NORTH, SOUTH))
    assert (exp(rim.alone_for), exp(rim.alone_against)) == pytest.approx((0.8, 0.1))
    assert (exp(mark.alone_for), exp(mark.alone_against)) == pytest.approx((0.1, 0.4))


def test_under_a_set_of_states_it_is_their_average_by_the_prior():
    piece = piece_of("{mark: stroke}")
    (mark,) = side_by_side(piece, explain(piece, NORTH, {"shop": ("south", "other")}))
    assert exp(mark.alone_against) == pytest.approx((0.4 * 0.4 + 0.1 * 0.1) / 0.5)


@pytest.mark.parametrize("seed", range(8))
def test_the_ratios_are_the_weights_of_the_explanation(seed):
    rng = np.random.default_rng(seed)
    known = random_model(rng, 12, zeros=0)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    question = next(n for n in known.by_name if n not in {f.node for f in findings})
    piece = compile_piece(compile_network(known), findings, [question])
    one, other = piece.network.states[question][:2]
    found = explain(piece, {question: (one,)}, {question: (other,)})
    for side, weight in zip(side_by_side(piece, found), found.weights, strict=True):
        assert side.node == weight.node
        assert (side.alone_for - side.alone_against) / log(10) == pytest.approx(
            weight.alone, abs=1e-9
        )
        chained = side.chained_for - side.chained_against
        assert chained / log(10) == pytest.approx(weight.bans, abs=1e-9)


def test_one_reversal_that_flips_the_order_is_found():
    piece = piece_of("{rim: bevelled, mark: absent}")
    assert smallest_flip(piece, NORTH, SOUTH) == (Change("rim", "flat"),)


def test_a_loss_counts_where_it_is_enough():
    piece = piece_of("{rim: {likelihood: {bevelled: 1, flat: 0}}, mark: stroke}")
    assert smallest_flip(piece, NORTH, SOUTH) == (Change("rim", None),)


def test_where_three_changes_are_too_few_none_is_named():
    piece = piece_of("{wear: much}")
    assert smallest_flip(piece, NORTH, SOUTH) is None


def by_trying_everything(piece, for_, against):
    """Return the least number of findings to change, compiling each changed piece anew."""
    held = piece.holds(for_), piece.holds(against)

    def odds(findings):
        changed = compile_piece(piece.network, findings, piece.tree.roots)
        return log_odds(changed.log_joint(np.ones((1, len(findings)), dtype=bool)), *held)[0]

    sign = 1 if odds(piece.findings) >= 0 else -1
    for size in range(1, 4):
        for members in itertools.combinations(range(len(piece.findings)), size):
            options = []
            for i in members:
                finding = piece.findings[i]
                names = piece.network.model.node(finding.node).state_names if finding.state else ()
                options.append(
                    [None, *(replace(finding, state=n) for n in names if n != finding.state)]
                )
            for picked in itertools.product(*options):
                swapped = dict(zip(members, picked, strict=True))
                kept = [swapped.get(i, f) for i, f in enumerate(piece.findings)]
                if sign * odds([f for f in kept if f is not None]) < 0:
                    return size
    return None


@pytest.mark.parametrize("seed", range(6))
def test_the_smallest_set_is_that_of_trying_everything(seed):
    rng = np.random.default_rng(100 + seed)
    known = random_model(rng, 8, zeros=0, hideable=0)
    findings = random_findings(rng, known, share=0.7, truth=a_piece(rng, known))[:5]
    question = next(n for n in known.by_name if n not in {f.node for f in findings})
    piece = compile_piece(compile_network(known), findings, [question])
    one, other = ({question: (s,)} for s in piece.network.states[question][:2])
    found = smallest_flip(piece, one, other)
    assert (len(found) if found else None) == by_trying_everything(piece, one, other)
