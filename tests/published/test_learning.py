"""Learning against worked examples in print."""

import networks
import numpy as np
import pytest
from learnt import cases
from scipy import stats

from claywit.evidence.findings import Finding
from claywit.inference.drawing import Dice, draw
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.learning.fit import fit
from claywit.learning.moulds import coverage, estimates, sightings
from claywit.learning.writing import rounded

# Gelman et al., Bayesian Data Analysis, 2.4 (placenta praevia): 437 girls of 980 births, a
# uniform prior; the interval was read as 0.415 to 0.477 and recomputed.
GIRLS, BIRTHS = 437, 980


def test_a_uniform_prior_and_the_births_give_beta_438_544():
    model = networks.build("births", {
        "sex": {"states": ["girl", "boy"], "rows": [{"p": {"girl": 0.5, "boy": 0.5}, "n": 2}]},
    })  # fmt: skip
    read = cases(model, [{"sex": "girl"}] * GIRLS + [{"sex": "boy"}] * (BIRTHS - GIRLS))
    share = fit(model, read).numbers.shares["sex"][0, 0]
    assert share == pytest.approx(0.4460285132, abs=1e-10)
    n = 2 + BIRTHS
    law = stats.beta(n * share, n * (1 - share))
    assert law.args == pytest.approx((438, 544))
    assert law.ppf([0.025, 0.975]) == pytest.approx([0.41506549, 0.47719977], abs=1e-8)
    drawn = draws(model, share, n)
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([0.415, 0.477], abs=0.002)


def draws(model, share, n):
    data = model.model_dump(mode="json", exclude_defaults=True)
    data["nodes"][0]["rows"] = [{"p": rounded({"girl": share, "boy": 1 - share}), "n": n}]
    network = compile_network(type(model).model_validate(data))
    dice = Dice(np.random.default_rng(1), 20_000)
    return draw(network, ["sex"], dice).rows["sex"][0, 0]


# Cooper & Herskovits 1992, Machine Learning 9, table 1: ten cases of three variables. Their two
# structures are 2.23e-9 and 2.23e-10 likely with uniform priors (from memory; recomputed).
TABLE = [(1, 0, 0), (1, 1, 1), (0, 0, 1), (1, 1, 1), (0, 0, 0), (0, 1, 1), (1, 1, 1), (0, 0, 0),
         (1, 1, 1), (0, 0, 0)]  # fmt: skip
CHAIN = {"x1": (), "x2": ("x1",), "x3": ("x2",)}
FORK = {"x1": (), "x2": ("x1",), "x3": ("x1",)}


@pytest.mark.parametrize(
    ("parents", "expected"), [(CHAIN, 2.226854078705931e-09), (FORK, 2.226854078705931e-10)]
)
def test_fitting_case_after_case_predicts_them_as_cooper_and_herskovits_add_up(parents, expected):
    """P(all cases) is the product of P(case | the cases before it), each from a fit."""
    even = {"0": 0.5, "1": 0.5}
    nodes = {}
    for name, above in parents.items():
        rows = (
            [{"given": {above[0]: s}, "p": even, "n": 2} for s in "01"]
            if above
            else [{"p": even, "n": 2}]
        )
        nodes[name] = {"states": ["0", "1"], "parents": list(above), "rows": rows}
    model = networks.build("table", nodes)
    read = cases(model, [dict(zip(parents, map(str, row), strict=True)) for row in TABLE])
    product = 1.0
    for i, row in enumerate(TABLE):
        before = fit(model, read.take(range(i))).numbers.network if i else compile_network(model)
        findings = [Finding(name, state=str(s)) for name, s in zip(parents, row, strict=True)]
        product *= likelihood(before, findings)
    assert product == pytest.approx(expected, rel=1e-9)


def likelihood(network, findings):
    piece = compile_piece(network, findings, ("x1",))
    every = np.ones((1, len(findings)), dtype=np.bool_)
    return float(np.exp(piece.log_joint(every)).sum())


# Counts and estimates by Good's method of the obverse dies of a series of Roman coins, as printed
# on qblay.com, "Estimation of the number of original dies" (two states of the page): coins, dies,
# dies met once, estimated dies, coverage in per cent.
DIES = [
    (318, 69, 12, 72, 96.2), (316, 76, 15, 80, 95.3), (250, 50, 7, 51, 97.2),
    (135, 19, 3, 19, 97.8), (408, 91, 16, 95, 96.1), (90, 24, 12, 28, 86.7),
    (541, 94, 14, 96, 97.4), (98, 18, 1, 18, 99.0), (231, 47, 8, 49, 96.5),
    (255, 65, 10, 68, 96.1), (104, 19, 5, 20, 95.2), (68, 22, 11, 26, 83.8),
    (235, 49, 37, 58, 84.3), (2176, 534, 146, 572, 93.3),
]  # fmt: skip


@pytest.mark.parametrize(("coins", "dies", "once", "expected", "known"), DIES)
def test_good_s_estimate_is_the_one_printed_for_roman_dies(coins, dies, once, expected, known):
    seen = sightings_of(coins, dies, once)
    good = estimates(seen)[0].moulds
    assert round(good) == expected
    assert 100 * coverage(seen).share == pytest.approx(known, abs=0.06)


def sightings_of(coins, dies, once):
    """Return sightings with that many coins, dies and singletons; the rest spread evenly."""
    rest, left = dies - once, coins - once
    counts = [1] * once + [left // rest + (1 if i < left % rest else 0) for i in range(rest)]
    seen = sightings(counts)
    assert (seen.pieces, seen.moulds, seen.left(1)) == (coins, dies, once)
    return seen
