"""Weights of evidence against published figures."""

import numpy as np
import pytest
from networks import build, published

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning.explanation import explain

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


@pytest.mark.parametrize("seed", range(20))
def test_a_posterior_never_moves_faster_in_a_parameter_than_its_bound(seed):
    """Chan & Darwiche (2002): |dP/dx| <= P(1 - P) / (x(1 - x)); slope by central difference."""
    rng = np.random.default_rng(seed)
    x = float(rng.uniform(0.05, 0.95))
    rows = rng.uniform(0.05, 0.95, 3)

    def posterior(share):
        nodes = {"a": {"states": ["y", "n"], "rows": [{"p": {"y": share, "n": 1 - share}}]},
                 "b": {"states": ["y", "n"], "parents": ["a"], "rows": [
                     {"given": {"a": "y"}, "p": {"y": rows[0], "n": 1 - rows[0]}},
                     {"given": {"a": "n"}, "p": {"y": rows[1], "n": 1 - rows[1]}}]}}  # fmt: skip
        piece = compile_piece(
            compile_network(build("two", nodes)), [Finding("b", state="y")], ["a"]
        )
        joint = np.exp(piece.log_joint(np.ones((1, 1), dtype=bool)))[:, 0]
        return float(joint[0] / joint.sum())

    p, h = posterior(x), 1e-6
    slope = (posterior(x + h) - posterior(x - h)) / (2 * h)
    assert abs(slope) <= p * (1 - p) / (x * (1 - x)) * (1 + 1e-6)
