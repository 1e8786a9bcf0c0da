"""Stories: the best joint states, and the part of them that explains best."""

import itertools
from math import exp, inf, log10

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from networks import build, random_findings, random_model
from oracles import a_piece, joint_table, oracle
from small import examined, model

from claywit.errors import EvidenceError
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning.stories import _all_weights, tell

# Two causes of one sign, and a coin that has nothing to do with it.
ALARM = {
    "kiln": {"states": ["sound", "cracked"], "rows": [{"p": {"sound": 0.9, "cracked": 0.1}}]},
    "clay": {"states": ["fat", "lean"], "rows": [{"p": {"fat": 0.8, "lean": 0.2}}]},
    "coin": {"states": ["heads", "tails"], "rows": [{"p": {"heads": 0.5, "tails": 0.5}}]},
    "warp": {"states": ["no", "yes"], "parents": ["kiln", "clay"], "rows": [
        {"given": {"kiln": "cracked"}, "p": {"no": 0.2, "yes": 0.8}},
        {"given": {"kiln": "sound", "clay": "lean"}, "p": {"no": 0.7, "yes": 0.3}},
        {"given": {"kiln": "sound", "clay": "fat"}, "p": {"no": 0.98, "yes": 0.02}},
    ]},
}  # fmt: skip


def told(known, findings, about, best=5):
    network = compile_network(known)
    return tell(compile_piece(network, findings, about), about, best=best)


def warped(about=("kiln", "clay", "coin"), best=5):
    known = build("alarm", ALARM)
    return told(known, examined(known, "{warp: yes}").findings, about, best)


def test_the_best_stories_by_hand():
    """Cracked and fat .1 x .8 x .8 = .064; sound and lean .9 x .2 x .3 = .054; sound and fat
    .9 x .8 x .02 = .0144; cracked and lean .1 x .2 x .8 = .016. Together .1484."""
    found = warped(["kiln", "clay"])
    assert [tuple(story.states.values()) for story in found.best] == [
        ("cracked", "fat"), ("sound", "lean"), ("cracked", "lean"), ("sound", "fat"),
    ]  # fmt: skip
    shares = [exp(story.log_posterior) for story in found.best]
    assert shares == pytest.approx(
        [0.064 / 0.1484, 0.054 / 0.1484, 0.016 / 0.1484, 0.0144 / 0.1484]
    )
    assert exp(found.best[0].log_prior) == pytest.approx(0.08)


def test_the_factor_by_hand():
    """P(warp | cracked) = .8; P(warp | sound) = (.054 + .0144) / .9 = .076."""
    (first, *_) = warped().relevant
    assert first.story.states == {"kiln": "cracked"}
    assert first.bans == pytest.approx(log10(0.8 / 0.076))


def test_a_cause_on_its_own_beats_the_whole_story():
    """The most probable story names all three nodes; the most relevant one names the kiln."""
    found = warped()
    assert set(found.best[0].states) == {"kiln", "clay", "coin"}
    assert len(found.relevant[0].story.states) == 1


def test_the_coin_is_never_told():
    assert all("coin" not in found.story.states for found in warped(best=20).relevant)


def test_likeliest_one_by_one_need_not_be_likeliest_together():
    """Mould a is likeliest (.4) and shop s is likeliest (.6), but s never had mould a."""
    nodes = {
        "mould": {"states": ["a", "b", "c"], "rows": [{"p": {"a": 0.4, "b": 0.3, "c": 0.3}}]},
        "shop": {"states": ["n", "s"], "parents": ["mould"], "rows": [
            {"given": {"mould": "a"}, "p": {"n": 1}},
            {"given": {"mould": ["b", "c"]}, "p": {"s": 1}}]},
    }  # fmt: skip
    known = build("apart", nodes)
    found = told(known, [], ["mould", "shop"])
    assert found.apart.states == {"mould": "a", "shop": "s"}
    assert found.apart.log_posterior == -inf
    assert found.best[0].states == {"mould": "a", "shop": "n"}


def test_two_names_of_one_thing_are_told_once_and_shortly():
    """A shop with one mould of its own: saying both says no more than saying either."""
    nodes = {
        "mould": {"states": ["a", "b"], "rows": [{"p": {"a": 0.3, "b": 0.7}}]},
        "shop": {"states": ["n", "s"], "parents": ["mould"], "rows": [
            {"given": {"mould": "a"}, "p": {"n": 1}}, {"given": {"mould": "b"}, "p": {"s": 1}}]},
        "sign": {"states": ["no", "yes"], "parents": ["shop"], "rows": [
            {"given": {"shop": "n"}, "p": {"no": 0.1, "yes": 0.9}},
            {"given": {"shop": "s"}, "p": {"no": 0.8, "yes": 0.2}}]},
    }  # fmt: skip
    known = build("one-thing", nodes)
    found = told(known, examined(known, "{sign: yes}").findings, ["mould", "shop"])
    assert [list(r.story.states.items()) for r in found.relevant] == [
        [("mould", "a")], [("shop", "n")],
    ]  # fmt: skip
    assert [r.bans for r in found.relevant] == pytest.approx([log10(4.5)] * 2)


def test_what_is_left_alone_has_a_factor_without_limit():
    known = model()
    found = told(known, examined(known, "{seal: pressed}").findings, ["shop"])
    assert found.relevant[0].bans == inf
    assert len(found.best) == 1


def test_without_findings_nothing_is_relevant():
    assert told(model(), [], ["shop"]).relevant == ()


def test_too_many_nodes_or_none_are_refused_with_the_way_out():
    with pytest.raises(EvidenceError, match="name other nodes with --about"):
        told(model(), [], [])
    with pytest.raises(EvidenceError, match="name fewer with --about"):
        told(random_model(np.random.default_rng(1), 9, hideable=0), [], [f"n{i}" for i in range(7)])


joints = st.lists(st.floats(0.01, 1), min_size=12, max_size=12)
STATES = np.array(list(itertools.product(range(2), range(3), range(2))))


def weights_of(prior, likelihood):
    p = np.array(prior) / sum(prior)
    both = np.log(np.stack([p, p * likelihood], axis=1))
    return _all_weights(STATES, both - np.logaddexp.reduce(both, axis=0)), p


@given(prior=joints, likelihood=joints)
def test_what_adds_nothing_to_the_findings_adds_nothing_to_the_story(prior, likelihood):
    """If P(e | x, y) <= P(e | x) and x weighs more than 0 bans, (x, y) weighs no more than x.

    The proof stands at `most_relevant`. Nothing is assumed about how x and y hang together.
    """
    weights, p = weights_of(prior, likelihood)

    def given_(key):
        held = np.all([STATES[:, root] == state for root, state in key], axis=0)
        return (p * likelihood)[held].sum() / p[held].sum()

    for longer, shorter in itertools.product(weights, weights):
        part = set(shorter) < set(longer) and weights[shorter][0] > 0
        if part and given_(longer) <= given_(shorter):
            assert weights[longer][0] <= weights[shorter][0] + 1e-9


@given(prior=joints, likelihood=st.lists(st.floats(0.01, 1), min_size=6, max_size=6),
       share=st.floats(0.05, 0.95))  # fmt: skip
def test_an_irrelevant_node_always_weakens_an_explanation_that_speaks_for_itself(
    prior, likelihood, share
):
    """The last node is independent of the others and of the findings: strictly weaker."""
    two = np.array(prior[:6]) / sum(prior[:6])
    whole = np.outer(two, [share, 1 - share]).ravel()
    weights, _ = weights_of(whole, np.repeat(likelihood, 2))
    for key, (bans, _, _) in weights.items():
        if bans > 1e-6 and all(root != 2 for root, _ in key):
            for state in (0, 1):
                assert weights[(*key, (2, state))][0] < bans


@given(prior=joints, likelihood=joints)
def test_the_weight_is_the_move_of_the_log_odds(prior, likelihood):
    """Good's weight of evidence: log10 of posterior odds over prior odds, by subtraction."""
    weights, p = weights_of(prior, likelihood)
    after = p * likelihood / (p @ likelihood)
    for key, (bans, _, _) in weights.items():
        held = np.all([STATES[:, root] == state for root, state in key], axis=0)
        odds = [q[held].sum() / (1 - q[held].sum()) for q in (p, after)]
        assert bans == pytest.approx(log10(odds[1] / odds[0]), abs=1e-7)


@pytest.mark.parametrize("seed", range(4000, 4030))
def test_stories_agree_with_enumeration(seed):
    """The best few of three nodes, their factors, and which explanations are minimal."""
    rng = np.random.default_rng(seed)
    known = random_model(rng, 7, hideable=0)
    about = list(known.by_name)[:3]
    drawn = random_findings(rng, known, truth=a_piece(rng, known))
    findings = [finding for finding in drawn if finding.node not in about]
    found = told(known, findings, about, best=4)
    before, after = (shares_of(oracle(known, seen_), about) for seen_ in ((), findings))
    ranked = sorted(after, key=lambda states: -after[states])[:4]
    assert [exp(story.log_posterior) for story in found.best] == pytest.approx(
        [after[states] for states in ranked if after[states] > 0]
    )
    assert [r.bans for r in found.relevant] == pytest.approx(
        minimal(before, after, len(about))[:4], abs=1e-7
    )


def shares_of(known, about):
    table = joint_table(known)
    names = list(known.tables)
    others = tuple(i for i, name in enumerate(names) if name not in about)
    order = [[n for n in names if n in about].index(name) for name in about]
    kept = np.transpose(table.sum(axis=others), order) / table.sum()
    labels = itertools.product(*(known.tables[name][1] for name in about))
    return dict(zip(labels, kept.ravel().tolist(), strict=True))


def minimal(before, after, size):
    """Return the weights above 0 of explanations that none dominates, by the definitions."""
    weights = {}
    for chosen in itertools.product([False, True], repeat=size):
        if any(chosen):
            for states in before:
                key = tuple((i, states[i]) for i in range(size) if chosen[i])
                held = [s for s in before if all(s[i] == state for i, state in key)]
                p, q = (sum(shares[s] for s in held) for shares in (before, after))
                rest = [
                    sum(v for s, v in shares.items() if s not in held) for shares in (before, after)
                ]
                if p > 0 and rest[0] > 0:
                    factor = inf if rest[1] == 0 else (q / p) / (rest[1] / rest[0])
                    weights[key] = log10(factor) if 0 < factor < inf else inf if factor else -inf
    kept = [
        w for key, w in weights.items()
        if w > 1e-9
        and not any(set(o) < set(key) and weights[o] >= w - 1e-9 for o in weights)
        and not any(set(o) > set(key) and weights[o] > w + 1e-9 for o in weights)
    ]  # fmt: skip
    return sorted(kept, reverse=True)
