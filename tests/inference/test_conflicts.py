"""What cannot be: findings that exclude each other, and networks that cannot be held."""

import itertools
import time
import tracemalloc

import numpy as np
import pytest
from networks import build, random_findings, random_model

from claywit.errors import ImpossibleEvidence, ModelError
from claywit.evidence.findings import Finding
from claywit.inference import propagation
from claywit.inference.network import compile_network
from claywit.inference.piece import (
    compile_piece,
    conflicting,
    log_marginals,
    log_total,
    refuse_impossible,
)


def kiln():
    """Two kilns; only the old one leaves a soot band, only the new one a vent mark."""
    traits = {"soot": (0.3, 0), "vent": (0, 0.6), "lime": (0.5, 0.4), "grit": (0.2, 0.1)}
    nodes = {"kiln": {"states": ["old", "new"], "rows": [{"p": {"old": 0.7, "new": 0.3}}]}}
    for name, (old, new) in traits.items():
        nodes[name] = {"states": ["yes", "no"], "parents": ["kiln"], "rows": [
            {"given": {"kiln": "old"}, "p": {"yes": old, "no": 1 - old}}, {"given": {"kiln": "new"}, "p": {"yes": new, "no": 1 - new}}]}  # fmt: skip
    return compile_network(build("kiln", nodes))


def test_a_conflict_names_the_two_findings_that_exclude_each_other_and_no_others():
    findings = [Finding(name, state="yes") for name in ("lime", "soot", "grit", "vent")]
    with pytest.raises(ImpossibleEvidence, match=r"^soot and vent cannot stand together"):
        refuse_impossible(compile_piece(kiln(), findings, []), -np.inf)


def test_a_doubtful_reading_takes_the_conflict_away():
    """P = .7 x (.9 x .3 + .1 x .7) x 0 + .3 x .1 x .6."""
    findings = [Finding("soot", state="yes", sure=0.9), Finding("vent", state="yes")]
    found = log_total(compile_piece(kiln(), findings, []).log_joint(np.ones((1, 2), dtype=bool)))
    assert np.exp(found[0]) == pytest.approx(0.3 * 0.1 * 0.6)


def test_a_finding_that_the_model_excludes_on_its_own_is_named_alone():
    nodes = {"a": {"states": ["x", "y"], "rows": [{"p": {"x": 1}}]},
             "b": {"states": ["x", "y"], "parents": ["a"], "rows": [{"p": {"x": 0.5, "y": 0.5}}]}}  # fmt: skip
    findings = [Finding("b", state="x"), Finding("a", state="y")]
    piece = compile_piece(compile_network(build("alone", nodes)), findings, [])
    assert conflicting(piece) == ("a",)


def impossible_piece(seed):
    """Return a piece of at most 8 findings that cannot stand together, no single one at fault."""
    rng = np.random.default_rng(seed)
    while True:
        model = random_model(rng, 12, zeros=0.5)
        network = compile_network(model)
        for _ in range(10):
            findings = random_findings(rng, model)[:8]
            piece = compile_piece(network, findings, [])
            if not possible(piece, range(len(findings))) and all(
                possible(piece, [i]) for i in range(len(findings))
            ):
                return piece


def possible(piece, kept):
    subset = np.isin(np.arange(len(piece.findings)), list(kept))[np.newaxis]
    return log_total(piece.log_joint(subset))[0] > -np.inf


@pytest.mark.parametrize("seed", range(20))
def test_the_named_conflict_is_among_the_smallest_sets_that_brute_force_finds(seed):
    """Every subset is tried: those that are impossible, yet possible without any one."""
    piece = impossible_piece(seed)
    everything = range(len(piece.findings))
    known = {
        kept: possible(piece, kept)
        for size in range(len(everything) + 1)
        for kept in itertools.combinations(everything, size)
    }
    irreducible = [
        {piece.findings[i].node for i in kept}
        for kept, stands in known.items()
        if not stands and all(known[tuple(j for j in kept if j != i)] for i in kept)
    ]
    assert set(conflicting(piece)) in irreducible
    assert min(len(names) for names in irreducible) >= 2


@pytest.mark.parametrize("safe", [propagation.SAFE, 0.0], ids=["linear", "logarithmic"])
@pytest.mark.parametrize("seed", range(6))
def test_impossible_evidence_gives_zeros_and_no_nan_in_either_kernel(seed, safe, monkeypatch):
    monkeypatch.setattr(propagation, "SAFE", safe)
    piece = impossible_piece(seed)
    seen = {finding.node for finding in piece.findings}
    asked = [name for name in piece.network.states if name not in seen]
    again = compile_piece(piece.network, piece.findings, asked[:2])
    subsets = np.concatenate([np.eye(len(seen)), np.ones((1, len(seen)))]).astype(bool)
    joint = again.log_joint(subsets)
    assert not np.isnan(joint).any()
    assert (joint[:, -1] == -np.inf).all()
    assert (joint[:, :-1].max(axis=0) > -np.inf).all()
    priors, posteriors = log_marginals(piece.network, piece.findings, asked)
    for name in asked:
        assert np.logaddexp.reduce(priors[name]) == pytest.approx(0, abs=1e-12)
        assert (posteriors[name] == -np.inf).all()


@pytest.mark.parametrize(("parents", "states"), [(5, 3), (8, 2), (12, 2)])
def test_a_dense_network_of_sixty_nodes_is_refused_at_once_and_takes_no_memory(parents, states):
    """What would have been a table of a billion entries or more is never asked for."""
    names, rng = [f"n{i}" for i in range(60)], np.random.default_rng(1)
    share = {f"s{k}": 1 / states for k in range(states)}
    nodes = {
        name: {"states": list(share), "rows": [{"p": share}],
               "parents": sorted(rng.permutation(names[:i])[:parents].tolist())}
        for i, name in enumerate(names)
    }  # fmt: skip
    network = compile_network(build("dense", nodes))
    start = time.process_time()  # not the clock on the wall: the machine may be busy
    with pytest.raises(ModelError, match=r"the nodes n\d+, n\d+.* must be held in one table"):
        compile_piece(network, [], names[-1:])
    assert time.process_time() - start < 0.5
    tracemalloc.start()
    with pytest.raises(ModelError):
        compile_piece(network, [], names[-1:])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5e6
