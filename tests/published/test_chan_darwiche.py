"""The distance of Chan & Darwiche on numbers in print.

Distance: Chan & Darwiche (2005), "A distance measure for bounding probabilistic belief change",
Int. J. Approximate Reasoning 38:149-174 (definition and theorems from memory).
Asia: Lauritzen & Spiegelhalter (1988).
"""

from math import exp, log

import pytest
from networks import build, published

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import log_marginals
from claywit.model.schema import Model
from claywit.reasoning.distance import distance
from claywit.report.digest import plain


def apart(one, other):
    return distance(compile_network(one), compile_network(other))


def test_the_cloth_seen_by_candlelight():
    """Jeffrey's cloth (1965, numbers from memory): green, blue, violet .3 .3 .4, then .7 .25 .05.

    ln(.7/.3) - ln(.05/.4) = .847298 + 2.079442 = 2.926739 nats.
    """

    def cloth(green, blue, violet):
        rows = [{"p": {"green": green, "blue": blue, "violet": violet}}]
        return build("cloth", {"colour": {"states": ["green", "blue", "violet"], "rows": rows}})

    found = apart(cloth(0.3, 0.3, 0.4), cloth(0.7, 0.25, 0.05))
    assert found.bans * log(10) == pytest.approx(2.926739, abs=1e-6)


def odds_of_lung(model, **seen):
    findings = [Finding(node, state=state) for node, state in seen.items()]
    yes, no = log_marginals(compile_network(model), findings, ["lung"])[1]["lung"]
    return yes - no


def test_on_asia_no_odds_of_lung_cancer_move_by_more_and_some_by_just_so_much():
    """P(lung cancer given smoking) from .1 to .2: e to the distance is (.2/.8) / (.1/.9) = 9/4."""
    old, _ = published("asia")
    data = plain(old)
    lung = next(node for node in data["nodes"] if node["name"] == "lung")
    lung["rows"][0]["p"] = {"yes": 0.2, "no": 0.8}
    new = Model.model_validate(data)
    bound = apart(old, new).bans * log(10)
    assert exp(bound) == pytest.approx(9 / 4, abs=1e-12)
    for seen in (
        {},
        {"xray": "yes"},
        {"asia": "yes", "dysp": "yes"},
        {"bronc": "no", "xray": "no"},
    ):
        assert abs(odds_of_lung(new, **seen) - odds_of_lung(old, **seen)) <= bound + 1e-12
    moved = odds_of_lung(new, smoke="yes", xray="yes") - odds_of_lung(old, smoke="yes", xray="yes")
    assert moved == pytest.approx(bound, abs=1e-12)
