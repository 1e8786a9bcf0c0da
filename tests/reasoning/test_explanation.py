"""Weights of evidence: they add up, they keep their meaning, and nothing is hidden."""

from math import inf, log10

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning.explanation import explain

NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


def explained(findings, for_=NORTH, against=SOUTH, known=None):
    known = known or model()
    piece = compile_piece(compile_network(known), examined(known, findings).findings, ["shop"])
    return explain(piece, for_, against)


def weights(explanation, kind="bans"):
    return {weight.node: getattr(weight, kind) for weight in explanation.weights}


def test_the_weight_of_a_finding_is_the_log_of_its_likelihood_ratio():
    found = explained("{rim: bevelled}")
    assert found.prior == pytest.approx(log10(0.5 / 0.4))
    assert weights(found) == pytest.approx({"rim": log10(0.8 / 0.1)})
    assert found.posterior == pytest.approx(log10(0.5 * 0.8 / (0.4 * 0.1)))


def test_independent_findings_weigh_the_same_in_turn_alone_and_left_out():
    found = explained("{rim: flat, mark: absent}")
    expected = pytest.approx({"rim": log10(0.2 / 0.9), "mark": log10(0.9 / 0.6)}, abs=1e-12)
    assert weights(found) == expected
    assert weights(found, "alone") == expected
    assert weights(found, "left_out") == expected


def test_prior_and_weights_add_up_to_the_posterior():
    found = explained("{rim: flat, mark: stroke, wear: much, seal: absent}")
    assert found.prior + found.total == pytest.approx(found.posterior, abs=1e-9)
    assert sum(weights(found).values()) == pytest.approx(found.total, abs=1e-9)
    assert sum(group.bans for group in found.groups) == pytest.approx(found.total, abs=1e-9)


def test_the_chain_follows_the_groups_of_the_model_and_ends_with_the_ungrouped():
    found = explained("{seal: absent, wear: much, mark: stroke, rim: flat}")
    assert [(group.name, group.nodes) for group in found.groups] == [
        ("shape", ("rim",)),
        ("signs", ("mark", "wear")),
        ("in no group", ("seal",)),
    ]


def test_the_finding_that_speaks_against_is_named():
    found = explained("{rim: bevelled, mark: stroke}")
    assert found.strongest_for == "rim"
    assert found.strongest_against == "mark"


def test_where_nothing_speaks_against_none_is_named():
    found = explained("{rim: bevelled, wear: much}")
    assert found.strongest_against is None


def test_a_finding_that_says_nothing_weighs_exactly_nothing():
    assert weights(explained("{wear: much}"))["wear"] == 0.0


def test_a_finding_that_excludes_the_rival_weighs_without_limit():
    found = explained("{seal: pressed, rim: flat}", for_=SOUTH, against=NORTH)
    assert weights(found)["seal"] == inf
    assert weights(found)["rim"] == pytest.approx(log10(0.9 / 0.2))
    assert found.posterior == inf


def test_a_set_of_states_is_weighed_with_the_priors_of_its_members():
    rest = {"shop": ("south", "other")}
    found = explained("{mark: stroke}", against=rest)
    ratio = 0.1 / ((0.4 * 0.4 + 0.1 * 0.1) / 0.5)
    assert weights(found)["mark"] == pytest.approx(log10(ratio))


def test_the_explanation_names_what_its_ratios_rest_on():
    found = explained("{rim: flat, wear: much}")
    assert found.rests_on == ("shop", "wear")


readings = st.fixed_dictionaries(
    {},
    optional={
        "rim": st.sampled_from(["bevelled", "flat", "{state: flat, sure: 0.7}"]),
        "mark": st.sampled_from(["absent", "stroke", "{likelihood: {absent: 1, stroke: 0.3}}"]),
        "wear": st.sampled_from(["little", "much"]),
    },
)


@given(readings)
def test_the_parts_always_add_up_to_the_whole_move(findings):
    found = explained("{" + ", ".join(f"{k}: {v}" for k, v in findings.items()) + "}")
    assert sum(weights(found).values()) == pytest.approx(found.total, abs=1e-9)
    assert found.prior + found.total == pytest.approx(found.posterior, abs=1e-9)
    without = {w.node: found.posterior - w.left_out for w in found.weights}
    for name, other in without.items():
        rest = "{" + ", ".join(f"{k}: {v}" for k, v in findings.items() if k != name) + "}"
        assert explained(rest).posterior == pytest.approx(other, abs=1e-9)
