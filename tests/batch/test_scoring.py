"""A batch gives every piece the numbers that `assess` gives it alone."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from cases_files import jsonl, read
from networks import build, published, random_findings, random_model
from oracles import a_piece, enumerate_joint, oracle
from small import HIDDEN, SHOPS, model

from claywit.assessment import assess, look_next
from claywit.batch.looking import candidates
from claywit.batch.rows import columns
from claywit.batch.scorer import compile_scorer, occurring, wanted
from claywit.batch.scoring import score
from claywit.batch.weighing import chain, units
from claywit.errors import EvidenceError
from claywit.evidence.binding import bind
from claywit.evidence.written import Evidence
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_marginals, log_total
from claywit.inference.rehearsal import Plan, rehearse
from claywit.reasoning.explanation import explain, leading_pair
from claywit.reasoning.typicality import typicality
from claywit.records.files import read_model, read_standards

ROOT = Path(__file__).parents[2]
SAME = 1e-12


def scored(known, cases, question=None, weigh=()):
    scorer = compile_scorer(known, wanted(known, question, weigh, weights=True, looks=True))
    found, possible = score(scorer, cases)
    return scorer, found, possible


def drawn(known, count, seed=1, missing=0.3):
    network = compile_network(known)
    return rehearse(network, Plan(missing=missing), 1, count, np.random.default_rng(seed))


@pytest.fixture(scope="module")
def demo():
    return read_model(ROOT / "models" / "oskervane.yaml")


def test_a_piece_of_a_batch_has_the_report_of_assess(demo):
    """Every number of a row, as it is written, against the report on the piece alone."""
    cases = drawn(demo, 40)
    scorer, found, possible = scored(demo, cases, "mould")
    assert possible.all()
    row_of = {column.name: column.cells for column in columns(scorer, cases, found)}
    empty = Evidence.model_validate({"format": "claywit-evidence/1", "piece": {"id": "x"}})
    aside = set(demo.by_name) - set(scorer.wanted.weighed)
    standards = read_standards()
    for row in (0, 7, 19):
        alone = bind(empty.model_copy(update={"question": "mould"}), demo)
        findings = cases.findings(row, without=aside)
        examined = alone.__class__(**{**vars(alone), "findings": findings})
        report = assess(demo, examined, standards, seed=None)
        for name in demo.targets:
            for state, p in report.posterior[name].items():
                assert row_of[f"{name}.{state}"][row] == pytest.approx(float(p), rel=2e-12)
        said = report.explanation
        assert row_of["leading"][row] == report.leading
        assert f"mould={row_of['rival'][row]}" == said.against
        for key in ("prior_bans", "total_bans", "posterior_bans"):
            assert row_of[key][row] == pytest.approx(getattr(said, key), abs=2e-9)
        assert row_of["log10_evidence"][row] == pytest.approx(report.log10_evidence, abs=2e-9)
        weights = {weighed.node: weighed.bans for weighed in said.findings}
        largest = sorted(weights, key=lambda name: -abs(weights[name]))[:3]
        assert [row_of[f"finding_{k}"][row] for k in (1, 2, 3)] == largest
        assert row_of["bans_1"][row] == pytest.approx(weights[largest[0]], abs=2e-9)
        assert row_of["findings"][row] == len(findings)
        assert row_of["conflict_bans"][row] == pytest.approx(report.conflict.total_bans, abs=2e-9)
        advice = look_next(demo, examined, standards.policy)
        assert row_of["next"][row] == advice.next[0].nodes[0]
        assert row_of["next_bits"][row] == pytest.approx(advice.next[0].bits, abs=2e-9)


def test_all_weights_are_those_of_single_scoring(demo):
    cases = drawn(demo, 30, seed=2)
    scorer, found, _ = scored(demo, cases, "mould")
    aside = set(demo.by_name) - set(scorer.wanted.weighed)
    for row in range(0, 30, 6):
        findings = cases.findings(row, without=aside)
        piece = compile_piece(scorer.network, findings, ["mould"])
        joint = piece.log_joint(np.repeat([[False], [True]], len(findings), axis=1))
        assert found.log_evidence[row] == pytest.approx(log_total(joint)[1], abs=1e-11)
        alone = explain(piece, *leading_pair(joint, piece, "mould"))
        ours = dict(zip(chain(scorer), found.weights.chained[row].tolist(), strict=True))
        assert {n: b for n, b in ours.items() if not np.isnan(b)} == pytest.approx(
            {weight.node: weight.bans for weight in alone.weights}, abs=SAME
        )
        assert found.weights.total[row] == pytest.approx(alone.total, abs=SAME)
        _, after = log_marginals(scorer.network, findings, demo.targets)
        for name, logs in after.items():
            shares = np.exp(logs - np.logaddexp.reduce(logs))
            assert found.posterior[name][row] == pytest.approx(shares, abs=SAME)


def test_room_for_the_traits_that_occur_alone_changes_no_number(demo):
    kept = ("wear", "size", "bubbles")
    cases = drawn(demo, 60, seed=5)
    few = replace(
        cases,
        codes={name: column for name, column in cases.codes.items() if name in kept},
        values={name: column for name, column in cases.values.items() if name in kept},
    )
    asked = wanted(demo, "mould", (), weights=True, looks=True)
    read = occurring(few, asked)
    assert set(read) == set(kept)
    narrow, wide = compile_scorer(demo, asked, read), compile_scorer(demo, asked)
    assert len(narrow.joints[0].scopes) < len(wide.joints[0].scopes) / 4
    found, same = ({c.name: c for c in columns(s, few, score(s, few)[0])} for s in (narrow, wide))
    assert found.keys() == same.keys()
    for name, column in found.items():
        if column.is_number:
            ours, theirs = (np.array(c.cells, dtype=float) for c in (column, same[name]))
            assert ours == pytest.approx(theirs, abs=2e-9 if "bans" in name else SAME, nan_ok=True)
        else:
            assert column.cells == same[name].cells


def test_how_far_a_group_stands_apart_is_what_typicality_says(demo):
    cases = drawn(demo, 3, seed=3)
    scorer, found, _ = scored(demo, cases, "mould")
    aside = set(demo.by_name) - set(scorer.wanted.weighed)
    alone = typicality(
        scorer.network, cases.findings(0, without=aside), "mould", np.random.default_rng(1)
    )
    names = [name for name, _ in units(scorer)]
    ours = dict(zip(names, found.weights.apart[0].tolist(), strict=True))
    assert {n: a for n, a in ours.items() if not np.isnan(a)} == pytest.approx(
        {group.name: group.apart for group in alone.groups}, abs=SAME
    )


def test_few_pieces_of_the_model_are_called_atypical():
    """The bound of Markov's inequality, times the groups: at most 5 % of the model's own pieces."""
    known = model()
    scorer, found, _ = scored(known, drawn(known, 2000, missing=0))
    flags = next(
        c for c in columns(scorer, drawn(known, 2000, missing=0), found) if c.name == "atypical"
    )
    assert flags.cells.count("yes") <= 0.05 * 2000


@pytest.mark.parametrize("seed", range(6))
def test_findings_of_every_form_on_random_networks_agree_with_enumeration(seed):
    rng = np.random.default_rng(seed)
    known = random_model(rng, 9, measured=0.3)
    target = known.targets[0]
    pieces = [
        [f for f in random_findings(rng, known, 0.5, a_piece(rng, known)) if f.node != target]
        for _ in range(4)
    ]
    cases = of_findings(known, pieces)
    others = [name for name in known.by_name if name != target]
    _, found, possible = scored(known, cases, weigh=others)
    assert possible.all()
    for row in range(4):
        evidence, posteriors = enumerate_joint(oracle(known, cases.findings(row)))
        assert found.log_evidence[row] == pytest.approx(np.log(evidence), abs=1e-9)
        shares = list(posteriors[target].values())
        assert found.posterior[target][row] == pytest.approx(np.array(shares), abs=1e-10)


def of_findings(known, pieces):
    """Return pieces whose findings are all of special forms."""
    blank = drawn(known, len(pieces))
    return blank.__class__(
        known, blank.names, blank.groups, blank.lines,
        {name: np.full_like(column, -1) for name, column in blank.codes.items()},
        {name: np.full_like(column, np.nan) for name, column in blank.values.items()},
        blank.doubts,
        {row: {f.node: f for f in findings} for row, findings in enumerate(pieces)},
    )  # fmt: skip


def test_a_value_far_out_takes_nothing_from_the_others(tmp_path):
    known = model(HIDDEN)
    near = [{"id": f"n{i}", "size": 4 + i / 10} for i in range(30)]
    text = jsonl(*near, {"id": "far", "size": 90000.0}, {"id": "off", "size": 60})
    (cases,), _, _ = read(known, tmp_path / "c.jsonl", text)
    scorer, found, possible = scored(known, cases)
    assert possible.all()
    assert np.isfinite(found.log_evidence).all()
    for row in (0, 30, 31):
        _, after = log_marginals(scorer.network, cases.findings(row), ("r",))
        shares = np.exp(after["r"] - np.logaddexp.reduce(after["r"]))
        assert found.posterior["r"][row] == pytest.approx(shares, abs=SAME)
        assert found.log_evidence[row] == pytest.approx(np.logaddexp.reduce(after["r"]), rel=1e-12)


def test_equal_evidence_is_scored_once_and_said_of_each(tmp_path):
    known = model()
    rows = ["flat,stroke", "bevelled,absent", "flat,stroke", ",", "bevelled,absent", ","]
    text = "id,rim,mark\n" + "".join(f"p{i},{row}\n" for i, row in enumerate(rows))
    (cases,), _, _ = read(known, tmp_path / "c.csv", text)
    _, found, possible = scored(known, cases)
    assert possible.all()
    shares = found.posterior["shop"]
    assert np.array_equal(shares[[0, 1, 3]], shares[[2, 4, 5]])
    assert shares[3] == pytest.approx([0.5, 0.4, 0.1])
    # By hand: flat .2 .9 .9, stroke .1 .4 .1.
    assert shares[0] == pytest.approx(np.array([0.01, 0.144, 0.009]) / 0.163, abs=1e-15)
    assert found.counts.tolist() == [2, 2, 2, 0, 2, 0]


def test_what_cannot_stand_together_is_left_out_and_the_others_keep_their_place(tmp_path):
    known = build("zeros", {
        "a": {"states": ["x", "y"], "rows": [{"p": {"x": 0.5, "y": 0.5}}]},
        "b": {"states": ["x", "y"], "parents": ["a"],
              "rows": [{"given": {"a": "x"}, "p": {"x": 1}}, {"given": {"a": "y"}, "p": {"x": 0.5, "y": 0.5}}]},
        "c": {"states": ["x", "y"], "parents": ["a"],
              "rows": [{"given": {"a": "x"}, "p": {"x": 0.5, "y": 0.5}}, {"given": {"a": "y"}, "p": {"x": 1}}]},
    })  # fmt: skip
    text = "id,b,c\np0,y,y\np1,x,y\np2,y,y\np3,y,x\np4,x,y\n"
    (cases,), _, _ = read(known, tmp_path / "c.csv", text)
    _, found, possible = scored(known, cases)
    assert possible.tolist() == [False, True, False, True, True]
    assert found.posterior["a"].tolist() == [[1, 0], [0, 1], [1, 0]]


def test_published_posteriors_come_out_of_a_batch(tmp_path):
    """Lauritzen & Spiegelhalter (1988), the Asia network: posteriors as other software prints them."""
    known, checks = published("asia")
    asked = [
        c for c in checks if c["evidence"] and isinstance(c["target"], list) and c["published"]
    ]
    assert len(asked) >= 4
    for check in asked:
        node, state = check["target"]
        text = f"id,{','.join(check['evidence'])}\np,{','.join(check['evidence'].values())}\n"
        (cases,), _, _ = read(known, tmp_path / "c.csv", text)
        _, found, _ = scored(known, cases, node, weigh=list(check["evidence"]))
        share = found.posterior[node][0][known.node(node).state_names.index(state)]
        assert share == pytest.approx(check["published"], abs=1e-6)


def test_what_may_be_looked_at_next_depends_on_what_applies(tmp_path):
    known = model(SHOPS)
    (cases,), _, _ = read(
        known, tmp_path / "c.csv", "id,rim,mark,seal,wear\na,flat,,,\nb,flat,absent,absent,little\n"
    )
    scorer, found, _ = scored(known, cases)
    names = [node.name for node in candidates(scorer)]
    assert names[found.looks.trait[0]] == "seal"
    assert found.looks.trait[1] == -1


def test_a_question_with_one_answer_or_among_the_evidence_is_refused():
    known = build("one", {"a": {"states": ["x", "y"], "rows": [{"p": {"x": 1}}]},
                          "b": {"states": ["x", "y"], "parents": ["a"], "rows": [{"given": {}, "p": {"x": 0.5, "y": 0.5}}]}})  # fmt: skip
    with pytest.raises(EvidenceError, match="a can only be x before anything is seen"):
        compile_scorer(known, wanted(known, None, (), weights=True, looks=True))
    with pytest.raises(EvidenceError, match="the question is shop, so it cannot have a finding"):
        wanted(model(), "shop", ["shop"], weights=True, looks=True)
    with pytest.raises(EvidenceError, match="did you mean shop"):
        wanted(model(), "shap", (), weights=True, looks=True)
