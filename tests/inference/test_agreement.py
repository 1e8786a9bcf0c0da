"""The engine agrees with enumeration and with two general libraries on random networks."""

import logging
from math import prod

import numpy as np
import pyagrum
import pytest
from networks import random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals, log_total

logging.getLogger("pgmpy").setLevel(logging.ERROR)
CHUNKS, CASES = 10, 300


def by_claywit(model, findings):
    """Return P(evidence) and the posterior of every discrete node, found ones too."""
    network = compile_network(model)
    piece = compile_piece(network, findings, [])
    everything = np.ones((1, len(findings)), dtype=bool)
    evidence = float(np.exp(log_total(piece.log_joint(everything))[0]))
    seen = {finding.node for finding in findings}
    unseen = [name for name in network.states if name not in seen]
    found = [name for name in network.states if name in seen]
    posteriors = {}
    # A finding on a leaf is folded into its parents only where the leaf is not asked for.
    for asked in filter(None, (unseen, found)):
        _, logs = log_marginals(network, findings, asked)
        for name, values in logs.items():
            shares = np.exp(values - np.logaddexp.reduce(values)).tolist()
            posteriors[name] = dict(zip(network.states[name], shares, strict=True))
    return evidence, posteriors


def a_case(seed, low, high):
    """Return a random model with findings that can stand together."""
    rng = np.random.default_rng(seed)
    model = random_model(rng, int(rng.integers(low, high + 1)), measured=0.15)
    return model, random_findings(rng, model, truth=a_piece(rng, model))


def seeds(chunk):
    return range(1000 + chunk, 1000 + CASES, CHUNKS)


def test_the_cases_hold_every_kind_of_node_and_finding():
    nodes, findings, inner = [], [], 0
    for seed in range(1000, 1030):
        model, found = a_case(seed, 5, 40)
        parents = {p for node in model.nodes for p in node.all_parents}
        inner += sum(f.node in parents for f in found)
        nodes += model.nodes
        findings += found
    assert inner > 50
    for kind in ("noisy_max", "visibility", "measured"):
        assert sum(bool(getattr(node, kind)) for node in nodes) > 20, kind
    assert max(len(node.parents) for node in nodes) == 4
    assert any(not row.given for node in nodes for row in node.rows if node.parents)
    assert any(len(s) > 1 for node in nodes for row in node.rows for s in row.given.values())
    for form in ("state", "sure", "matrix", "likelihood", "not_visible", "measures"):
        assert sum(bool(getattr(finding, form)) for finding in findings) > 10, form


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_engine_agrees_with_enumeration(chunk):
    """300 networks of 5 to 8 nodes, every posterior, within 1e-12."""
    for seed in seeds(chunk):
        model, findings = a_case(seed, 5, 8)
        evidence, posteriors = by_claywit(model, findings)
        expected_evidence, expected = enumerate_joint(oracle(model, findings))
        assert evidence == pytest.approx(expected_evidence, rel=1e-12), seed
        for name, shares in posteriors.items():
            assert shares == pytest.approx(expected[name], abs=1e-12), (seed, name)


def as_pyagrum(known):
    net = pyagrum.BayesNet()
    for name, (_, states, _) in known.tables.items():
        net.add(pyagrum.LabelizedVariable(name, name, states))
    for name, (parents, states, table) in known.tables.items():
        for parent in parents:
            net.addArc(parent, name)
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()])
        values = values.reshape([*(len(known.tables[p][1]) for p in parents), len(states)])
        backwards = [*reversed(range(len(parents))), len(parents)]  # the axes of an array here
        net.cpt(name)[:] = np.ascontiguousarray(np.transpose(values, backwards))
    return net


def by_pyagrum(known):
    """Return P(evidence) and every posterior."""
    engine = pyagrum.LazyPropagation(as_pyagrum(known))
    # Scaled: a likelihood on one state alone counts as certain here, once for every table.
    tops = {name: max(values.values()) for name, values in known.seen.items()}
    engine.setEvidence({
        name: [values.get(s, 0.0) / tops[name] for s in known.tables[name][1]]
        for name, values in known.seen.items()
    })  # fmt: skip
    engine.makeInference()
    evidence = engine.evidenceProbability() * known.factor * prod(tops.values())
    return evidence, {name: engine.posterior(name).tolist() for name in known.tables}


def as_pgmpy(known):
    """Return the network with a child for each finding, and a chain that says "all of them".

    P(chain is whole) is P(evidence), which this library has no other way to ask for.
    """
    net, whole = DiscreteBayesianNetwork(), None
    net.add_nodes_from(known.tables)
    for name, (parents, states, table) in known.tables.items():
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()]).T
        add_table(net, name, values, parents, [len(known.tables[p][1]) for p in parents])
    for name, values in sorted(known.seen.items(), key=lambda seen: int(seen[0][1:])):
        row = np.array([values.get(s, 0.0) for s in known.tables[name][1]])
        read, last = f"{name}_read", whole
        add_table(net, read, np.stack([1 - row, row]), [name], [len(row)])
        whole = f"{name}_whole"
        if last:
            add_table(net, whole, np.array([[1, 1, 1, 0], [0, 0, 0, 1]]), [last, read], [2, 2])
        else:
            add_table(net, whole, np.eye(2), [read], [2])
    return net, whole


def add_table(net, name, values, parents, sizes):
    net.add_node(name)
    net.add_edges_from((parent, name) for parent in parents)
    net.add_cpds(TabularCPD(name, len(values), values, list(parents) or None, sizes or None))


def by_pgmpy(known, asked):
    """Return P(evidence) and the posteriors of the nodes *asked* for, one query each."""
    net, whole = as_pgmpy(known)
    engine, evidence, posteriors = VariableElimination(net), 1.0, {}
    for name in asked:
        if whole is None:
            shares = engine.query([name], show_progress=False).values
        else:
            both = engine.query([name, whole], show_progress=False)
            shares = np.moveaxis(both.values, both.variables.index(whole), 0)[1]
            evidence = float(shares.sum()) * known.factor
        posteriors[name] = (shares / shares.sum()).tolist()
    return evidence, posteriors


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_engine_agrees_with_pyagrum_and_with_pgmpy(chunk):
    """300 networks of 5 to 40 nodes, P(evidence) and posteriors, within 1e-9.

    Every posterior is compared with the one library, three with the other.
    """
    for seed in seeds(chunk):
        model, findings = a_case(seed, 5, 40)
        evidence, posteriors = by_claywit(model, findings)
        known, names = oracle(model, findings), list(posteriors)
        three = dict.fromkeys([names[0], names[len(names) // 2], names[-1]])
        pyagrum_evidence, by_name = by_pyagrum(known)
        pgmpy_evidence, by_three = by_pgmpy(known, three)
        assert evidence == pytest.approx(pyagrum_evidence, rel=1e-9), seed
        assert evidence == pytest.approx(pgmpy_evidence, rel=1e-9), seed
        for name, shares in posteriors.items():
            found = list(shares.values())
            assert found == pytest.approx(by_name[name], abs=1e-9), (seed, name)
            if name in by_three:
                assert found == pytest.approx(by_three[name], abs=1e-9), (seed, name)
