"""Learning beside pgmpy, which shares no code with claywit's counting."""

import warnings

import learnt
import numpy as np
import pandas as pd
import pytest
from learnt import cases, drawn
from pgmpy.estimators import BayesianEstimator
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from claywit.learning.fit import Terms, fit

SHOPS = learnt.SHOPS
NAMES = ("shop", "rim", "mark", "seal", "wear")
STATES = {name: list(SHOPS.node(name).state_names) for name in NAMES}


def reference(rows):
    """Return SHOPS for pgmpy, with *rows* by node, each shape (parents' states, states)."""
    model = DiscreteBayesianNetwork([("shop", n) for n in ("rim", "mark", "seal")])
    model.add_node("wear")
    for name in NAMES:
        values = np.atleast_2d(rows[name]).T
        above = list(SHOPS.node(name).parents)
        states = {n: STATES[n] for n in (name, *above)}
        cards = [len(STATES[n]) for n in above]
        model.add_cpds(TabularCPD(name, len(STATES[name]), values, above or None, cards or None, states))  # fmt: skip
    return model


def tables(numbers):
    return {name: numbers.network.rows[name] for name in NAMES}


def test_complete_cases_give_the_rows_of_pgmpy_s_dirichlet_estimator():
    read = drawn(SHOPS, 300, 2)
    found = fit(SHOPS, read)
    frame = pd.DataFrame({n: [STATES[n][k] for k in read.codes[n]] for n in NAMES})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        estimator = BayesianEstimator(
            DiscreteBayesianNetwork([("shop", "rim")]), frame[["shop", "rim"]],
            state_names={n: STATES[n] for n in ("shop", "rim")},
        )  # fmt: skip
        prior = np.array([[10.0], [8.0], [2.0]])
        shop = estimator.estimate_cpd("shop", prior_type="dirichlet", pseudo_counts=prior)
        assert found.numbers.shares["shop"][0] == pytest.approx(shop.get_values()[:, 0])
        prior = np.array([[16.0, 2.0, 2.0], [4.0, 18.0, 18.0]])
        rim = estimator.estimate_cpd("rim", prior_type="dirichlet", pseudo_counts=prior)
    assert found.numbers.shares["rim"][0] == pytest.approx(rim.get_values()[:, 0])


def test_one_round_adds_the_posteriors_of_pgmpy_where_the_shop_is_hidden():
    pieces = [
        {"rim": "flat", "mark": "stroke"}, {"rim": "bevelled"}, {"mark": "absent", "seal": "pressed"},
        {"shop": "north", "rim": "flat"}, {"seal": "absent", "wear": "much"}, {"wear": "little"},
    ]  # fmt: skip
    found = fit(SHOPS, cases(SHOPS, pieces), Terms(rounds=1))
    engine = VariableElimination(reference(tables(found.start.numbers)))
    shop, rim = np.zeros(3), np.zeros((3, 2))
    for piece in pieces:
        p = np.eye(3)[0]
        if "shop" not in piece:
            factor = engine.query(["shop"], evidence=piece, show_progress=False)
            p = np.array([factor.get_value(shop=state) for state in STATES["shop"]])
        shop += p
        if "rim" in piece:
            rim[:, STATES["rim"].index(piece["rim"])] += p
    shares = found.numbers.shares
    assert shares["shop"][0] == pytest.approx((np.array([10, 8, 2]) + shop) / 26)
    pooled = np.array([rim[0], rim[1] + rim[2]])
    prior = np.array([[16.0, 4], [2, 18]])
    assert shares["rim"] == pytest.approx((prior + pooled) / (20 + pooled.sum(axis=1))[:, None])
