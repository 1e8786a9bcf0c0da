"""The most probable state of everything is that of enumeration and of a general library."""

import logging
from math import exp, log

import numpy as np
import pytest
from networks import random_findings, random_model
from oracles import a_piece, joint_table, oracle
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork
from small import examined, model

from claywit.evidence.findings import Finding
from claywit.inference.maximum import most_probable
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_total

logging.getLogger("pgmpy").setLevel(logging.ERROR)


def test_by_hand():
    """North 0.5 x 0.8 x 0.9 for the mark x 1 for the seal x 0.7 for the wear is the largest."""
    known = model()
    found = most_probable(compile_network(known), examined(known, "{rim: bevelled}").findings)
    assert found.states == {"shop": "north", "mark": "absent", "seal": "absent", "wear": "little"}
    assert exp(found.log_p) == pytest.approx(0.5 * 0.8 * 0.9 * 1 * 0.7)


def test_a_leaf_with_a_finding_is_weighed_and_not_told():
    known = model()
    half = examined(known, "{rim: {state: bevelled, sure: 0.9}}")
    found = most_probable(compile_network(known), half.findings)
    assert "rim" not in found.states
    assert exp(found.log_p) == pytest.approx(0.5 * (0.8 * 0.9 + 0.2 * 0.1) * 0.9 * 1 * 0.7)


def test_what_cannot_stand_together_has_no_probability():
    known = model()
    seen = examined(known, "{seal: pressed}").findings
    both = (*seen, Finding("shop", state="north"))
    assert most_probable(compile_network(known), both).log_p == -np.inf


def kept_axes(known, folded):
    names = list(known.tables)
    return names, tuple(i for i, name in enumerate(names) if name in folded)


@pytest.mark.parametrize("chunk", range(5))
def test_no_other_configuration_is_more_probable(chunk):
    """150 random networks with every form of finding, against all joint states."""
    for seed in range(3000 + chunk, 3150, 5):
        rng = np.random.default_rng(seed)
        known = random_model(rng, int(rng.integers(4, 9)), measured=0.15)
        findings = random_findings(rng, known, truth=a_piece(rng, known))
        network = compile_network(known)
        told = oracle(known, findings)
        folded = network.leaves & {finding.node for finding in findings}
        names, axes = kept_axes(told, folded)
        table = joint_table(told).sum(axis=axes) * told.factor
        found = most_probable(network, findings)
        kept = [name for name in names if name not in folded]
        assert set(found.states) == set(kept)
        place = tuple(told.tables[n][1].index(found.states[n]) for n in kept)
        assert exp(found.log_p) == pytest.approx(table.max(), rel=1e-12), seed
        assert table[place] == pytest.approx(table.max(), rel=1e-12), seed


def as_pgmpy(known):
    net = DiscreteBayesianNetwork()
    net.add_nodes_from(known.tables)
    for name, (parents, states, table) in known.tables.items():
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()]).T
        sizes = [len(known.tables[p][1]) for p in parents]
        net.add_edges_from((parent, name) for parent in parents)
        names = {n: known.tables[n][1] for n in (name, *parents)}
        net.add_cpds(TabularCPD(name, len(states), values, list(parents) or None, sizes or None, names))  # fmt: skip
    return net


@pytest.mark.parametrize("seed", range(3200, 3215))
def test_it_agrees_with_pgmpy(seed):
    """Findings read for certain, since that library's MAP query takes no others."""
    rng = np.random.default_rng(seed)
    known = random_model(rng, 8, zeros=0, hideable=0)
    truth = a_piece(rng, known)
    findings = [Finding(n, state=s) for n, s in truth.items() if rng.random() < 0.4]
    told = oracle(known)
    seen = {f.node: f.state for f in findings}
    asked = [name for name in told.tables if name not in seen]
    engine = VariableElimination(as_pgmpy(told))
    expected = engine.map_query(asked, evidence=seen, show_progress=False)
    found = most_probable(compile_network(known), findings)
    assert {name: found.states[name] for name in asked} == expected


def test_a_network_too_large_to_enumerate_keeps_to_the_sum():
    """40 nodes: no configuration has more than P(evidence), and one state each, more than half."""
    rng = np.random.default_rng(7)
    known = random_model(rng, 40)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    network = compile_network(known)
    found = most_probable(network, findings)
    piece = compile_piece(network, findings, [])
    whole = log_total(piece.log_joint(np.ones((1, len(findings)), dtype=bool)))[0]
    assert found.log_p < whole
    pinned = [Finding(n, state=s) for n, s in found.states.items() if s != "not_visible"]
    hidden = [Finding(n, not_visible=True) for n, s in found.states.items() if s == "not_visible"]
    rest = [f for f in findings if f.node not in found.states]
    again = compile_piece(network, [*rest, *pinned, *hidden], [])
    exact = log_total(again.log_joint(np.ones((1, len(again.findings)), dtype=bool)))[0]
    soft = [f for f in findings if f.node in found.states]
    extra = sum(_own(network, f, found.states[f.node]) for f in soft)
    assert found.log_p == pytest.approx(exact + extra, abs=1e-9)


def _own(network, finding, state):
    names = network.states[finding.node]
    if finding.not_visible:
        return 0.0
    if finding.likelihood:
        return log(finding.likelihood[state])
    if finding.matrix:
        return log(network.model.reading_matrices[finding.matrix].p[state][finding.state])
    if finding.sure is None:
        return 0.0
    k = len(network.model.node(finding.node).state_names)
    assert names[:k]
    return log(finding.sure if finding.state == state else (1 - finding.sure) / (k - 1))
