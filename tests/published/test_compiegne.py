"""Compiegne: 5 periods by 16 ceramic types, 179,530 sherds (Lacroix 1997).

A published table of P(type given period). With a uniform prior, one sherd of type J gives
.494399 .390328 .095905 .018107 .001261 for periods 1 to 5. P(type given period) is not
P(period given type): the test reads the one and asks for the other.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from networks import build

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece

TABLE = Path(__file__).parent / "compiegne.csv"


def counts():
    with TABLE.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    return {f"period{row.pop('period')}": {k: float(v) for k, v in row.items()} for row in rows}


def posterior(kind, pseudo=0.0):
    """Return P(period given one sherd of a type), periods 1 to 5, with *pseudo* counts a cell."""
    table = counts()
    periods = sorted(table)
    types = list(table[periods[0]])
    rows = [
        {"given": {"period": p}, "p": {t: (table[p][t] + pseudo) / (sum(table[p].values()) + pseudo * len(types))
                                       for t in types}}
        for p in periods
    ]  # fmt: skip
    nodes = {"period": {"states": periods, "rows": [{"p": dict.fromkeys(periods, 0.2)}]},
             "type": {"states": types, "parents": ["period"], "rows": rows}}  # fmt: skip
    piece = compile_piece(
        compile_network(build("compiegne", nodes)), [Finding("type", state=kind)], ["period"]
    )
    joint = np.exp(piece.log_joint(np.ones((1, 1), dtype=bool)))[:, 0]
    return joint / joint.sum()


def test_the_table_holds_all_published_sherds():
    assert sum(sum(row.values()) for row in counts().values()) == 179530


def test_one_sherd_of_type_j_gives_the_published_posterior():
    expected = [0.494399, 0.390328, 0.095905, 0.018107, 0.001261]
    assert posterior("J") == pytest.approx(expected, abs=1e-6)


def test_a_cell_of_zero_excludes_its_period():
    found = posterior("P")
    assert found[4] == 0.0
    assert found[:4].sum() == pytest.approx(1)


def test_half_a_sherd_a_cell_takes_the_exclusion_back():
    """The half count (Jeffreys) is a choice of this test, not of the source."""
    found = posterior("P", pseudo=0.5)
    assert 0 < found[4] < 0.01
    assert found[:4] == pytest.approx(posterior("P")[:4], abs=0.01)


def test_what_is_common_in_a_period_need_not_speak_for_it():
    """Type C is the commonest of period 1, yet one sherd of C points to period 5 first."""
    table = counts()["period1"]
    assert max(table, key=table.get) == "C"
    assert int(np.argmax(posterior("C"))) == 4
