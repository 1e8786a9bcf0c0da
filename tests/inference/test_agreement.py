"""The engine agrees with enumeration and with two general libraries on random networks."""

import logging

import numpy as np
import pyagrum
import pytest
from networks import a_piece, enumerate_joint, likelihoods, random_findings, random_model, tables
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals, log_total

logging.getLogger("pgmpy").setLevel(logging.ERROR)
CHUNKS = 10


def by_claywit(model, findings):
    """Return P(evidence) and the posterior of every node without a finding."""
    network = compile_network(model)
    seen = {finding.node for finding in findings}
    asked = [name for name in model.by_name if name not in seen]
    piece = compile_piece(network, findings, [])
    everything = np.ones((1, len(findings)), dtype=bool)
    evidence = float(np.exp(log_total(piece.log_joint(everything))[0]))
    _, logs = log_marginals(network, findings, asked)
    posteriors = {}
    for name, values in logs.items():
        shares = np.exp(values - values.max()) if evidence else np.zeros(len(values))
        posteriors[name] = dict(
            zip(network.states[name], (shares / max(shares.sum(), 1e-300)).tolist(), strict=True)
        )
    return evidence, posteriors


def a_case(seed, low, high):
    """Return a random model, and findings that could be made on a piece drawn from it."""
    rng = np.random.default_rng(seed)
    model = random_model(rng, int(rng.integers(low, high + 1)))
    return model, random_findings(rng, model, truth=a_piece(rng, model))


def cases(chunk, low, high, count):
    """Return the cases of one chunk out of *count*; every chunk has its own seeds."""
    return ((seed, *a_case(seed, low, high)) for seed in range(1000 + chunk, 1000 + count, CHUNKS))


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_engine_agrees_with_enumeration(chunk):
    """300 networks of 5 to 9 nodes, within 1e-12."""
    for seed, model, findings in cases(chunk, 5, 9, 300):
        evidence, posteriors = by_claywit(model, findings)
        expected_evidence, expected = enumerate_joint(model, findings, list(posteriors))
        assert evidence == pytest.approx(expected_evidence, rel=1e-12), seed
        for name, shares in posteriors.items():
            assert shares == pytest.approx(expected[name], abs=1e-12), (seed, name)


def as_pyagrum(model):
    net = pyagrum.BayesNet()
    known = tables(model)
    for name, (_, states, _) in known.items():
        net.add(pyagrum.LabelizedVariable(name, name, states))
    for name, (parents, _, _) in known.items():
        for parent in parents:
            net.addArc(parent, name)
    for name, (parents, states, table) in known.items():
        for given, row in table.items():
            net.cpt(name)[dict(zip(parents, given, strict=True))] = [
                row.get(s, 0.0) for s in states
            ]
    return net


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_engine_agrees_with_pyagrum(chunk):
    """300 networks of 5 to 40 nodes, hard and likelihood findings anywhere, within 1e-9."""
    for seed, model, findings in cases(chunk, 5, 40, 300):
        evidence, posteriors = by_claywit(model, findings)
        net = as_pyagrum(model)
        engine = pyagrum.LazyPropagation(net)
        seen = likelihoods(model, findings)
        engine.setEvidence({
            name: [values.get(s, 0.0) for s in net.variable(name).labels()] for name, values in seen.items()
        })  # fmt: skip
        engine.makeInference()
        assert evidence == pytest.approx(engine.evidenceProbability(), rel=1e-9), seed
        for name, shares in posteriors.items():
            assert list(shares.values()) == pytest.approx(
                engine.posterior(name).tolist(), abs=1e-9
            ), seed


def as_pgmpy(model, findings):
    """Return the network with a child for each likelihood finding, and the hard evidence."""
    net, evidence = DiscreteBayesianNetwork(), {}
    known = tables(model)
    net.add_nodes_from(known)
    for name, (parents, states, table) in known.items():
        net.add_edges_from((parent, name) for parent in parents)
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()]).T
        net.add_cpds(TabularCPD(
            name, len(states), values.reshape(len(states), -1), list(parents) or None,
            [len(known[p][1]) for p in parents] or None,
            {name: states, **{p: known[p][1] for p in parents}},
        ))  # fmt: skip
    for name, values in likelihoods(model, findings).items():
        states = known[name][1]
        row = np.array([values.get(s, 0.0) for s in states])
        child = f"{name}_read"
        net.add_edge(name, child)
        net.add_cpds(TabularCPD(child, 2, np.stack([row, 1 - row]), [name], [len(states)],
                                {child: ["so", "not"], name: states}))  # fmt: skip
        evidence[child] = "so"
    return net, evidence


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_the_engine_agrees_with_pgmpy(chunk):
    """300 networks of 5 to 40 nodes, the first two nodes without a finding, within 1e-9."""
    for seed, model, findings in cases(chunk, 5, 40, 300):
        _, posteriors = by_claywit(model, findings)
        net, evidence = as_pgmpy(model, findings)
        engine = VariableElimination(net)
        for name in list(posteriors)[:2]:
            found = engine.query([name], evidence=evidence, show_progress=False)
            expected = {s: found.get_value(**{name: s}) for s in posteriors[name]}
            assert posteriors[name] == pytest.approx(expected, abs=1e-9), (seed, name)
