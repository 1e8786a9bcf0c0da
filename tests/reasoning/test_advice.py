"""What a look is worth: mutual information, exact, and nothing where nothing can be learned."""

import json
from pathlib import Path

import numpy as np
import pytest
from networks import published, random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle
from small import examined, model

from claywit.assessment import ask, look_next
from claywit.evidence.binding import bind
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.model.schema import Model
from claywit.reasoning.advice import advise, open_traits
from claywit.records import files
from claywit.report.digest import plain

OSKERVANE = Path(__file__).parents[2] / "models" / "oskervane.yaml"
EVIDENCE = OSKERVANE.parents[1] / "evidence_examples"
POLICY = files.read_policy()


def with_looks(known):
    """Return a model in which every node can be looked at, in one minute."""
    data = plain(known)
    for node in data["nodes"]:
        node["examine"] = {"minutes": 1}
    return Model.model_validate(data)


def worth(known, question, findings=()):
    piece = compile_piece(compile_network(known), findings, [question])
    names = [n for n in known.by_name if n != question and n not in {f.node for f in findings}]
    advice = advise(piece, question, names)
    return advice, {step.nodes[0]: step.bits for step in advice.singles}


def test_on_asia_each_node_is_worth_its_mutual_information_with_bronchitis():
    """Lauritzen & Spiegelhalter (1988); values in nats recomputed by enumeration."""
    known, _ = published("asia")
    _, bits = worth(with_looks(known), "bronc")
    nats = {name: value * np.log(2) for name, value in bits.items()}
    assert nats["dysp"] == pytest.approx(0.250615, abs=5e-7)
    assert nats["smoke"] == pytest.approx(0.046201, abs=5e-7)
    assert nats["lung"] == pytest.approx(0.001760, abs=5e-7)
    assert nats["xray"] == pytest.approx(0.000791, abs=5e-7)
    assert nats["asia"] == 0.0


def entropy(shares):
    p = np.array([s for s in shares.values() if s > 0])
    return float(-(p * np.log2(p)).sum())


@pytest.mark.parametrize("seed", range(10))
def test_singles_and_pairs_are_the_doubt_less_what_is_expected_to_be_left(seed):
    """By enumeration of everything that may be read."""
    rng = np.random.default_rng(seed)
    known = with_looks(random_model(rng, 7, zeros=0))
    findings = random_findings(rng, known, share=0.3, truth=a_piece(rng, known))
    seen = {f.node for f in findings}
    question = next(n.name for n in known.nodes if n.name not in seen and not n.visibility)
    advice, _ = worth(known, question, findings)
    evidence, now = enumerate_joint(oracle(known, findings))
    assert advice.doubt == pytest.approx(entropy(now[question]), abs=1e-9)
    for step in (*advice.singles[:3], *advice.pairs[:2]):
        left = 0.0
        for reading in readings(known, step.nodes):
            p, then = enumerate_joint(oracle(known, [*findings, *reading]))
            left += p / evidence * entropy(then[question]) if p > 0 else 0.0
        assert step.bits == pytest.approx(advice.doubt - left, abs=1e-9)


def readings(known, names):
    from itertools import product

    from claywit.evidence.findings import Finding

    options = []
    for name in names:
        node = known.node(name)
        seen = [Finding(name, state=state) for state in node.state_names]
        options.append([*seen, *([Finding(name, not_visible=True)] if node.visibility else [])])
    return list(product(*options))


def test_what_is_independent_of_the_question_is_worth_exactly_nothing():
    known = model()
    piece = compile_piece(compile_network(known), (), ["shop"])
    advice = advise(piece, "shop", open_traits(known, ()))
    assert {step.nodes[0]: step.bits for step in advice.singles}["wear"] == 0.0


def test_a_risky_trait_is_listed_and_not_valued():
    data = plain(model())
    next(node for node in data["nodes"] if node["name"] == "rim")["examine"]["risk"] = 0.5
    known = Model.model_validate(data)
    piece = compile_piece(compile_network(known), (), ["shop"])
    advice = advise(piece, "shop", open_traits(known, ()), risk=0.2)
    assert advice.too_risky == ("rim",)
    assert "rim" not in {step.nodes[0] for step in advice.singles}


@pytest.fixture(scope="module")
def oskervane():
    return files.read_model(OSKERVANE)


def test_a_tie_of_m05_and_m08_is_settled_by_arch_contact_then_grog(oskervane):
    """The first behaviour of the demonstration: bits .86 .66 .66 .56, per minute T05 then T37."""
    seen = examined(oskervane, "{size: {height: 41.0664 mm, width: 30.0768 mm}}", "question: mould")
    found = look_next(oskervane, seen, POLICY)
    bits = {look.nodes[0]: look.bits for look in found.next}
    expected = {"arch_contact": 0.86, "flaw_set": 0.66, "back_texture": 0.66, "grog": 0.56}
    assert {name: bits[name] for name in expected} == pytest.approx(expected, abs=0.005)
    assert sorted(bits, key=bits.get, reverse=True)[:4][0] == "arch_contact"
    assert [look.nodes[0] for look in found.next[:2]] == ["arch_contact", "grog"]
    assert found.statement.startswith("Look at arch and frame contact next (front, 1 min)")


def test_a_trait_is_open_once_what_it_depends_on_was_read(oskervane):
    assert "crack_fill" not in open_traits(oskervane, examined(oskervane, "{}").findings)
    assert "crack_fill" not in open_traits(
        oskervane, examined(oskervane, "{crack_net: none}").findings
    )
    assert "crack_fill" in open_traits(oskervane, examined(oskervane, "{crack_net: net}").findings)


def advice_for(oskervane, name):
    evidence, document = files.read_evidence(EVIDENCE / f"{name}.yaml")
    return look_next(oskervane, bind(evidence, oskervane, document.place), POLICY)


def test_where_no_reading_changes_the_words_you_may_stop(oskervane):
    found = advice_for(oskervane, "01-textbook")
    assert found.may_stop
    assert found.statement.startswith("You may stop")
    assert all(look.rewords < 0.001 for look in (*found.next, *found.pairs))


def test_where_a_pair_could_change_the_words_you_go_on_though_the_leader_is_safe(oskervane):
    """Ferry Stage has .984: just enough to stay above .95 with its prior odds divided by three."""
    found = advice_for(oskervane, "04-marrable")
    assert not found.may_stop
    assert all(look.overturns == 0 for look in (*found.next, *found.pairs))
    assert max(look.rewords for look in found.pairs) > 0.001
    assert "would change the words of the attribution" in found.statement


def test_a_plan_of_three_is_worth_what_its_readings_are_worth_together(oskervane):
    found = advice_for(oskervane, "13-photographs")
    assert len(found.plan.nodes) == 3
    assert set(found.pairs[0].nodes) < set(found.plan.nodes)
    # Information never hurts (Lindley 1956): three readings are worth at least two of them.
    assert found.plan.bits >= found.pairs[0].bits
    assert found.plan.bits <= found.doubt_bits


def test_another_question_gets_other_advice(oskervane):
    seen = examined(oskervane, "{arch_contact: right_shoulder}")
    for_class, _ = ask(oskervane, seen, "class", None, None)
    for_paste, _ = ask(oskervane, seen, "paste", None, None)
    best = [look_next(oskervane, one, POLICY).next[0].nodes for one in (for_class, for_paste)]
    assert best[0] != best[1]


def test_the_advice_fits_its_published_schema(oskervane):
    from jsonschema import Draft202012Validator

    from claywit.report.schemas import json_schema

    found = look_next(oskervane, examined(oskervane, "{}"), POLICY)
    data = json.loads(found.model_dump_json(by_alias=True))
    assert list(Draft202012Validator(json_schema("next")).iter_errors(data)) == []
