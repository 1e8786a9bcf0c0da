"""The most probable explanation of the Asia network, as another library's own tests have it.

Expected states: GTSAM, python/gtsam/tests/test_DiscreteBayesNet.py, test_Asia (F. Dellaert),
read in its repository; the network is that of Lauritzen & Spiegelhalter (1988).
"""

from itertools import product
from math import exp, log10

import pyagrum
import pytest
from networks import published

from claywit.evidence.findings import Finding
from claywit.inference.maximum import most_probable
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning.stories import tell


def story(**seen):
    model, _ = published("asia")
    findings = [Finding(node, state=state) for node, state in seen.items()]
    return most_probable(compile_network(model), findings)


def test_before_anything_is_known_all_is_well():
    found = story()
    assert set(found.states.values()) == {"no"}
    assert exp(found.log_p) == pytest.approx(0.99 * 0.99 * 0.5 * 0.99 * 0.7 * 1 * 0.95 * 0.9)


def test_a_traveller_short_of_breath_smokes_and_has_bronchitis():
    found = story(asia="yes", dysp="yes")
    yes = {node for node, state in found.states.items() if state == "yes"}
    # dysp is a leaf with a finding, so it is weighed and not told.
    assert yes == {"asia", "smoke", "bronc"}


ABOUT = ["tub", "lung", "bronc"]


def by_pyagrum(model, evidence):
    """Return P(tub, lung, bronc) given *evidence*, by a general library."""
    net = pyagrum.BayesNet()
    for node in model.nodes:
        net.add(pyagrum.LabelizedVariable(node.name, node.name, list(node.state_names)))
    for node in model.nodes:
        for parent in node.parents:
            net.addArc(parent, node.name)
        for row in node.rows:
            given = {parent: states[0] for parent, states in row.given.items()}
            shares = [row.p.get(state, 0.0) for state in node.state_names]
            net.cpt(node.name)[given] = shares
    engine = pyagrum.LazyPropagation(net)
    engine.setEvidence(evidence)
    engine.addJointTarget(set(ABOUT))
    engine.makeInference()
    joint = engine.jointPosterior(set(ABOUT))
    return {
        states: joint[dict(zip(ABOUT, states, strict=True))]
        for states in product(["yes", "no"], repeat=3)
    }


def test_what_explains_a_shadow_and_short_breath_best():
    """Every partial story of three diseases, its factor from the library's joint posteriors."""
    model, _ = published("asia")
    seen = {"xray": "yes", "dysp": "yes"}
    before, after = by_pyagrum(model, {}), by_pyagrum(model, seen)
    findings = [Finding(node, state=state) for node, state in seen.items()]
    found = tell(compile_piece(compile_network(model), findings, ABOUT), ABOUT, best=8)
    assert [tuple(s.states.values()) for s in found.best] == sorted(after, key=lambda s: -after[s])
    weights = {}
    for story in product(["yes", "no", None], repeat=3):
        if any(story):
            odds = []
            for shares in (before, after):
                held = [all(x in (None, y) for x, y in zip(story, s, strict=True)) for s in shares]
                p = sum(share for share, h in zip(shares.values(), held, strict=True) if h)
                odds.append(p / (1 - p))
            weights[story] = log10(odds[1] / odds[0])
    first = found.relevant[0]
    assert first.bans == pytest.approx(max(weights.values()), abs=1e-9)
    for told in found.relevant:
        key = tuple(told.story.states.get(name) for name in ABOUT)
        assert told.bans == pytest.approx(weights[key], abs=1e-9)
    assert first.story.states == {"lung": "yes"}
