"""The second engine agrees with the first, and with enumeration of every joint state."""

import json
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from networks import build, published, random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle
from small import examined, model

from claywit.evidence.findings import Finding
from claywit.inference import recheck as recheck_module
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.inference.recheck import recheck
from claywit.reasoning.explanation import explain

CHUNKS, CASES = 4, 100


def a_case(seed, low, high):
    rng = np.random.default_rng(seed)
    known = random_model(rng, int(rng.integers(low, high + 1)), measured=0.15)
    found = random_findings(rng, known, truth=a_piece(rng, known))
    unseen = [n for n in known.nodes if n.states and n.name not in {f.node for f in found}]
    return known, found, [n for n in unseen if len(n.states) > 1]


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_small_random_networks_agree_with_enumeration(chunk):
    for seed in range(4000 + chunk, 4000 + CASES, CHUNKS):
        known, found, unseen = a_case(seed, 3, 9)
        if not unseen:
            continue
        states = unseen[0].state_names
        for_, against = {unseen[0].name: states[:1]}, {unseen[0].name: states[1:]}
        answer = recheck(known, found, [n.name for n in unseen], for_, against)
        evidence, posteriors = enumerate_joint(oracle(known, found))
        assert 10**answer.log10_evidence == pytest.approx(evidence, rel=1e-9), seed
        for name, shares in answer.posterior.items():
            assert shares == pytest.approx(posteriors[name], abs=1e-9), (seed, name)
        _, priors = enumerate_joint(oracle(known))
        for name, shares in answer.prior.items():
            assert shares == pytest.approx(priors[name], abs=1e-9), (seed, name)


@pytest.mark.parametrize("seed", range(5000, 5020))
def test_the_weights_of_larger_networks_agree_with_the_explanation(seed):
    known, found, unseen = a_case(seed, 8, 25)
    if not unseen or not found:
        pytest.skip("nothing to weigh in this draw")
    name, states = unseen[0].name, unseen[0].state_names
    for_, against = {name: states[:1]}, {name: states[1:]}
    piece = compile_piece(compile_network(known), found, [name])
    first = explain(piece, for_, against)
    second = recheck(known, found, [name], for_, against)
    wanted = {weight.node: weight.left_out for weight in first.weights}
    assert second.prior_bans == pytest.approx(first.prior, abs=1e-9)
    assert second.total_bans == pytest.approx(first.total, abs=1e-9, nan_ok=True)
    assert second.left_out_bans == pytest.approx(wanted, abs=1e-9, nan_ok=True)


def test_a_published_network_gives_its_published_answer():
    known, checks = published("asia")
    check = next(c for c in checks if c.get("evidence"))
    found = [Finding(node, state=state) for node, state in check["evidence"].items()]
    node = next(n for n in known.nodes if n.name not in check["evidence"])
    answer = recheck(known, found, [node.name], *({node.name: (s,)} for s in node.state_names[:2]))
    _, posteriors = enumerate_joint(oracle(known, found))
    assert answer.posterior[node.name] == pytest.approx(posteriors[node.name], abs=1e-12)


def test_the_move_of_two_shops_can_be_redone_by_hand():
    """North has its rim bevelled 8 times in 10, south 1 in 10: log10 8 bans, from 5 to 4."""
    known = model()
    piece = examined(known, "{rim: bevelled}")
    answer = recheck(known, piece.findings, ["shop"], {"shop": ("north",)}, {"shop": ("south",)})
    assert answer.prior_bans == pytest.approx(math.log10(5 / 4))
    assert answer.total_bans == pytest.approx(math.log10(8))
    assert answer.left_out_bans == {"rim": pytest.approx(math.log10(8))}
    # P(bevelled) = 0.5 x 0.8 + 0.5 x 0.1
    assert 10**answer.log10_evidence == pytest.approx(0.45)


def test_a_finding_that_excludes_one_side_has_no_limit():
    known = model()
    piece = examined(known, "{seal: pressed}")
    answer = recheck(known, piece.findings, ["shop"], {"shop": ("south",)}, {"shop": ("north",)})
    assert answer.total_bans == math.inf
    assert answer.left_out_bans == {"seal": math.inf}


def test_the_priors_of_a_client_are_used():
    known = model()
    piece = examined(known, "{}", "priors: {shop: {north: 0.2, south: 0.7, other: 0.1}}")
    answer = recheck(known, piece.findings, ["shop"], {"shop": ("north",)}, {"shop": ("south",)},
                     priors=piece.priors)  # fmt: skip
    assert answer.prior["shop"] == pytest.approx({"north": 0.2, "south": 0.7, "other": 0.1})
    assert answer.log10_evidence == 0


def test_many_faint_findings_do_not_run_out_of_range():
    """400 findings of 1e-6 each: P(findings) is 1e-2400, far below any double."""
    rows = [
        {"given": {"a": s}, "p": {"yes": p, "no": 1 - p}} for s, p in (("x", 1e-6), ("y", 2e-6))
    ]
    nodes = {"a": {"states": ["x", "y"], "rows": [{"p": {"x": 0.5, "y": 0.5}}]}}
    nodes |= {f"t{i}": {"states": ["yes", "no"], "parents": ["a"], "rows": rows} for i in range(20)}
    known = build("faint", nodes)
    found = [Finding(f"t{i}", state="yes") for i in range(20)]
    answer = recheck(known, found, ["a"], {"a": ("y",)}, {"a": ("x",)})
    assert answer.total_bans == pytest.approx(20 * math.log10(2), abs=1e-9)
    assert answer.log10_evidence == pytest.approx(-120 + math.log10((1 + 2**20) / 2), abs=1e-9)


def test_the_second_engine_never_touches_the_first():
    source = "".join(
        (Path(recheck_module.__file__).parent / name).read_text()
        for name in ("recheck.py", "retold.py")
    )
    for first in ("likelihood", "densities", "network import", "propagation", "matching", "numpy"):
        assert f"claywit.inference.{first}" not in source
        assert f"import {first}" not in source
    assert "claywit.model.matching" not in source


def test_importing_the_module_imports_neither_pgmpy_nor_scipy():
    code = "import sys, json, claywit.inference.recheck; print(json.dumps([m for m in ('pgmpy', 'scipy') if m in sys.modules]))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == []
