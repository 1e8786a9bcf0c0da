"""Weights of evidence against published figures."""

import copy

import numpy as np
import pytest
from networks import build, published, random_findings, random_model
from oracles import a_piece

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals
from claywit.model.schema import Model
from claywit.reasoning.explanation import explain
from claywit.report.digest import plain

YES, NO = {"lung": ("yes",)}, {"lung": ("no",)}


def test_the_chain_rule_trap_on_asia():
    """Lauritzen & Spiegelhalter (1988): x-ray then dyspnoea add to 14.4999 db for lung cancer.

    What each says alone adds to 15.0944 db, which is wrong: they share a cause.
    """
    model, _ = published("asia")
    findings = [Finding("xray", state="yes"), Finding("dysp", state="yes")]
    found = explain(compile_piece(compile_network(model), findings, ["lung"]), YES, NO)
    chained = [10 * weight.bans for weight in found.weights]
    assert chained == pytest.approx([12.1546, 2.3453], abs=5e-5)
    assert 10 * found.total == pytest.approx(14.4999, abs=5e-5)
    assert sum(10 * weight.alone for weight in found.weights) == pytest.approx(15.0944, abs=5e-5)


def test_twenty_heads_weigh_sixty_decibans():
    """General Report on Tunny (1945), section 21(g), page 39.

    Odds of 1 : 10,000 (-40 db) and 20 heads, each doubling them: printed +60 db and 100 : 1 on;
    exactly 60.206 db and 104.8576.
    """
    nodes = {
        "coin": {
            "states": ["double", "fair"],
            "rows": [{"p": {"double": 1 / 10001, "fair": 10000 / 10001}}],
        }
    }
    for i in range(20):
        nodes[f"toss{i}"] = {"states": ["head", "tail"], "parents": ["coin"], "rows": [
            {"given": {"coin": "double"}, "p": {"head": 1}},
            {"given": {"coin": "fair"}, "p": {"head": 0.5, "tail": 0.5}}]}  # fmt: skip
    findings = [Finding(f"toss{i}", state="head") for i in range(20)]
    piece = compile_piece(compile_network(build("tunny", nodes)), findings, ["coin"])
    found = explain(piece, {"coin": ("double",)}, {"coin": ("fair",)})
    assert 10 * found.prior == pytest.approx(-40, abs=1e-6)
    assert 10 * found.total == pytest.approx(60.20599913, abs=1e-7)
    assert 10 * found.posterior == pytest.approx(20.20599913, abs=1e-7)
    assert 10**found.posterior == pytest.approx(104.8576, abs=1e-6)
    assert round(10 * found.weights[0].bans) == 3


def a_parameter(rng):
    """Return a random model and the place of one parameter in it: a node's number, a row's."""
    while True:
        model = random_model(rng, 12, zeros=0)
        single = [
            (i, k)
            for i, node in enumerate(model.nodes)
            if len(node.states) == 2
            for k, row in enumerate(node.rows)
            if len(row.given) == len(node.parents) and all(len(s) == 1 for s in row.given.values())
        ]
        if single:
            return model, single[rng.integers(len(single))]


def with_share(data, place, share):
    """Return the model with *share* for the first of the two states in the row at *place*."""
    changed = copy.deepcopy(data)
    node = changed["nodes"][place[0]]
    states = [state["name"] for state in node["states"]]
    node["rows"][place[1]]["p"] = dict(zip(states, (share, 1 - share), strict=True))
    return Model.model_validate(changed)


@pytest.mark.parametrize("seed", range(25))
def test_a_posterior_never_moves_faster_in_a_parameter_than_its_bound(seed):
    """Chan & Darwiche (2002): |dP/dx| <= P(1 - P) / (x(1 - x)), for a share x of two states.

    On random networks, for every node and state. P(state, findings) is linear in x, so two
    values of x give the slope without a difference that loses digits.
    """
    rng = np.random.default_rng(seed)
    model, place = a_parameter(rng)
    findings = random_findings(rng, model, truth=a_piece(rng, model))
    data = plain(model)
    seen = {finding.node for finding in findings}
    asked = [name for name in model.by_name if name not in seen]
    first = len(compile_network(model).states[asked[0]])

    def joint(share):
        network = compile_network(with_share(data, place, share))
        _, logs = log_marginals(network, findings, asked)
        return np.concatenate([np.exp(logs[name]) for name in asked])

    low, high = joint(0.25), joint(0.75)
    slope = (high - low) / 0.5
    for x in (0.02, 0.3, 0.5, 0.9):
        held = low + slope * (x - 0.25)
        assert held == pytest.approx(joint(x), rel=1e-11)
        evidence, moves = held[:first].sum(), slope[:first].sum()
        p = held / evidence
        rate = (slope - p * moves) / evidence
        assert (np.abs(rate) <= p * (1 - p) / (x * (1 - x)) + 1e-12).all()
