"""What a model says of many pieces at once is what it says of each."""

import numpy as np
import pytest
from small import SHOPS, examined, model

from claywit import assessment
from claywit.evidence.cases import joined
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals
from claywit.learning.scoring import Asked, score
from claywit.records import files
from claywit.records.cases import read_cases

PAIR = ({"shop": ("north",)}, {"shop": ("south", "other")})
TABLE = """id,group,shop,rim,mark,mark.sure,seal
p1,g1,north,bevelled,absent,,
p2,g1,south,flat,stroke,0.8,pressed
p3,,,flat,,,absent
p4,g2,other,bevelled,stroke,1,
p5,,north,,,,
"""


def cases_of(known, text, folder):
    path = folder / "cases.csv"
    path.write_text(text, encoding="utf-8")
    return joined(known, read_cases(path, known))


def test_each_piece_is_scored_as_if_it_were_alone(tmp_path):
    known = model()
    cases = cases_of(known, TABLE, tmp_path)
    found = score(compile_network(known), cases, Asked("shop", PAIR))
    network = compile_network(known)
    for name, log_p, log_lr in zip(found.names, found.log_p, found.log_lr, strict=True):
        findings = cases.findings(cases.names.index(name), without=["shop"])
        prior, posterior = log_marginals(network, findings, ["shop"])
        total = np.logaddexp.reduce(posterior["shop"])
        assert log_p == pytest.approx(posterior["shop"] - total, abs=1e-12)
        odds = [np.logaddexp.reduce(m["shop"][1:]) for m in (prior, posterior)]
        assert log_lr == pytest.approx(
            posterior["shop"][0] - odds[1] - prior["shop"][0] + odds[0], abs=1e-12
        )


def test_the_scores_are_those_of_assess(tmp_path):
    known = model()
    found = score(compile_network(known), cases_of(known, TABLE, tmp_path), Asked("shop", PAIR))
    alone = examined(known, "{rim: flat, mark: {state: stroke, sure: 0.8}, seal: pressed}")
    report = assessment.assess(known, alone, files.read_standards(), seed=None)
    expected = [float(report.posterior["shop"][s]) for s in found.states]
    assert np.exp(found.log_p[found.names.index("p2")]) == pytest.approx(expected, abs=1e-11)


def test_the_truth_is_never_weighed_and_may_be_unknown(tmp_path):
    known = model()
    told = score(compile_network(known), cases_of(known, TABLE, tmp_path), Asked("shop", PAIR))
    other = TABLE.replace("g1,north", "g1,south")
    swapped = score(compile_network(known), cases_of(known, other, tmp_path), Asked("shop", PAIR))
    assert (told.log_p == swapped.log_p).all()
    assert told.truth[told.names.index("p3")] == -1
    assert told.side[told.names.index("p3")] == 0
    assert [int(told.side[told.names.index(p)]) for p in ("p1", "p2", "p4")] == [1, 2, 2]


def test_the_order_of_the_rows_changes_nothing(tmp_path):
    known = model()
    cases = cases_of(known, TABLE, tmp_path)
    one = score(compile_network(known), cases, Asked("shop", PAIR))
    other = score(compile_network(known), cases.take([4, 2, 0, 3, 1]), Asked("shop", PAIR))
    assert one.names == other.names
    assert (one.log_p == other.log_p).all()
    assert (one.truth == other.truth).all()


def test_a_piece_that_the_model_excludes_is_named(tmp_path):
    zero = SHOPS.replace("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: 1}").replace(
        "p: {bevelled: 0.1, flat: 0.9}", "p: {bevelled: 1}"
    )
    known = model(zero)
    found = score(compile_network(known), cases_of(known, TABLE, tmp_path), Asked("shop", PAIR))
    assert found.impossible == ("p2", "p3")
    assert found.names == ("p5", "p1", "p4")
    assert len(found.log_p) == 3


def test_measures_weigh_as_findings_on_one_piece_do(tmp_path):
    from small import HIDDEN

    known = model(HIDDEN)
    cases = cases_of(
        known, "id,r,o,size.h,size.h.u\na,a,o1,5.2,\nb,b,o2,6.1,0.4\nc,a,,,\nd,b,,5.2,\n", tmp_path
    )
    known = model(
        HIDDEN.replace("    measured: {h: mm}", "    examine: {view: lens}\n    measured: {h: mm}")
    )
    found = score(compile_network(known), cases, Asked("r", ({"r": ("a",)}, {"r": ("b",)})))
    network = compile_network(known)
    for name, log_p in zip(found.names, found.log_p, strict=True):
        findings = cases.findings(cases.names.index(name), without=["r", "o"])
        piece = compile_piece(network, findings, ["r"])
        joint = piece.log_joint(np.ones((1, len(findings)), dtype=bool))[:, 0]
        assert log_p == pytest.approx(joint - np.logaddexp.reduce(joint), abs=1e-12)


def test_where_nothing_can_be_looked_at_everything_but_the_targets_is_weighed(tmp_path):
    """A network read from another format says of no node that it can be looked at."""
    bare = model("\n".join(line for line in SHOPS.splitlines() if "examine:" not in line))
    cases = cases_of(bare, TABLE, tmp_path)
    found = score(compile_network(bare), cases, Asked("shop", PAIR))
    usual = score(compile_network(model()), cases_of(model(), TABLE, tmp_path), Asked("shop", PAIR))
    assert np.ptp(found.log_lr) > 1
    assert found.log_p == pytest.approx(usual.log_p, abs=1e-12)
