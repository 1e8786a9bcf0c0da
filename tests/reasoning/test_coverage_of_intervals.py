"""Do 95 % intervals cover the truth in 95 % of cases? A study with the truth fixed.

A true network is drawn, a reference file simulated from it, and every row refitted by
Dirichlet counts (a half for each state beforehand, Jeffreys), its n being what was counted.
The interval for a new piece from the same truth must then hold the posterior of the truth.
"""

import sys

import numpy as np
import pytest
from networks import build

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.inference.varied import compile_varied
from claywit.reasoning.uncertainty import intervals

SHOPS = ("s0", "s1", "s2")
TRAITS = {"t0": 2, "t1": 3, "t2": 2, "t3": 4}
PAIR = ({"shop": ("s0",)}, {"shop": ("s1",)})
REPEATS = 400


def network_of(prior, tables, sizes):
    """Return a network from arrays of shares, with *sizes* behind the rows."""
    nodes = {"shop": {"states": list(SHOPS), "rows": [
        {"p": dict(zip(SHOPS, prior.tolist(), strict=True)), "n": sizes["shop"][0]}]}}  # fmt: skip
    for name, table in tables.items():
        states = [f"x{k}" for k in range(table.shape[1])]
        rows = [
            {"given": {"shop": shop}, "p": dict(zip(states, row.tolist(), strict=True)), "n": n}
            for shop, row, n in zip(SHOPS, table, sizes[name], strict=True)
        ]
        nodes[name] = {"states": states, "parents": ["shop"], "rows": rows}
    return compile_network(build("study", nodes))


def covered(rng, pieces):
    """Return whether the interval for a new piece holds the true posterior of the first shop."""
    prior = rng.dirichlet([5, 5, 5])
    truth = {name: rng.dirichlet(np.full(k, 2.0), 3) for name, k in TRAITS.items()}
    ones = {"shop": [1.0], **dict.fromkeys(TRAITS, [1.0] * 3)}
    shops = rng.choice(3, pieces, p=prior)
    counts = np.bincount(shops, minlength=3) + 0.5
    tables, sizes = {}, {"shop": [counts.sum()]}
    new_shop, findings = rng.choice(3, p=prior), []
    for name, table in truth.items():
        own = np.stack([rng.multinomial((shops == s).sum(), table[s]) for s in range(3)]) + 0.5
        tables[name], sizes[name] = own / own.sum(axis=1, keepdims=True), own.sum(axis=1).tolist()
        findings.append(Finding(name, state=f"x{rng.choice(table.shape[1], p=table[new_shop])}"))
    true = compile_piece(network_of(prior, truth, ones), findings, ["shop"])
    joint = true.log_joint(np.ones((1, len(findings)), dtype=bool))[:, 0]
    share = np.exp(joint - np.logaddexp.reduce(joint))[0]
    fitted = network_of(counts / counts.sum(), tables, sizes)
    varied, before = (compile_varied(fitted, f, ["shop"]) for f in (findings, ()))
    interval = intervals(varied, before, "shop", PAIR, rng).shares["shop"][0]
    return interval.low <= share <= interval.high


@pytest.mark.parametrize(("pieces", "low", "high"), [(1000, 0.93, 0.97), (100, 0.91, 0.98)])
def test_the_interval_holds_the_truth_about_as_often_as_it_says(pieces, low, high):
    """At 1,000 pieces the bounds are the promise; at 100 they say what was found (see the docs)."""
    rng = np.random.default_rng([2026, pieces])
    share = np.mean([covered(rng, pieces) for _ in range(REPEATS)])
    sys.stdout.write(f"{pieces} pieces: {share:.4f} covered\n")
    assert low <= share <= high
