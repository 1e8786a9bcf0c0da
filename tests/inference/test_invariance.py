"""The answer depends on what is known and seen, never on the order in which it is written."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from networks import random_findings, random_model
from oracles import a_piece

from claywit.inference.network import compile_network
from claywit.inference.piece import log_marginals
from claywit.model.schema import Model
from claywit.report.digest import plain

ROOT = Path(__file__).parents[2]


def posteriors(model, findings):
    """Return P(state, findings) of every node without a finding."""
    network = compile_network(model)
    seen = {finding.node for finding in findings}
    _, logs = log_marginals(network, findings, [n for n in network.states if n not in seen])
    return {
        name: dict(zip(network.states[name], np.exp(values).tolist(), strict=True))
        for name, values in logs.items()
    }


def case(seed):
    """Return a random model, structural zeros and measured leaves included, and findings."""
    rng = np.random.default_rng(seed)
    model = random_model(rng, 16, measured=0.15)
    return rng, model, random_findings(rng, model, truth=a_piece(rng, model))


def same(one, other):
    assert set(one) == set(other)
    for name, shares in one.items():
        assert other[name] == pytest.approx(shares, rel=1e-12, abs=1e-300), name


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_nodes_does_not_matter(seed):
    rng, model, findings = case(seed)
    data = plain(model)
    data["nodes"] = [data["nodes"][i] for i in rng.permutation(len(data["nodes"]))]
    same(posteriors(model, findings), posteriors(Model.model_validate(data), findings))


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_parents_and_of_rows_does_not_matter(seed):
    rng, model, findings = case(seed)
    data = plain(model)
    for node in data["nodes"]:
        for key in ("parents", "rows"):
            listed = node.get(key, [])
            node[key] = [listed[i] for i in rng.permutation(len(listed))]
    same(posteriors(model, findings), posteriors(Model.model_validate(data), findings))


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_states_does_not_matter(seed):
    """But for a noisy-MAX, whose states are levels."""
    rng, model, findings = case(seed)
    data = plain(model)
    for node in data["nodes"]:
        if "noisy_max" not in node:
            states = node.get("states", [])
            node["states"] = [states[i] for i in rng.permutation(len(states))]
    same(posteriors(model, findings), posteriors(Model.model_validate(data), findings))


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_findings_does_not_matter(seed):
    rng, model, findings = case(seed)
    shuffled = [findings[i] for i in rng.permutation(len(findings))]
    same(posteriors(model, findings), posteriors(model, shuffled))


def printed(command, hash_seed, **environment):
    """Return what a command prints under a hash seed, on which the order of sets depends."""
    wanted = {**os.environ, "PYTHONHASHSEED": hash_seed, **environment}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, env=wanted)
    return done.stdout


def test_the_hash_seed_does_not_matter_on_random_networks():
    path = os.pathsep.join(str(ROOT / folder) for folder in ("src", "tests", "tests/inference"))
    script = (
        "import json; from test_invariance import case, posteriors;"
        "print(json.dumps([posteriors(*case(seed)[1:]) for seed in range(6)]))"
    )
    one, *others = (
        json.loads(printed([sys.executable, "-c", script], hash_seed, PYTHONPATH=path))
        for hash_seed in ("0", "4242")
    )
    same(posteriors(*case(3)[1:]), one[3])
    for other in others:
        for here, there in zip(one, other, strict=True):
            same(here, there)


def test_the_hash_seed_does_not_matter_to_a_report_byte_for_byte():
    claywit = Path(sys.executable).parent / "claywit"
    example = ["models/oskervane.yaml", "evidence_examples/04-marrable.yaml"]
    command = [claywit, "assess", *example, "--json"]
    assert len({printed(command, seed) for seed in ("0", "1", "4242")}) == 1
