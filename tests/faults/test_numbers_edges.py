"""Underflow, zeros and orders: numbers that a naive engine would lose, held against exact ones."""

import itertools
import json
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from math import log10

import numpy as np
import pytest
from networks import build, random_findings, random_model
from oracles import a_piece, joint_table, oracle
from trials import times

from claywit.assessment import assess, glance
from claywit.errors import EvidenceError, ImpossibleEvidence
from claywit.evidence.binding import bind
from claywit.evidence.findings import Finding
from claywit.evidence.written import Evidence
from claywit.inference import propagation
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals, log_shares
from claywit.model.schema import Model
from claywit.records.files import read_standards
from claywit.report.digest import plain

STANDARDS = read_standards()
EMPTY = Evidence.model_validate({"format": "claywit-evidence/1", "piece": {"id": "x"}})
TINY = 10**12  # one in so many


def examined(model, findings):
    return replace(bind(EMPTY, model), findings=tuple(findings))


def a_star(rng, count):
    """Return a root of two states and *count* leaves, each read as 1 to 9 in a billion thousand."""
    nodes = {"root": {"states": ["a", "b"], "rows": [{"p": {"a": 0.25, "b": 0.75}}]}}
    ratio = Fraction(1, 3)
    for i in range(count):
        one, other = (int(k) for k in rng.integers(1, 10, 2))
        ratio *= Fraction(one, other)
        nodes[f"leaf{i}"] = {"states": ["read", "not"], "parents": ["root"], "rows": [
            {"given": {"root": s}, "p": {"read": k / TINY, "not": 1 - k / TINY}}
            for s, k in (("a", one), ("b", other))]}  # fmt: skip
    return build("star", nodes), ratio


def test_two_hundred_findings_of_one_in_a_million_million_lose_nothing(tried):
    """Seeds [10, 0] and up. In linear space the product is 1e-2400, far below any double."""
    trials, worst = times(2, 100), 0.0
    for seed in range(trials):
        model, ratio = a_star(np.random.default_rng([10, seed]), 200)
        seen = [Finding(f"leaf{i}", state="read") for i in range(200)]
        report = glance(model, examined(model, seen), STANDARDS.scale)
        share = float(ratio / (1 + ratio))
        assert float(report.posterior["root"]["a"]) == pytest.approx(share, rel=1e-9, abs=1e-300)
        odds = report.log10_odds["root"]["a"]
        exact = log10(ratio.numerator) - log10(ratio.denominator)
        worst = max(worst, abs(odds - exact))
        assert odds == pytest.approx(exact, abs=1e-9), seed
    tried("200 findings of about 1e-12 each on one piece", trials,
          f"log10 odds of exact fractions, the largest difference {worst:.1g}")  # fmt: skip


def readings(model, question):
    """Return every plain reading of every node but the question."""
    return [Finding(node.name, state=state) for node in model.nodes if node.name != question
            for state in node.state_names]  # fmt: skip


def test_findings_that_zeros_exclude_are_refused_and_all_others_are_answered(tried):
    """Every pair of readings of random networks full of zeros, against the whole joint table."""
    seen = Counter()
    for seed in range(times(2, 40)):
        rng = np.random.default_rng([11, seed])
        model = random_model(rng, 6, zeros=0.5, hideable=0.0)
        known, question = oracle(model), "n0"
        joint, axes = joint_table(known), list(known.tables)
        for pair in itertools.combinations(readings(model, question), 2):
            if pair[0].node == pair[1].node:
                continue
            here = joint
            for one in pair:
                at = axes.index(one.node)
                here = here.take([known.tables[one.node][1].index(one.state)], at)
            shares = here.sum(axis=tuple(i for i, name in enumerate(axes) if name != question))
            seen[_check_pair(model, question, pair, shares)] += 1
    assert min(seen["impossible"], seen["answered"], seen["excluding"]) > 10
    tried(
        "pairs of readings on random networks full of zeros",
        sum(seen.values()),
        f"{seen['impossible']:,} impossible and refused by the names of those that exclude each"
        f" other; {seen['answered']:,} answered as the whole joint table has it, and"
        f" {seen['excluding']:,} that rule out a state, which is said; {seen['one answer']:,} with"
        " one answer before anything is seen, refused",
    )


def _check_pair(model, question, pair, shares):
    try:
        asked = replace(examined(model, pair), question=question)
        report = glance(model, asked, STANDARDS.scale)
    except EvidenceError as refused:
        return _check_refusal(refused, pair, shares)
    assert shares.sum() > 0
    states = model.node(question).state_names
    said = [float(report.posterior[question][state]) for state in states]
    assert said == pytest.approx((shares / shares.sum()).tolist(), abs=1e-11)
    out = {state for state, p in zip(states, shares.tolist(), strict=True) if p == 0}
    assert set(report.excluded_by_model.get(question, ())) == out
    return "excluding" if out else "answered"


def _check_refusal(refused, pair, shares):
    if not isinstance(refused, ImpossibleEvidence):
        assert "can only be" in str(refused)
        return "one answer"
    assert shares.sum() == 0
    assert set(refused.findings) <= {one.node for one in pair}
    return "impossible"


def shuffled(rng, model):
    """Return the same model with its nodes, parents, rows and states in another order.

    The states of a noisy-MAX are levels; their order carries meaning.
    """
    data = plain(model)
    data["nodes"] = [data["nodes"][i] for i in rng.permutation(len(data["nodes"]))]
    for node in data["nodes"]:
        for key in ("parents", "rows", *(() if "noisy_max" in node else ("states",))):
            listed = node.get(key, [])
            node[key] = [listed[i] for i in rng.permutation(len(listed))]
    return Model.model_validate(data)


def posteriors(model, findings):
    network = compile_network(model)
    seen = {one.node for one in findings}
    _, logs = log_marginals(network, findings, [n for n in network.states if n not in seen])
    return {(name, state): (p, log)
            for name, values in logs.items()
            for state, p, log in zip(network.states[name], np.exp(log_shares(values)).tolist(),
                                     values.tolist(), strict=True)}  # fmt: skip


def test_the_order_in_which_things_are_written_changes_nothing(tried):
    """Of nodes, parents, rows, states and findings, all at once; seeds [12, 0] and up."""
    trials, count, worst = times(10, 1_000), 0, 0.0
    for seed in range(trials):
        rng = np.random.default_rng([12, seed])
        model = random_model(rng, 14, measured=0.15)
        findings = random_findings(rng, model, truth=a_piece(rng, model))
        one = posteriors(model, findings)
        order = rng.permutation(len(findings))
        other = posteriors(shuffled(rng, model), [findings[i] for i in order])
        assert set(one) == set(other), seed
        for place, (p, log) in one.items():
            assert other[place][0] == pytest.approx(p, abs=1e-12), (seed, place)
            assert other[place][1] == pytest.approx(log, abs=1e-10), (seed, place)
            worst = max(worst, abs(other[place][0] - p))
        count += len(one)
    tried("posteriors with nodes, parents, rows, states and findings in another order", count,
          f"all the same, the largest difference {worst:.1g}")  # fmt: skip


def test_both_kernels_say_the_same(tried, monkeypatch):
    """The one that multiplies and the one that adds logarithms; seeds [13, 0] and up."""
    trials, count, worst = times(10, 500), 0, 0.0
    for seed in range(trials):
        rng = np.random.default_rng([13, seed])
        model = random_model(rng, 12)
        findings = random_findings(rng, model)
        subsets = rng.random((9, len(findings))) < 0.6
        joints = []
        for safe in (propagation.SAFE, 0.0):
            with monkeypatch.context() as patched:
                patched.setattr(propagation, "SAFE", safe)
                piece = compile_piece(compile_network(model), findings, list(model.by_name)[:2])
                joints.append(piece.log_joint(subsets))
        linear, logarithmic = joints
        finite = linear > -np.inf
        assert (finite == (logarithmic > -np.inf)).all(), seed
        far = np.abs(linear[finite] - logarithmic[finite]).max(initial=0.0)
        assert far < 1e-11, seed
        worst, count = max(worst, float(far)), count + int(finite.sum())
    tried("logs of joint states by two ways of adding up", count,
          f"the same, the largest difference {worst:.1g} nats; the same states excluded")  # fmt: skip


def test_pieces_assessed_side_by_side_in_threads_have_the_same_reports(tried):
    """Eight threads in one process, byte for byte; seeds [14, 0] and up."""
    pieces = []
    for seed in range(times(4, 25)):
        rng = np.random.default_rng([14, seed])
        model = random_model(rng, 10, measured=0.2)
        seen = random_findings(rng, model, truth=a_piece(rng, model))
        pieces.append((model, [one for one in seen if one.node != model.targets[0]]))

    def said(piece):
        try:
            return assess(piece[0], examined(*piece), STANDARDS).model_dump_json()
        except EvidenceError as refused:
            return str(refused)

    one_by_one = [said(piece) for piece in pieces]
    assert sum(text.startswith("{") for text in one_by_one) > len(pieces) / 2
    assert len({json.dumps(text) for text in one_by_one}) > len(pieces) / 2
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(said, pieces * times(2, 8)))
    assert together == one_by_one * times(2, 8)
    tried("reports worked out in eight threads of one process", len(together),
          "byte for byte those worked out one by one")  # fmt: skip
