"""Jensen's measure by hand, by property, and what explains a conflict away."""

import numpy as np
import pytest
from networks import random_findings, random_model
from oracles import a_piece
from small import examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import Piece, compile_piece, log_marginals, log_total
from claywit.reasoning import explanation
from claywit.reasoning.conflict import conflict
from claywit.reasoning.explanation import explain, log_evidence


def of(known, findings, root):
    network = compile_network(known)
    piece = compile_piece(network, findings, [root])
    states = known.node(root).state_names
    groups = explain(piece, {root: states[:1]}, {root: states[1:2]}).groups
    hidden = [n for n in network.states if n not in {f.node for f in findings}]
    before, after = log_marginals(network, findings, hidden)
    return piece, conflict(piece, groups, before, after)


def test_a_bevelled_rim_with_a_stroke_is_rarer_than_both_would_have_it():
    """P(bevelled) = .5 x .8 + .5 x .1, P(stroke) = .6 x .1 + .4 x .4, both .04 + .016 + .001."""
    known = model()
    _, found = of(known, examined(known, "{rim: bevelled, mark: stroke}").findings, "shop")
    expected = np.log10(0.45 * 0.22 / (0.04 + 0.016 + 0.001))
    assert found.total == pytest.approx(expected)
    assert found.between == (("shape", "signs", pytest.approx(expected)),)
    assert found.within == (("shape", pytest.approx(0)), ("signs", pytest.approx(0)))


def test_findings_that_support_each_other_have_a_measure_below_zero_and_nothing_to_explain():
    known = model()
    _, found = of(known, examined(known, "{rim: flat, mark: stroke}").findings, "shop")
    assert found.total < 0
    assert found.explained_by is None


def test_what_is_raised_more_than_the_conflict_explains_it():
    """A rare state that likes both: P(rare) = .01, each trait .9 under it, .1 and .9 apart elsewhere."""
    text = """
format: claywit-model/1
name: rare
version: 1.0.0
targets: [kind]
status: elicited
nodes:
  kind:
    states: [usual, odd, rare]
    rows: [{p: {usual: 0.495, odd: 0.495, rare: 0.01}}]
  one:
    states: [x, y]
    parents: [kind]
    rows:
      - {given: {kind: [usual, rare]}, p: {x: 0.9, y: 0.1}}
      - {given: {kind: odd}, p: {x: 0.001, y: 0.999}}
  other:
    states: [x, y]
    parents: [kind]
    rows:
      - {given: {kind: [odd, rare]}, p: {x: 0.9, y: 0.1}}
      - {given: {kind: usual}, p: {x: 0.001, y: 0.999}}
"""
    known = model(text)
    _, found = of(known, examined(known, "{one: x, other: x}").findings, "kind")
    assert found.total > 1
    assert (found.explained_by.node, found.explained_by.state) == ("kind", "rare")
    assert found.explained_by.posterior == pytest.approx(0.0081 / (0.0081 + 2 * 0.495 * 0.0009))


@pytest.mark.parametrize("seed", range(20))
def test_the_measure_of_all_is_that_within_the_groups_and_that_between_them(seed):
    """log prod P(finding) / P(all) = sum within + log prod P(group) / P(all)."""
    rng = np.random.default_rng(seed)
    known = random_model(rng, 8)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    seen = {f.node for f in findings}
    root = next(n for n in known.by_name if known.node(n).states
                and not known.node(n).visibility and n not in seen)  # fmt: skip
    piece, found = of(known, findings, root)
    n = len(findings)
    logs = log_total(piece.log_joint(np.concatenate([np.eye(n), np.ones((1, n))]).astype(bool)))
    assert found.total == pytest.approx((logs[:-1].sum() - logs[-1]) / np.log(10), abs=1e-9)
    if len(found.within) == 1:
        assert found.within[0][1] == pytest.approx(found.total, abs=1e-9)


def test_many_subsets_are_worked_out_a_few_at_a_time(monkeypatch):
    """All pairs of 1,000 groups at once took 4 GB."""
    known, rng = model(), np.random.default_rng(3)
    findings = examined(known, "{rim: bevelled, mark: stroke, seal: absent, wear: much}").findings
    piece = compile_piece(compile_network(known), findings, ["shop"])
    members = [np.flatnonzero(row).tolist() for row in rng.random((50, 4)) < 0.5]
    whole = log_evidence(piece, members)
    held = []
    ask = Piece.log_joint
    monkeypatch.setattr(explanation, "ROOM", 12)
    monkeypatch.setattr(Piece, "log_joint", lambda p, rows: held.append(len(rows)) or ask(p, rows))
    assert log_evidence(piece, members) == pytest.approx(whole, abs=1e-12)
    assert held == [3] * 16 + [2]
    assert len(log_evidence(piece, [])) == 0
