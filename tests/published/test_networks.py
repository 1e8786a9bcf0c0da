"""Posteriors of published networks, each in a file that names its source beside its numbers.

asia: Lauritzen & Spiegelhalter (1988); student: Koller & Friedman (2009), section 3.2.1;
alarm_burglary: Russell & Norvig after Pearl; sprinkler: Murphy (1998), from memory.
"""

import re

import numpy as np
import pytest
from networks import published

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_total

NAMES = ["asia", "student", "alarm_burglary", "sprinkler"]
CASES = [(name, i) for name in NAMES for i in range(len(published(name)[1]))]


def probability(model, evidence, held):
    """Return P(all of *held* given *evidence*)."""
    findings = [Finding(node, state=state) for node, state in evidence.items()]
    piece = compile_piece(compile_network(model), findings, list(held))
    joint = piece.log_joint(np.ones((1, len(findings)), dtype=bool))
    within = piece.holds({node: (state,) for node, state in held.items()})
    return float(np.exp(log_total(joint, within) - log_total(joint))[0])


def evidence_probability(model, evidence):
    findings = [Finding(node, state=state) for node, state in evidence.items()]
    piece = compile_piece(compile_network(model), findings, [])
    return float(np.exp(log_total(piece.log_joint(np.ones((1, len(findings)), dtype=bool))))[0])


@pytest.mark.parametrize(("name", "i"), CASES)
def test_a_published_posterior_comes_out(name, i):
    model, checks = published(name)
    check = checks[i]
    if check["target"] == "P(evidence)":
        found = evidence_probability(model, check["evidence"])
    elif check["target"] == "P(J,M|B)":
        found = probability(model, check["evidence"], {"J": "true", "M": "true"})
    else:
        node, state = check["target"]
        found = probability(model, check["evidence"], {node: state})
    assert found == pytest.approx(check["recomputed"], abs=1e-8)
    if check["published"] is not None:
        printed = re.search(r"\d\.\d+", str(check["published"]))[0]
        digits = len(printed.partition(".")[2])
        assert found == pytest.approx(float(printed), abs=0.5000001 * 10**-digits)


def test_explaining_away_lowers_a_cause_once_another_is_known():
    """Koller & Friedman, section 3.2.1: a good test score explains the poor grade differently."""
    model, _ = published("student")
    assert probability(model, {"G": "g3", "D": "d1"}, {"I": "i1"}) > probability(
        model, {"G": "g3"}, {"I": "i1"}
    )
    assert probability(model, {"G": "g3", "S": "s1"}, {"D": "d1"}) > probability(
        model, {"G": "g3"}, {"D": "d1"}
    )
