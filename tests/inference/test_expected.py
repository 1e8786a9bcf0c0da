import itertools

import networks
import numpy as np
import pytest

from claywit.inference.expected import (
    compile_machine,
    counts,
    posteriors,
    routes,
    run,
    slotted,
)
from claywit.inference.network import compile_network

COLUMNS = 7


def evidence(rng, network, names):
    """Return for each node two random likelihood tables and "nothing", with a zero in one."""
    tables = []
    for name in names:
        table = np.log(rng.uniform(0.05, 1, (len(network.states[name]), 3)))
        table[0, 0] = -np.inf
        table[:, 2] = 0.0
        tables.append(table)
    return tables


def by_hand(network, names, tables, picks):
    """Return P(evidence), and of each node's family, by adding up every joint state."""
    nodes = list(network.states)
    sizes = [range(len(network.states[n])) for n in nodes]
    families = {n: np.zeros(network.table(n)[1].shape) for n in nodes}
    total = 0.0
    for states in itertools.product(*sizes):
        at = dict(zip(nodes, states, strict=True))
        weight = 1.0
        for name in nodes:
            scope, table = network.table(name)
            weight *= table[tuple(at[n] for n in scope)]
        for name, table, pick in zip(names, tables, picks, strict=True):
            weight *= np.exp(table[at[name], pick])
        total += weight
        for name in nodes:
            families[name][tuple(at[n] for n in network.table(name)[0])] += weight
    return total, families


@pytest.fixture(params=range(4))
def case(request):
    rng = np.random.default_rng([7, request.param])
    network = compile_network(networks.random_model(rng, 6, zeros=0.25, gates=0.4))
    names = list(network.states)
    tables = evidence(rng, network, names)
    picks = rng.integers(0, 3, (len(names), COLUMNS))
    weights = rng.integers(1, 5, COLUMNS).astype(float)
    machine = compile_machine(network, [(name,) for name in names], [3] * len(names))
    return network, names, tables, picks, weights, machine


def test_expected_counts_are_those_of_adding_up_every_joint_state(case):
    network, names, tables, picks, weights, machine = case
    given = slotted(network, machine, tables)
    (way,) = routes(machine, picks, weights)
    block = run(machine, way, given)
    found = counts(machine, block, given)
    hand = [by_hand(network, names, tables, picks[:, c]) for c in range(COLUMNS)]
    with np.errstate(divide="ignore"):
        assert block.log_evidence == pytest.approx(np.log([total for total, _ in hand]), abs=1e-11)
    possible = [(w, total, f) for w, (total, f) in zip(weights, hand, strict=True) if total > 0]
    for i, name in enumerate(machine.nodes):
        expected = sum(w * f[name] / total for w, total, f in possible)
        assert found[i].reshape(expected.shape) == pytest.approx(expected, abs=1e-10)
    for slot, name in enumerate(names, len(machine.nodes)):
        assert found[slot].sum() == pytest.approx(sum(w for w, _, _ in possible))
        own = sum(w * f[name].reshape(-1, len(tables[slot - len(machine.nodes)])).sum(axis=0) / t
                  for w, t, f in possible)  # fmt: skip
        assert found[slot].sum(axis=1) == pytest.approx(own, abs=1e-10)


def test_columns_worked_one_by_one_add_up_to_columns_worked_together(case):
    network, _, tables, picks, weights, machine = case
    given = slotted(network, machine, tables)
    (together,) = routes(machine, picks, weights)
    summed = counts(machine, run(machine, together, given), given)
    (apart,) = routes(machine, picks, np.ones(COLUMNS), shared=False)
    for slot, own in posteriors(machine, run(machine, apart, given)):
        assert own @ weights == pytest.approx(summed[slot].sum(axis=1), abs=1e-10)
        assert (own.sum(axis=0) == pytest.approx(1, abs=1e-9)) or (own.sum(axis=0) < 1e-9).any()


def test_a_finding_far_from_everything_does_not_lose_its_piece():
    model = networks.build("far", {
        "a": {"states": ["x", "y"], "rows": [{"p": {"x": 0.5, "y": 0.5}, "source": "t", "n": 1}]},
    })  # fmt: skip
    network = compile_network(model)
    machine = compile_machine(network, [("a",)] * 3, [1, 1, 1])
    tables = [np.array([[-5000.0], [-5010.0]])] * 3
    (way,) = routes(machine, np.zeros((3, 1), np.intp), np.ones(1))
    block = run(machine, way, slotted(network, machine, tables))
    assert block.log_evidence[0] == pytest.approx(-15000 + np.log(0.5), abs=1e-9)
