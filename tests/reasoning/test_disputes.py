"""The difference of two opinions, shared out among readings, priors and models."""

import itertools
import time
from dataclasses import replace
from math import log10
from pathlib import Path

import numpy as np
import pytest
from networks import build, random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle
from small import SHOPS, examined, model

from claywit.inference.network import compile_network
from claywit.reasoning.disputes import MODEL, PRIORS, WITHIN, dispute
from claywit.reasoning.mixtures import Setting
from claywit.records import files

ROOT = Path(__file__).parents[2]
NORTH, SOUTH = {"shop": ("north",)}, {"shop": ("south",)}


def setting(known, a, b, priors=(None, None)):
    """Return what two examiners say, findings as YAML or as values."""
    one = compile_network(known, priors[0])
    other = one if priors[0] == priors[1] else compile_network(known, priors[1])
    sides = [examined(known, side).findings if isinstance(side, str) else side for side in (a, b)]
    return Setting((one, other), tuple(sides))


def disputed(a, b, priors=(None, None), pair=(NORTH, SOUTH), known=None):
    only = setting(known or model(), a, b, priors)
    return dispute((only, only), "shop", pair)


def shares(found):
    return {share.player.name: share.share for share in found.shares}


def test_readings_that_are_independent_given_the_shop_share_by_their_own_ratios():
    """Rim: from .8/.1 to .2/.9; mark: from .9/.6 to .1/.4."""
    found = disputed("{rim: bevelled, mark: absent}", "{rim: flat, mark: stroke}")
    assert shares(found) == pytest.approx(
        {"rim": log10(0.2 / 0.9) - log10(8), "mark": log10(0.25) - log10(1.5)}
    )
    assert found.a == pytest.approx(log10(1.25 * 8 * 1.5))


def test_a_reading_that_only_one_has_is_a_point_too():
    found = disputed("{rim: bevelled}", "{rim: bevelled, mark: stroke}")
    assert shares(found) == pytest.approx({"mark": log10(0.25)})


def test_what_says_nothing_of_the_question_has_no_share():
    assert shares(disputed("{wear: little}", "{wear: much}")) == pytest.approx({"wear": 0})


def test_where_all_is_agreed_nothing_is_shared_out():
    found = disputed("{rim: bevelled}", "{rim: bevelled}")
    assert (found.shares, found.settlings) == ((), ())
    assert found.a == found.b


def test_priors_are_a_player_of_their_own():
    """The odds of north against south go from 5 to 4 to 1 to 9."""
    found = disputed(
        "{rim: flat}", "{rim: bevelled}", (None, {"shop": {"north": 0.1, "south": 0.9}})
    )
    assert shares(found) == pytest.approx(
        {"rim": log10(8) - log10(0.2 / 0.9), PRIORS: log10(1 / 9) - log10(1.25)}
    )


def test_a_model_is_a_player_of_its_own():
    """The other model says .4 of a bevelled rim from the north, not .8."""
    other = model(SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.4, flat: 0.6}"))
    a, b = (setting(known, "{rim: bevelled, mark: absent}", "{rim: bevelled, mark: stroke}")
            for known in (model(), other))  # fmt: skip
    found = dispute((a, b), "shop", (NORTH, SOUTH))
    assert shares(found) == pytest.approx({"mark": log10(0.25) - log10(1.5), MODEL: log10(0.5)})


def test_without_propositions_the_two_leaders_are_weighed():
    found = disputed("{rim: bevelled}", "{mark: stroke}", pair=None)
    assert found.pair == (NORTH, SOUTH)
    assert disputed("{rim: bevelled}", "{rim: bevelled, wear: much}", pair=None).pair == (
        NORTH,
        SOUTH,
    )


def test_settling_the_larger_point_leaves_the_smaller_one():
    found = disputed("{rim: bevelled, mark: absent}", "{rim: flat, mark: stroke}")
    first, second = found.settlings
    assert (first.player.name, second.player.name) == ("rim", "mark")
    assert (first.left_if_a, first.left_if_b) == pytest.approx([log10(1.5 / 0.25)] * 2)


def test_settling_says_whether_both_would_then_name_the_same():
    """With the rim settled as bevelled both say north; settled as flat both say south."""
    first = disputed("{rim: bevelled}", "{rim: flat}").settlings[0]
    assert (first.leaders_if_a, first.leaders_if_b) == ((0, 0), (1, 1))


def test_the_best_to_settle_is_the_best_in_the_worse_case():
    found = disputed("{rim: bevelled, mark: absent, wear: much}", "{rim: flat, mark: stroke}")
    worst = [s.worst for s in found.settlings]
    assert worst == sorted(worst)


def test_one_answer_can_take_more_than_one_look():
    """Rim and mark speak alike, 1.56 and .78 bans; the rim alone decides which shop leads."""
    found = disputed("{rim: bevelled, mark: absent}", "{rim: flat, mark: stroke}")
    assert [player.name for player in found.accord] == ["rim"]
    assert disputed("{rim: bevelled}", "{rim: bevelled, mark: absent}").accord == ()


def test_priors_can_keep_two_apart_whatever_is_read():
    far = ({"shop": {"north": 0.999, "south": 0.001}}, {"shop": {"north": 0.001, "south": 0.999}})
    assert disputed("{rim: bevelled}", "{rim: flat}", far).accord is None


@pytest.mark.parametrize("seed", range(5200, 5212))
def test_the_fewest_readings_for_one_answer_are_those_of_trying_everything(seed):
    known, a, b, question, _ = random_dispute(seed)
    only = setting(known, a, b)
    found = dispute((only, only), question, None)
    players = [share.player.nodes for share in found.shares]
    by_a, by_b = ({f.node: f for f in side} for side in (a, b))

    def leader(moved):
        names = [n for n in known.by_name if n in by_a or n in by_b]
        mixed = [(by_b if n in moved else by_a).get(n) for n in names]
        shares_ = enumerate_joint(oracle(known, [f for f in mixed if f]))[1][question]
        return max(shares_, key=shares_.get)

    def agreed(chosen):
        rest = {n for k, nodes in enumerate(players) if k not in chosen for n in nodes}
        for way in itertools.product([False, True], repeat=len(chosen)):
            moved = {n for k, gone in zip(chosen, way, strict=True) if gone for n in players[k]}
            if leader(moved) != leader(moved | rest):
                return False
        return True

    sizes = [size for size in range(len(players) + 1)
             if any(agreed(c) for c in itertools.combinations(range(len(players)), size))]  # fmt: skip
    assert len(found.accord) == sizes[0]


def test_an_opinion_without_limit_is_not_shared_out():
    found = disputed("{seal: pressed}", "{rim: bevelled}")
    assert found.a == -np.inf
    assert all(np.isnan(share.share) for share in found.shares)


TWINS = {
    "shop": {"states": ["north", "south"], "rows": [{"p": {"north": 0.5, "south": 0.5}}]},
    "press": {"states": ["screw", "lever"], "parents": ["shop"], "rows": [
        {"given": {"shop": "north"}, "p": {"screw": 0.8, "lever": 0.2}},
        {"given": {"shop": "south"}, "p": {"screw": 0.3, "lever": 0.7}}]},
    "front": {"states": ["ring", "bar"], "parents": ["press"], "rows": [
        {"given": {"press": "screw"}, "p": {"ring": 1}}, {"given": {"press": "lever"}, "p": {"bar": 1}}]},
    "back": {"states": ["ring", "bar"], "parents": ["press"], "rows": [
        {"given": {"press": "screw"}, "p": {"ring": 1}}, {"given": {"press": "lever"}, "p": {"bar": 1}}]},
}  # fmt: skip


def test_readings_that_cannot_be_mixed_go_over_by_group():
    """A ring in front and a bar behind cannot be: the press left both."""
    known = build("twins", TWINS, groups={"marks": ["front", "back"]})
    found = disputed("{front: ring, back: ring}", "{front: bar, back: bar}", known=known)
    assert found.grouped == "impossible"
    assert shares(found) == pytest.approx({"marks": log10(2 / 7) - log10(8 / 3)})


def test_what_cannot_be_mixed_even_by_group_has_no_share():
    known = build("twins", TWINS, groups={"one": ["front"], "other": ["back"]})
    found = disputed("{front: ring, back: ring}", "{front: bar, back: bar}", known=known)
    assert found.grouped == ""
    assert all(np.isnan(share.share) for share in found.shares)
    assert found.b - found.a == pytest.approx(log10(2 / 7) - log10(8 / 3))


def test_more_than_twelve_go_over_by_the_groups_of_the_model():
    nodes = {"shop": TWINS["shop"]}
    rows = [{"given": {"shop": "north"}, "p": {"a": 0.6, "b": 0.4}},
            {"given": {"shop": "south"}, "p": {"a": 0.5, "b": 0.5}}]  # fmt: skip
    nodes |= {f"t{i}": {"states": ["a", "b"], "parents": ["shop"], "rows": rows} for i in range(14)}
    groups = {"one": [f"t{i}" for i in range(9)], "two": [f"t{i}" for i in range(9, 14)]}
    known = build("many", nodes, groups=groups)
    a, b = ("{" + ", ".join(f"t{i}: {s}" for i in range(14)) + "}" for s in "ab")
    found = disputed(a, b, known=known)
    step = log10(0.4 / 0.5) - log10(0.6 / 0.5)
    assert found.grouped == "many"
    assert shares(found) == pytest.approx({"one": 9 * step, "two": 5 * step})


def random_dispute(seed):
    """Return a random model with two sets of findings that can each stand, and priors for B."""
    rng = np.random.default_rng(seed)
    known = random_model(rng, 7, zeros=0, hideable=0.1, measured=0.1)
    question = next(n.name for n in known.nodes if n.states and not n.visibility)
    sides = []
    for _ in "ab":
        drawn = random_findings(rng, known, share=0.5, truth=a_piece(rng, known))
        sides.append(tuple(f for f in drawn if f.node != question)[:4])
    root = next(n for n in known.nodes if n.states and not n.all_parents)
    priors = {root.name: dict.fromkeys(root.state_names, 1 / len(root.states))}
    return known, *sides, question, priors


def by_enumeration(known, findings, pair):
    question = next(iter(pair[0]))
    _, posteriors = enumerate_joint(oracle(known, findings))
    one, other = (posteriors[question][side[question][0]] for side in pair)
    return log10(one / other)


@pytest.mark.parametrize("seed", range(5000, 5020))
def test_shares_are_the_average_over_all_orders_of_going_over(seed):
    """Each mixture by going through every joint state, each order by hand: no Shapley formula."""
    known, a, b, question, _ = random_dispute(seed)
    pair = tuple({question: (s,)} for s in known.node(question).state_names[:2])
    only = setting(known, a, b)
    found = dispute((only, only), question, pair)
    by_a, by_b = ({f.node: f for f in side} for side in (a, b))
    players = [share.player.nodes for share in found.shares]

    def odds(gone_over):
        moved = {name for k in gone_over for name in players[k]}
        names = [n for n in known.by_name if n in by_a or n in by_b]
        mixed = [(by_b if n in moved else by_a).get(n, None) for n in names]
        return by_enumeration(known, [f for f in mixed if f], pair)

    orders = list(itertools.permutations(range(len(players))))
    expected = np.zeros(len(players))
    worth = {
        frozenset(s): odds(s)
        for size in range(len(players) + 1)
        for s in itertools.combinations(range(len(players)), size)
    }
    for order in orders:
        for i, k in enumerate(order):
            expected[k] += worth[frozenset(order[: i + 1])] - worth[frozenset(order[:i])]
    assert [share.share for share in found.shares] == pytest.approx(
        expected / len(orders), abs=1e-9
    )
    whole = frozenset(range(len(players)))
    for k, share in enumerate(found.shares):
        assert share.in_a == pytest.approx(worth[frozenset([k])] - worth[frozenset()], abs=1e-9)
        assert share.in_b == pytest.approx(worth[whole] - worth[whole - {k}], abs=1e-9)


@pytest.mark.parametrize("seed", range(5100, 5140))
def test_shares_add_up_to_the_whole_difference_and_turn_with_the_sides(seed):
    known, a, b, question, priors = random_dispute(seed)
    pair = tuple({question: (s,)} for s in known.node(question).state_names[:2])
    there, back = setting(known, a, b, (None, priors)), setting(known, b, a, (priors, None))
    found = dispute((there, there), question, pair)
    assert sum(s.share for s in found.shares) == pytest.approx(found.b - found.a, abs=1e-9)
    turned = dispute((back, back), question, pair)
    assert shares(turned) == pytest.approx({n: -s for n, s in shares(found).items()}, abs=1e-9)


def oskervane(name):
    return files.read_piece(ROOT / "models" / "oskervane.yaml", ROOT / "evidence_examples" / name)


def test_the_dispute_about_the_cord_hole_is_about_what_its_files_differ_in():
    known, a = oskervane("11-cord-hole-a.yaml")
    _, b = oskervane("11-cord-hole-b.yaml")
    only = setting(known, a.findings, b.findings)
    found = dispute((only, only), "class", None)
    names = {"wear", "bloom", "flaw_set", "inherited_mark", "bubbles", WITHIN}
    assert set(shares(found)) == names
    assert found.settlings[0].player.name in ("flaw_set", "inherited_mark")


def test_ten_differing_readings_on_the_demo_model_take_less_than_two_seconds():
    """1,024 mixtures; about 0.1 s where this was written."""
    known, a = oskervane("04-marrable.yaml")
    changed = []
    for finding in a.findings:
        names = known.node(finding.node).state_names
        if finding.state and len(changed) < 10:
            other = next(s for s in reversed(names) if s != finding.state)
            changed.append(replace(finding, state=other))
    told = {f.node: f for f in changed}
    b = tuple(told.get(f.node, f) for f in a.findings)
    only = setting(known, a.findings, b)
    start = time.process_time()
    found = dispute((only, only), "mould", None)
    assert time.process_time() - start < 2
    assert sum(len(share.player.nodes) for share in found.shares) == 10
    assert sum(s.share for s in found.shares) == pytest.approx(found.b - found.a, abs=1e-9)
