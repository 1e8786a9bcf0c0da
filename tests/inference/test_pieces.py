"""What a compiled piece answers: nothing more than what the findings and the question need."""

from fractions import Fraction
from math import log

import numpy as np
import pytest
from networks import build, random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle

from claywit.evidence.findings import Finding
from claywit.inference import propagation
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals, log_total
from claywit.model.schema import Model
from claywit.report.digest import plain


def every(findings):
    return np.ones((1, len(findings)), dtype=bool)


def case(seed, size=12, **kinds):
    rng = np.random.default_rng(seed)
    model = random_model(rng, size, measured=0.15, **kinds)
    return rng, model, random_findings(rng, model, truth=a_piece(rng, model))


def with_barren(rng, model, inner):
    """Return the model with leaves, a chain and a network of its own that nobody asks for."""
    data = plain(model)
    for i in range(6):
        parents = rng.permutation(list(dict.fromkeys(inner)))[:2].tolist() if i < 4 else []
        node = {"name": f"z{i}", "states": ["x", "y"], "parents": parents,
                "rows": [{"p": {"x": 0.25, "y": 0.75}}]}  # fmt: skip
        data["nodes"].insert(int(rng.integers(len(data["nodes"]))), node)
        inner = [*inner, f"z{i}"]
    return Model.model_validate(data)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("below_findings", [False, True])
def test_nodes_that_nobody_asks_for_change_nothing(seed, below_findings):
    """Below findings too, where a leaf becomes an inner node and its tree another one."""
    rng, model, findings = case(seed)
    seen = {finding.node for finding in findings}
    parents = [n.name for n in model.nodes if n.states and not n.visibility]
    inner = [name for name in parents if below_findings or name not in seen]
    wider = with_barren(rng, model, inner)
    roots = [node.name for node in model.nodes if node.states][:2]
    one, other = (compile_piece(compile_network(m), findings, roots) for m in (model, wider))
    joints = [np.exp(piece.log_joint(every(findings))) for piece in (one, other)]
    assert joints[0] == pytest.approx(joints[1], rel=1e-12)
    assert below_findings or one.tree.entries == other.tree.entries


@pytest.mark.parametrize("seed", range(10))
def test_marginals_of_every_node_are_those_of_its_joint_and_of_enumeration(seed):
    """Found nodes too, with structural zeros, priors beside posteriors."""
    _, model, findings = case(seed, 7)
    network = compile_network(model)
    evidence, expected = enumerate_joint(oracle(model, findings))
    _, before = enumerate_joint(oracle(model))
    asked = list(network.states)
    priors, posteriors = log_marginals(network, findings, asked)
    for name in asked:
        piece = compile_piece(network, findings, [name])
        joint = np.zeros(len(network.states[name]))
        joint[piece.tree.root_states[:, 0]] = np.exp(piece.log_joint(every(findings))[:, 0])
        assert np.exp(posteriors[name]) == pytest.approx(joint, rel=1e-12, abs=1e-300)
        shares = list(expected[name].values())
        assert joint / evidence == pytest.approx(shares, abs=1e-12)
        assert np.exp(priors[name]) == pytest.approx(list(before[name].values()), abs=1e-12)


def wet_chain():
    """a -> b -> c with a finding in the middle; numbers small enough to redo by hand."""
    rows = [{"given": {"a": "x"}, "p": {"x": 0.9, "y": 0.1}}, {"given": {"a": "y"}, "p": {"x": 0.2, "y": 0.8}}]  # fmt: skip
    below = [{"given": {"b": r["given"]["a"]}, "p": r["p"]} for r in rows]
    return compile_network(build("chain", {
        "a": {"states": ["x", "y"], "rows": [{"p": {"x": 0.3, "y": 0.7}}]},
        "b": {"states": ["x", "y"], "parents": ["a"], "rows": rows},
        "c": {"states": ["x", "y"], "parents": ["b"], "rows": below}}))  # fmt: skip


def test_a_finding_on_an_inner_node_speaks_up_and_down():
    """P(a = x | b = x) = .27 / (.27 + .14); P(c = x | b = x) = .9, whatever a is."""
    _, found = log_marginals(wet_chain(), [Finding("b", state="x")], ["a", "c"])
    evidence = 0.27 + 0.14
    assert np.exp(found["a"]) == pytest.approx([0.27, 0.14])
    assert np.exp(found["c"]) == pytest.approx([0.9 * evidence, 0.1 * evidence])


def test_a_doubtful_finding_on_an_inner_node_leaves_it_open():
    """Sure at .8: P(b = x | read x) = .8 x .41 / (.8 x .41 + .2 x .59)."""
    _, found = log_marginals(wet_chain(), [Finding("b", state="x", sure=0.8)], ["b", "c"])
    x, y = 0.8 * 0.41, 0.2 * 0.59
    assert np.exp(found["b"]) == pytest.approx([x, y])
    assert np.exp(found["c"]) == pytest.approx([0.9 * x + 0.2 * y, 0.1 * x + 0.8 * y])


def test_a_clients_priors_take_the_place_of_the_models_own():
    model = wet_chain().model
    network = compile_network(model, {"a": {"x": 0.6, "y": 0.4}})
    priors, found = log_marginals(network, [Finding("b", state="x")], ["a"])
    assert np.exp(priors["a"]) == pytest.approx([0.6, 0.4])
    assert np.exp(found["a"]) == pytest.approx([0.9 * 0.6, 0.2 * 0.4])


def hidden_chain(length):
    """A chain of *length* hidden nodes, two readings of 1e-12 on each that lean by turns."""
    rows = [{"given": {"?": "a"}, "p": {"a": 0.875, "b": 0.125}}, {"given": {"?": "b"}, "p": {"a": 0.25, "b": 0.75}}]  # fmt: skip
    nodes = {"h0": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]}}
    for i in range(1, length):
        held = [{"given": {f"h{i - 1}": r["given"]["?"]}, "p": r["p"]} for r in rows]
        nodes[f"h{i}"] = {"states": ["a", "b"], "parents": [f"h{i - 1}"], "rows": held}
    tiny = [[1e-12, 3e-12], [2e-12, 1e-12]]
    for i in range(length):
        for k, (a, b) in enumerate(tiny):
            nodes[f"t{i}_{k}"] = {"states": ["so", "not"], "parents": [f"h{i}"], "rows": [
                {"given": {f"h{i}": "a"}, "p": {"so": a, "not": 1 - a}},
                {"given": {f"h{i}": "b"}, "p": {"so": b, "not": 1 - b}}]}  # fmt: skip
    return compile_network(build("hidden", nodes)), tiny


def test_two_hundred_findings_spread_over_a_chain_keep_their_ratios():
    """Against the forward and backward sums in fractions, in which nothing is rounded."""
    network, tiny = hidden_chain(100)
    findings = [Finding(f"t{i}_{k}", state="so") for i in range(100) for k in range(2)]
    step = [[Fraction(7, 8), Fraction(1, 8)], [Fraction(1, 4), Fraction(3, 4)]]
    read = [Fraction(tiny[0][s]) * Fraction(tiny[1][s]) for s in range(2)]
    forward = [[Fraction(1, 2) * read[s] for s in range(2)]]
    backward = [[Fraction(1)] * 2]
    for _ in range(99):
        last, below = forward[-1], backward[-1]
        forward.append([sum(last[r] * step[r][s] for r in range(2)) * read[s] for s in range(2)])
        backward.append([sum(step[s][r] * read[r] * below[r] for r in range(2)) for s in range(2)])
    _, found = log_marginals(network, findings, ["h0", "h50", "h99"])
    for i in (0, 50, 99):
        a, b = (forward[i][s] * backward[99 - i][s] for s in range(2))
        assert found[f"h{i}"][0] - found[f"h{i}"][1] == pytest.approx(log(a / b), abs=1e-9)
        assert found[f"h{i}"][0] == pytest.approx(log_of(a), rel=1e-12)


def log_of(fraction):
    """Return the log of a fraction that a double cannot hold."""
    shift = fraction.denominator.bit_length() - fraction.numerator.bit_length()
    return log(fraction * Fraction(2) ** shift) - shift * log(2)


@pytest.mark.parametrize("count", [20, 22, 23, 24, 25, 26, 30])
def test_nothing_jumps_where_one_kernel_takes_over_from_the_other(count):
    """Some 24 findings of 1e-12 are as much as the linear kernel is trusted with."""
    leaves = {f"t{i}": {"states": ["so", "not"], "parents": ["h0"], "rows": [
        {"given": {"h0": s}, "p": {"so": p, "not": 1 - p}} for s, p in (("a", 1e-12), ("b", 3e-12))]}
        for i in range(count)}  # fmt: skip
    root = {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]}
    network = compile_network(build("star", {"h0": root, **leaves}))
    piece = compile_piece(network, [Finding(name, state="so") for name in leaves], ["h0"])
    linear = piece.loaded.kernel is propagation._LINEAR
    assert linear == (count < 25)
    a, b = piece.log_joint(every(leaves))[:, 0]
    assert b - a == pytest.approx(count * log(3), abs=1e-11)
    assert a == pytest.approx(count * log(1e-12) + log(0.5), rel=1e-13)


@pytest.mark.parametrize("seed", range(6))
def test_a_finding_left_out_is_as_if_it_had_never_been_made(seed):
    _, model, findings = case(seed, 15)
    network = compile_network(model)
    piece = compile_piece(network, findings, [])
    without = log_total(piece.log_joint(~np.eye(len(findings), dtype=bool)))
    for i, found in enumerate(without):
        rest = [*findings[:i], *findings[i + 1 :]]
        alone = log_total(compile_piece(network, rest, []).log_joint(every(rest)))[0]
        assert found == pytest.approx(alone, abs=1e-12)
