"""What single numbers do to the answer: exact functions, turning points, a published bound."""

import numpy as np
import pytest
from networks import published, random_findings, random_model, with_n
from oracles import a_piece
from small import examined, model

from claywit.assessment import what_if
from claywit.errors import EvidenceError
from claywit.evidence.findings import Finding
from claywit.inference.contributions import contributions
from claywit.inference.drawing import Drawn
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.inference.setting import with_share
from claywit.inference.varied import compile_varied, entering, run
from claywit.reasoning.sensitivity import flips, one_way
from claywit.reasoning.two_way import find_number, two_way


def ways_of(known, findings, root):
    varied = compile_varied(compile_network(known), findings, [root])
    parts = contributions(varied)
    return varied, parts, one_way(varied, parts, root)


def a_question(known, findings):
    seen = {f.node for f in findings}
    return next(n for n in known.by_name if known.node(n).states
                and not known.node(n).visibility and n not in seen)  # fmt: skip


def a_case(seed, **kinds):
    rng = np.random.default_rng(seed)
    known = random_model(rng, 8, **kinds)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    root = a_question(known, findings)
    return rng, findings, root, *ways_of(known, findings, root)


def recomputed(varied, root, number, x):
    share = (number.node, number.kind, number.given, number.state)
    network = with_share(varied.network, share, np.array([x]))
    return varied.marginal(run(varied.tree, entering(varied, Drawn(network))), root)[:, 0]


@pytest.mark.parametrize("seed", range(25))
def test_every_sensitivity_function_gives_what_a_changed_model_gives(seed):
    rng, _, root, varied, _, ways = a_case(seed, gates=0.4, measured=0.1)
    for i in rng.permutation(len(ways.numbers))[:40]:
        number = ways.numbers[i]
        for x in (0.03, number.value, 0.71):
            expected = recomputed(varied, root, number, x)
            assert ways.posterior(i, x) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", range(15))
def test_no_slope_passes_the_bound_of_chan_and_darwiche(seed):
    """Chan & Darwiche (2002), When do numbers really matter?: |dP/dx| <= P(1-P) / (x(1-x)).

    The bound is proved for a parameter of a node with two states; for more states under
    proportional change it holds for the same reason (the odds of x bound the odds of P).
    """
    *_, ways = a_case(seed)
    for i, number in enumerate(ways.numbers):
        x, joint = number.value, ways.slope[i] * number.value + ways.constant[i]
        total = joint.sum()
        p = joint / total
        slope = (ways.slope[i] * total - joint * ways.slope[i].sum()) / total**2
        assert (np.abs(slope) <= p * (1 - p) / (x * (1 - x)) + 1e-9).all()


@pytest.mark.parametrize("seed", range(15))
def test_at_a_turning_point_the_two_leaders_are_level_and_nothing_leads_earlier(seed):
    *_, root, varied, parts, ways = a_case(seed, gates=0.4)
    now = ways.posterior(0, ways.numbers[0].value) if ways.numbers else None
    for flip in flips(ways, varied, parts):
        if flip.number is None:
            continue
        there = recomputed(varied, root, flip.number, flip.then)
        order = np.argsort(-there)
        assert there[order[0]] == pytest.approx(there[order[1]], abs=1e-9)
        assert ways.states.index(flip.leader) in order[:2]
        near = flip.number.value + 0.999 * (flip.then - flip.number.value)
        before = recomputed(varied, root, flip.number, near)
        assert before.argmax() == now.argmax()


def test_a_turning_point_by_hand():
    """North .5 x .1 against South .4 x .4 for a stroke; level where South's stroke is .125."""
    known = model()
    found = what_if(known, examined(known, "{mark: stroke}"), [])
    (turn,) = [t for t in found.sensitivity.turning
               if t.node == "mark" and t.row == "shop=south"]  # fmt: skip
    then = turn.then if turn.state == "stroke" else 1 - turn.then
    assert then == pytest.approx(0.125)
    assert turn.leader == "north"


def test_on_asia_the_prior_of_smoking_moves_lung_cancer_as_two_straight_lines_say():
    """Lauritzen & Spiegelhalter (1988): P(lung | smoke) = .1, P(lung | no smoke) = .01, no findings."""
    known, _ = published("asia")
    names = {n.lower(): n for n in known.by_name}
    smoke = next(n for k, n in names.items() if "smok" in k)
    lung = next(n for k, n in names.items() if "lung" in k)
    _, _, ways = ways_of(known, (), lung)
    yes = known.node(smoke).state_names[0]
    i = next(k for k, n in enumerate(ways.numbers) if n.node == smoke and n.state == yes)
    for x in (0.0, 0.2, 0.5, 1.0):
        assert ways.posterior(i, x)[0] == pytest.approx(0.1 * x + 0.01 * (1 - x))


@pytest.mark.parametrize("seed", range(10))
def test_two_numbers_at_once_give_what_a_model_with_both_changed_gives(seed):
    rng, _, root, varied, _, ways = a_case(seed, gates=0.3)
    for _ in range(4):
        i, j = rng.permutation(len(ways.numbers))[:2]
        one, other = ways.numbers[i], ways.numbers[j]
        if one.node == other.node:
            continue
        both = two_way(varied, ways, int(i), int(j))
        x, y = rng.uniform(0.05, 0.95, 2)
        network = varied.network
        for number, value in ((one, x), (other, y)):
            share = (number.node, number.kind, number.given, number.state)
            network = with_share(network, share, np.array([value]))
        expected = varied.marginal(run(varied.tree, entering(varied, Drawn(network))), root)[:, 0]
        assert both.posterior(x, y) == pytest.approx(expected, abs=1e-9)


def test_a_number_is_found_by_its_node_its_state_and_its_parents():
    known = model()
    *_, ways = ways_of(known, examined(known, "{rim: bevelled}").findings, "shop")
    assert ways.numbers[find_number(ways, "rim=bevelled,shop=north")].value == 0.8
    assert ways.numbers[find_number(ways, "shop=other")].value == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("rim", "names no number"),
        ("rin=flat", "rests on no number of rin; did you mean rim"),
        ("rim=bevel", "no share of bevel to vary; did you mean bevelled"),
        ("rim=bevelled", "means 2 of the numbers, must be one"),
        ("rim=bevelled,shop=nort", "means none of the numbers"),
        ("rim=bevelled,shop=north,shop=south", "names a parent twice"),
        ("x" * 2000 + "=y", "too long to name a number"),
    ],
)
def test_a_text_that_means_no_single_number_is_refused(text, said):
    known = model()
    *_, ways = ways_of(known, examined(known, "{rim: bevelled}").findings, "shop")
    with pytest.raises(EvidenceError, match=said):
        find_number(ways, text)


def test_two_numbers_of_one_node_and_three_numbers_are_refused():
    known = model()
    seen = examined(known, "{rim: bevelled}")
    with pytest.raises(EvidenceError, match="two numbers of one node"):
        what_if(known, seen, ["rim=bevelled,shop=north", "rim=flat,shop=south"])
    with pytest.raises(EvidenceError, match="at most two"):
        what_if(known, seen, ["shop=north", "shop=south", "shop=other"])


def test_with_n_every_row_that_was_read_has_a_doubt():
    known = with_n(model(), 20)
    found = what_if(known, examined(known, "{rim: bevelled}"), [])
    assert {(d.node, d.row) for d in found.sensitivity.doubts if d.sd_bans > 0} == {
        ("shop", "prior"), ("rim", "shop=north"), ("rim", "shop=south|other")}  # fmt: skip


def test_the_parts_of_a_row_and_the_rest_add_up_to_the_whole():
    for seed in range(20):
        rng = np.random.default_rng(seed)
        known = random_model(rng, 8, gates=0.3)
        findings = random_findings(rng, known, truth=a_piece(rng, known))
        root = a_question(known, findings)
        varied, parts, _ = ways_of(known, findings, root)
        joint = compile_piece(varied.network, findings, [root]).log_joint(
            np.ones((1, len(findings)), dtype=bool))  # fmt: skip
        assert parts.base / parts.base.sum() == pytest.approx(
            np.exp(joint[:, 0] - np.logaddexp.reduce(joint[:, 0])), abs=1e-12)  # fmt: skip
        for family, part in zip(parts.families, parts.parts, strict=True):
            assert (part >= 0).all()
            assert (part.sum(axis=0) <= parts.base * (1 + 1e-9)).all(), family
            if family.kind == "leak":
                assert part.sum(axis=0) == pytest.approx(parts.base)


def test_a_finding_on_a_hidden_node_brings_no_number_of_its_own_rows():
    known = model()
    varied, parts, _ = ways_of(known, [Finding("rim", state="flat")], "shop")
    assert {f.node for f in parts.families} == {"shop", "rim"}
    assert varied.nodes == ("shop",)
