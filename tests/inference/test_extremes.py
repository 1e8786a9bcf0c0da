"""Far from the ordinary: tiny numbers, conflicts, networks too large, many columns."""

import itertools
import tracemalloc
from fractions import Fraction
from math import log10

import numpy as np
import pytest
from networks import build, entangled, random_findings, random_model

from claywit.errors import ImpossibleEvidence, ModelError
from claywit.evidence.findings import Finding
from claywit.inference import propagation
from claywit.inference.network import compile_network
from claywit.inference.piece import (
    compile_piece,
    conflicting,
    log_marginals,
    log_odds,
    log_total,
    refuse_impossible,
)


def every(findings):
    return np.ones((1, len(findings)), dtype=bool)


def bans(piece, node, one, other):
    joint = piece.log_joint(every(piece.findings))
    found = log_odds(joint, piece.holds({node: (one,)}), piece.holds({node: (other,)}))
    return float(found[0]) / np.log(10)


def star(readings):
    """A root with two states and a leaf for each pair P(read | a), P(read | b)."""
    nodes = {"root": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]}}
    for i, (under_a, under_b) in enumerate(readings):
        nodes[f"leaf{i}"] = {"states": ["read", "not"], "parents": ["root"], "rows": [
            {"given": {"root": "a"}, "p": {"read": under_a, "not": 1 - under_a}},
            {"given": {"root": "b"}, "p": {"read": under_b, "not": 1 - under_b}},
        ]}  # fmt: skip
    findings = [Finding(f"leaf{i}", state="read") for i in range(len(readings))]
    return compile_piece(compile_network(build("star", nodes)), findings, ["root"])


def test_two_hundred_findings_of_one_in_a_billion_billion_keep_their_ratio():
    piece = star([(1e-12, 2e-12)] * 200)
    assert bans(piece, "root", "b", "a") == pytest.approx(200 * log10(2), abs=1e-9)


def test_two_hundred_findings_that_contradict_each_other_are_not_called_impossible():
    piece = star([(1e-12, 0.5)] * 100 + [(0.5, 1e-12)] * 100)
    assert bans(piece, "root", "a", "b") == pytest.approx(0, abs=1e-9)


def test_contradiction_between_tables_of_different_scope_keeps_its_ratio():
    """100 findings on x against 100 on (x, y): no single message holds both sides."""
    nodes = {"x": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]},
             "y": {"states": ["a", "b"], "rows": [{"p": {"a": 0.3, "b": 0.7}}]}}  # fmt: skip
    for i in range(100):
        nodes[f"on_x{i}"] = {"states": ["read", "not"], "parents": ["x"], "rows": [
            {"given": {"x": "a"}, "p": {"read": 1e-9, "not": 1 - 1e-9}},
            {"given": {"x": "b"}, "p": {"read": 0.5, "not": 0.5}}]}  # fmt: skip
        nodes[f"on_xy{i}"] = {"states": ["read", "not"], "parents": ["x", "y"], "rows": [
            {"given": {"x": "a"}, "p": {"read": 0.5, "not": 0.5}},
            {"given": {"x": "b", "y": "a"}, "p": {"read": 2e-9, "not": 1 - 2e-9}},
            {"given": {"x": "b", "y": "b"}, "p": {"read": 1e-9, "not": 1 - 1e-9}}]}  # fmt: skip
    findings = [Finding(name, state="read") for name in nodes if name.startswith("on_")]
    piece = compile_piece(compile_network(build("two", nodes)), findings, ["x"])
    small, half = Fraction(1, 10**9), Fraction(1, 2)
    a = half * small**100 * half**100
    b = half * half**100 * (Fraction(3, 10) * (2 * small) ** 100 + Fraction(7, 10) * small**100)
    exact = (a.numerator * b.denominator, a.denominator * b.numerator)
    expected = log10(Fraction(*exact))
    assert bans(piece, "x", "a", "b") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_both_kernels_give_the_same_numbers(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    model = random_model(rng, 15)
    findings = random_findings(rng, model)
    network = compile_network(model)

    def joint():
        piece = compile_piece(network, findings, list(model.by_name)[:2])
        subsets = rng_subsets(seed, len(findings))
        with np.errstate(invalid="ignore"):
            return piece.log_joint(subsets), piece.loaded.kernel

    linear, used = joint()
    assert used is propagation._LINEAR
    monkeypatch.setattr(propagation, "SAFE", 0.0)
    logarithmic, used = joint()
    assert used is propagation._LOGARITHMIC
    finite = linear > -np.inf
    assert (finite == (logarithmic > -np.inf)).all()
    assert linear[finite] == pytest.approx(logarithmic[finite], abs=1e-11)


def rng_subsets(seed, count):
    return np.random.default_rng(seed + 99).random((9, count)) < 0.6


@pytest.mark.parametrize("seed", range(6))
def test_many_columns_at_once_are_the_same_as_one_at_a_time(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    model = random_model(rng, 20)
    findings = random_findings(rng, model)
    piece = compile_piece(compile_network(model), findings, list(model.by_name)[-2:])
    subsets = rng.random((60, len(findings))) < 0.5
    together = piece.log_joint(subsets)
    alone = np.concatenate([piece.log_joint(row[np.newaxis]) for row in subsets], axis=1)
    assert np.exp(together) == pytest.approx(np.exp(alone), rel=1e-12)
    monkeypatch.setattr(propagation, "MAX_BLOCK", 200)
    assert np.exp(piece.log_joint(subsets)) == pytest.approx(np.exp(together), rel=1e-12)


def test_nodes_that_nothing_needs_change_nothing():
    rng = np.random.default_rng(5)
    model = random_model(rng, 12, zeros=0)
    names = list(model.by_name)
    network = compile_network(model)
    piece = compile_piece(network, [], names[:1])
    assert piece.tree.roots == (names[0],)
    assert piece.tree.entries == len(network.states[names[0]])


def impossible_case(seed):
    rng = np.random.default_rng(seed)
    model = random_model(rng, 9, zeros=0.55)
    network = compile_network(model)
    for _ in range(200):
        findings = random_findings(rng, model, share=0.8)
        piece = compile_piece(network, findings, [])
        if log_total(piece.log_joint(every(findings)))[0] == -np.inf:
            return piece
    return None


@pytest.mark.parametrize("seed", range(12))
def test_from_the_findings_named_as_conflicting_none_can_be_removed(seed):
    piece = impossible_case(seed)
    assert piece is not None
    named = conflicting(piece)
    numbers = [i for i, f in enumerate(piece.findings) if f.node in named]

    def possible(kept):
        subset = np.isin(np.arange(len(piece.findings)), kept)[np.newaxis]
        return log_total(piece.log_joint(subset))[0] > -np.inf

    assert not possible(numbers)
    for fewer in itertools.combinations(numbers, len(numbers) - 1):
        assert possible(list(fewer))
    with pytest.raises(ImpossibleEvidence, match="cannot stand together"):
        refuse_impossible(piece, -np.inf)


def test_no_nan_leaves_the_engine_even_when_everything_is_excluded():
    piece = impossible_case(3)
    joint = piece.log_joint(every(piece.findings))
    assert (joint == -np.inf).all()


def test_a_network_too_entangled_is_refused_before_memory_is_asked_for():
    network, findings = entangled(60)
    tracemalloc.start()
    with pytest.raises(ModelError, match=r"the nodes r\d+, r\d+.* must be held in one table"):
        compile_piece(network, findings, ["r0"])
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 20e6


@pytest.mark.parametrize("seed", range(6))
def test_marginals_are_those_of_the_joint(seed):
    rng = np.random.default_rng(seed)
    model = random_model(rng, 14, zeros=0)
    findings = random_findings(rng, model, share=0.3)
    seen = {f.node for f in findings}
    asked = [name for name in model.by_name if name not in seen]
    network = compile_network(model)
    _, logs = log_marginals(network, findings, asked)
    for name in asked[:5]:
        joint = compile_piece(network, findings, [name]).log_joint(every(findings))[:, 0]
        assert np.exp(logs[name]) == pytest.approx(np.exp(joint), rel=1e-12)
