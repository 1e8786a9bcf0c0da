"""What less certainty of a reading, or another prior, makes of the answer."""

from dataclasses import replace

import numpy as np
import pytest
from networks import random_findings, random_model
from oracles import a_piece
from small import examined, model

from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_odds
from claywit.reasoning.reliability import prior_sensitivity, reliability

NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


def of_shops(findings):
    known = model()
    piece = compile_piece(compile_network(known), examined(known, findings).findings, ["shop"])
    return {d.node: d for d in reliability(piece, "shop", NORTH, SOUTH)}


def test_a_rim_that_is_nine_in_ten_sure_by_hand():
    """North .5 (.9 x .8 + .1 x .2) = .37, South .4 (.9 x .1 + .1 x .9) = .072."""
    found = of_shops("{rim: bevelled}")["rim"]
    assert found.bans == pytest.approx(np.log10(0.37 / 0.072))
    # A guess leaves the prior, .5 to .4: the reading may be as unsure as that.
    assert (found.least, found.leader) == (None, None)


def test_how_sure_a_stroke_must_be_for_south_to_lead_by_hand():
    """South .4 (.4 c + .6 (1 - c)) passes North .5 (.1 c + .9 (1 - c)) at c = .21 / .32."""
    found = of_shops("{mark: stroke}")["mark"]
    assert found.least == pytest.approx(0.21 / 0.32)
    assert found.leader == "north"


@pytest.mark.parametrize("seed", range(20))
def test_below_the_least_certainty_another_state_leads_and_above_it_the_same(seed):
    rng = np.random.default_rng(seed)
    known = random_model(rng, 8)
    network = compile_network(known)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    seen = {f.node for f in findings}
    root = next(n for n in known.by_name if known.node(n).states
                and not known.node(n).visibility and n not in seen)  # fmt: skip
    states = known.node(root).state_names
    pair = ({root: states[:1]}, {root: states[1:2]})

    def shares(some):
        piece = compile_piece(network, some, [root])
        joint = piece.log_joint(np.ones((1, len(some)), dtype=bool))
        odds = log_odds(joint, *(piece.holds(p) for p in pair))[0] / np.log(10)
        logs = np.full(len(states), -np.inf)
        logs[piece.tree.root_states[:, 0]] = joint[:, 0]
        return logs, odds

    for found in reliability(compile_piece(network, findings, [root]), root, *pair):
        at = next(i for i, f in enumerate(findings) if f.node == found.node)

        def with_sure(sure, at=at):
            return [replace(f, sure=sure) if i == at else f for i, f in enumerate(findings)]

        assert shares(with_sure(min(0.9, findings[at].sure or 1.0)))[1] == pytest.approx(
            found.bans, abs=1e-9, nan_ok=True
        )
        leader = int(np.argmax(shares(findings)[0]))
        if found.least is None:
            guess = 1 / len(known.node(found.node).state_names)
            assert np.argmax(shares(with_sure(guess + 1e-6))[0]) == leader
        else:
            below = shares(with_sure(found.least - 1e-6))[0]
            assert states[int(np.argmax(below))] == found.leader
            assert np.argmax(shares(with_sure(found.least + 1e-6))[0]) == leader


def test_another_prior_by_hand():
    """Odds 8 to 2: three times smaller 8 to 6; the runner-up, .15, leads at a factor of .15 / .8."""
    prior, posterior = np.log([0.5, 0.3, 0.2]), np.log([0.8, 0.15, 0.05])
    found = prior_sensitivity(("a", "b", "c"), prior, posterior)
    assert dict(found.shares)[1 / 3] == pytest.approx(8 / 14)
    assert dict(found.shares)[10.0] == pytest.approx(80 / 82)
    factor = 0.15 / 0.8
    assert found.turns_at == pytest.approx(0.5 * factor / (0.5 * factor + 0.5))
    assert found.rival == "b"


def test_at_the_prior_where_it_turns_the_two_are_level():
    known = model()
    network = compile_network(known)
    seen = examined(known, "{rim: bevelled}")
    piece = compile_piece(network, seen.findings, ["shop"])
    logs = piece.log_joint(np.array([[False], [True]]))
    found = prior_sensitivity(("north", "south", "other"), logs[:, 0], logs[:, 1])
    rest = (1 - found.turns_at) / 0.5
    text = f"{{north: {found.turns_at}, south: {0.4 * rest}, other: {0.1 * rest}}}"
    again = examined(known, "{rim: bevelled}", f"priors: {{shop: {text}}}")
    level = compile_piece(compile_network(known, again.priors), again.findings, ["shop"])
    joint = level.log_joint(np.array([[True]]))[:, 0]
    assert joint[0] == pytest.approx(joint[1], abs=1e-9)
