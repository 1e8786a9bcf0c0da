"""Simulated pieces come from the model: as often as it says, and no piece that it excludes."""

import numpy as np
import pytest
from networks import published, random_model
from scipy import stats
from small import HIDDEN, model

from claywit.evidence.cases import joined
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse

gum = pytest.importorskip("pyagrum")
FAR = 4.7  # standard errors; of 100 shares one is as far with a chance of 3 in 10,000


def drawn(known, count, plan=Plan(), seed=1):  # noqa: B008 - frozen
    return rehearse(compile_network(known), plan, 1, count, np.random.default_rng(seed))


def pyagrum_of(known):
    """Return the same network in pyAgrum, and its marginals."""
    network = compile_network(known)
    net = gum.BayesNet()
    for name, states in network.states.items():
        net.add(gum.LabelizedVariable(name, "", list(states)))
    for name in network.states:
        for parent in network.table(name)[0][:-1]:
            net.addArc(parent, name)
        scope, values = network.table(name)
        values = np.broadcast_to(values, [len(network.states[n]) for n in scope])
        order = [scope.index(n) for n in reversed(net.cpt(name).names)]
        net.cpt(name)[:] = np.ascontiguousarray(values.transpose(order))
    inference = gum.LazyPropagation(net)
    inference.makeInference()
    return {name: inference.posterior(name).toarray() for name in network.states}


@pytest.mark.parametrize("seed", range(4))
def test_every_state_is_drawn_as_often_as_pyagrum_says(seed):
    known = random_model(np.random.default_rng(seed), 12)
    count = 20_000
    cases = drawn(known, count, seed=seed)
    for name, shares in pyagrum_of(known).items():
        found = np.bincount(cases.codes[name], minlength=len(shares))
        assert found.sum() == count
        assert (found[shares < 1e-12] == 0).all()
        error = np.sqrt(count * shares * (1 - shares)) + 1e-9
        assert (np.abs(found - count * shares) <= FAR * error + 1e-6).all()


def test_published_networks_are_drawn_with_their_published_shares():
    """Lauritzen & Spiegelhalter (1988), the Asia network: P(lung) .055, P(either) .064828."""
    known, _ = published("asia")
    cases, count = drawn(known, 50_000), 50_000
    for name, share in (("lung", 0.055), ("either", 0.064828)):
        yes = known.node(name).state_names.index("yes")
        found = np.mean(cases.codes[name] == yes)
        assert abs(found - share) <= FAR * np.sqrt(share * (1 - share) / count)


def test_measures_spread_as_their_densities_with_the_readings_uncertainty():
    cases = drawn(model(HIDDEN), 20_000)
    for state, mean in ((0, 5.0), (1, 6.0)):
        values = cases.values["size"][cases.codes["r"] == state, 0]
        seen = values[~np.isnan(values)]
        known = stats.norm(mean, np.hypot(1, 0.1))
        assert stats.kstest(seen, known.cdf).pvalue > 1e-4


def test_a_measure_is_hidden_as_often_as_its_obstruction_says_and_that_is_a_finding():
    cases = drawn(model(HIDDEN), 20_000)
    hidden = np.isnan(cases.values["size"][:, 0])
    assert [row for row in range(20_000) if cases.special.get(row)] == np.flatnonzero(
        hidden
    ).tolist()
    for state, share in ((0, 0.1), (1, 0.5)):
        of = cases.codes["o"] == state
        assert abs(hidden[of].mean() - share) <= FAR * np.sqrt(share * (1 - share) / of.sum())


def test_readings_are_left_out_at_random_and_the_truth_never():
    known = model()
    cases = drawn(known, 20_000, Plan(missing=0.3, without=frozenset({"seal"})))
    assert "seal" not in cases.codes
    assert (cases.codes["shop"] >= 0).all()
    for name in ("rim", "mark", "wear"):
        assert abs(np.mean(cases.codes[name] < 0) - 0.3) <= FAR * np.sqrt(0.21 / 20_000)


def test_the_same_seed_draws_the_same_and_another_seed_others():
    known = model()
    one, same, other = (drawn(known, 200, seed=seed) for seed in (1, 1, 2))
    assert joined(known, [one]).codes["rim"].tolist() == same.codes["rim"].tolist()
    assert one.codes["rim"].tolist() != other.codes["rim"].tolist()
