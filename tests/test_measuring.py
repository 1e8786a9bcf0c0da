"""A model measured on cases: the same numbers in any order, and nothing said that is not known."""

import json
from dataclasses import replace

import numpy as np
import pytest
from counted import learn
from measured import drawn, measured
from small import SHOPS, model

from claywit.errors import CasesError, EvidenceError
from claywit.learning.crossvalidation import cross_validate, learned
from claywit.learning.folds import one_out
from claywit.learning.scoring import Asked, score
from claywit.measuring import Origin, Plan, measure
from claywit.model.schema import Model
from claywit.report.digest import canonical_json
from claywit.report.evaluated import Evaluation
from claywit.report.evaluated_page import evaluation_page
from claywit.report.evaluated_text import show_evaluation
from claywit.report.terminal import plain_console


@pytest.mark.parametrize("plan", [{}, {"folds": 4}, {"by_groups": True}, {"one_out": True},
                                  {"for_": "shop=south", "against": "shop=north"}])  # fmt: skip
def test_the_order_of_the_rows_changes_no_number(tmp_path, plan):
    known, cases = model(), drawn(tmp_path)
    order = np.random.default_rng(1).permutation(len(cases))
    assert canonical_json(measured(known, cases, **plan)) == canonical_json(
        measured(known, cases.take(order), **plan)
    )


def test_every_piece_is_judged_by_a_model_that_has_not_seen_its_group(tmp_path):
    known, cases = model(), drawn(tmp_path)
    seen = []

    def watching(_, learned_from):
        seen.append(set(learned_from.groups))
        return learn(known, learned_from)

    found = measure(known, cases, Plan(by_groups=True), learn=watching)
    assert found.how.folds == len(set(cases.groups)) == len(seen)
    assert all(len(groups) == len(seen) - 1 for groups in seen)
    assert found.answers.pieces == len(cases)


def test_folds_give_what_each_piece_gets_from_its_own_model(tmp_path):
    known, cases = model(), drawn(tmp_path, count=25, groups=0)
    asked = Asked("shop", ({"shop": ("north",)}, {"shop": ("south",)}))
    folds = one_out(cases.groups, cases.names)
    found = cross_validate(known, cases, folds, asked, learn=learn)
    for fold in folds:
        alone = score(learn(known, cases.take(fold.learn)), cases.take(fold.judge), asked)
        assert (found.log_p[found.names.index(alone.names[0])] == alone.log_p[0]).all()


def test_folds_may_run_elsewhere_and_come_back_in_order(tmp_path):
    from concurrent.futures import ThreadPoolExecutor

    known, cases = model(), drawn(tmp_path)
    with ThreadPoolExecutor(2) as pool:
        there = measure(known, cases, Plan(folds=3), learn=learn, run_all=pool.map)
    assert there == measured(known, cases, folds=3)


def test_what_a_fold_runs_can_be_sent_to_another_machine(tmp_path):
    import pickle
    from functools import partial

    from claywit.learning.crossvalidation import _judge

    known, cases = model(), drawn(tmp_path)
    fold = one_out(cases.groups, cases.names)[0]
    asked = Asked("shop", ({"shop": ("north",)}, {"shop": ("south",)}))
    work = partial(_judge, known, cases, asked, learn)
    there = pickle.loads(pickle.dumps(work))(fold)  # noqa: S301 - our own
    assert (there.log_p == work(fold).log_p).all()


def test_fit_learns_from_complete_pieces_what_counting_says(tmp_path):
    known, cases = model(), drawn(tmp_path, count=40)
    ours, counted = learned(known, cases), learn(known, cases)
    for name, rows in counted.rows.items():
        assert ours.rows[name] == pytest.approx(rows, abs=1e-9)


def test_the_json_is_read_back_as_it_was(tmp_path):
    found = measured(model(), drawn(tmp_path), folds=3)
    assert Evaluation.model_validate_json(found.model_dump_json(by_alias=True)) == found
    data = json.loads(canonical_json(found))
    assert data["model"]["digest"] == found.model.digest
    assert data["for"] == "shop=north"


def test_no_number_is_nan_and_the_parts_add_up(tmp_path):
    found = measured(model(), drawn(tmp_path), folds=5)
    assert "NaN" not in found.model_dump_json()
    answers = found.answers
    parts = answers.parts
    total = parts.reliability - parts.resolution + parts.uncertainty + parts.within
    assert total == pytest.approx(answers.brier.value, abs=1e-10)
    assert sum(map(sum, answers.confusion)) == answers.pieces == 60
    assert sum(s.pieces for s in found.states) == sum(s.led for s in found.states) == 60
    assert sum(b.pieces for b in answers.reliability) == 60
    ratios = found.ratios
    assert ratios.cllr.value == pytest.approx(
        ratios.least_cllr + ratios.calibration_loss, abs=1e-10
    )
    for figure in (answers.accuracy, answers.log_score, answers.brier, ratios.cllr):
        assert figure.low <= figure.value <= figure.high


def test_a_state_that_no_piece_has_is_said_and_not_counted(tmp_path):
    known, cases = model(), drawn(tmp_path)
    rows = np.flatnonzero(cases.codes["shop"] != 2)
    found = measured(known, cases.take(rows))
    elsewhere = found.states[2]
    assert (elsewhere.pieces, elsewhere.given) == (0, None)
    assert any("No piece of the set is Elsewhere" in caution for caution in found.cautions)
    assert [u.states for u in found.unseen if u.node == "shop"] == [("other",)]


def test_a_side_that_no_piece_is_on_has_no_lr_and_says_so(tmp_path):
    known, cases = model(), drawn(tmp_path)
    rows = np.flatnonzero(cases.codes["shop"] == 0)
    found = measured(known, cases.take(rows))
    assert found.ratios is None
    assert any("No LR can be judged" in sentence for sentence in found.said)
    assert found.answers.pieces == len(rows)


def test_a_truth_that_the_model_excludes_has_no_finite_score(tmp_path):
    known, cases = model(), drawn(tmp_path)  # seal pressed happens only in the south
    codes = cases.codes["shop"].copy()
    codes[cases.codes["seal"] == 1] = 0
    wrong = cases.take(np.arange(len(cases)))
    wrong.codes["shop"][:] = codes
    found = measured(known, wrong)
    assert found.answers.log_score.value is None
    assert found.answers.log_score.low is None
    assert len(found.answers.excluded) == (cases.codes["seal"] == 1).sum()
    assert any("probability 0" in sentence for sentence in found.said)
    assert found.ratios.cllr.value is None
    evaluation_page(found)
    show_evaluation(found, plain_console(file=open("/dev/null", "w", encoding="utf-8")))  # noqa: PTH123, SIM115


def test_pieces_that_cannot_be_judged_are_named(tmp_path):
    zero = SHOPS.replace("{absent: 0.5, pressed: 0.5}", "{absent: 1}")
    known = model(zero)
    cases = drawn(tmp_path)
    found = measured(known, cases)
    pressed = [cases.names[i] for i in np.flatnonzero(cases.codes["seal"] == 1)]
    assert list(found.how.impossible) == sorted(pressed)
    assert found.answers.pieces == len(cases) - len(pressed)
    assert any("the model gives these findings probability 0" in c for c in found.cautions)


def test_unknown_truths_are_counted_and_left_out(tmp_path):
    known, cases = model(), drawn(tmp_path)
    cases.codes["shop"][:10] = -1
    found = measured(known, cases)
    assert found.how.without_truth == 10
    assert found.answers.pieces == 50
    assert any("10 pieces of unknown workshop left out" in caution for caution in found.cautions)


def test_no_known_truth_is_refused_with_the_way_out(tmp_path):
    known, cases = model(), drawn(tmp_path)
    cases.codes["shop"][:] = -1
    with pytest.raises(CasesError, match="add a column `shop`"):
        measured(known, cases)


@pytest.mark.parametrize(("plan", "says"), [
    ({"question": "shp"}, "did you mean shop"),
    ({"for_": "shop=north"}, "give --for and --against"),
    ({"for_": "shop=north", "against": "shop=north|south"}, "exclude each other"),
    ({"for_": "shop=nrth", "against": "shop=south"}, "did you mean north"),
])  # fmt: skip
def test_a_question_that_does_not_fit_is_refused(tmp_path, plan, says):
    with pytest.raises(EvidenceError, match=says):
        measured(model(), drawn(tmp_path), **plan)


def test_two_ways_of_parting_are_refused(tmp_path):
    with pytest.raises(CasesError, match="choose one"):
        measured(model(), drawn(tmp_path), folds=3, by_groups=True)


def test_a_model_is_not_cross_validated_on_the_file_it_has_counted(tmp_path):
    known, cases = model(), drawn(tmp_path)
    data = known.model_dump(by_alias=True, exclude_defaults=True)
    data["reference"] = {
        "pieces": 60,
        "files": [{"name": "drawn.csv", "digest": "ab" * 32, "pieces": 60}],
    }
    taught, origin = Model.model_validate(data), Origin("ab" * 32)
    with pytest.raises(CasesError, match="give the model from before it was fitted"):
        measure(taught, cases, Plan(folds=3), learn=learn, origin=origin)
    found = measure(taught, cases, Plan(), origin=origin)
    assert found.how.taught
    assert any("has counted these very pieces" in caution for caution in found.cautions)
    assert not measure(taught, cases, Plan(), origin=Origin("cd" * 32)).how.taught


def test_the_lr_does_not_depend_on_the_prior(tmp_path):
    cases = drawn(tmp_path)
    other = SHOPS.replace(
        "north: 0.5, south: 0.4, other: 0.1", "north: 0.1, south: 0.8, other: 0.1"
    )
    one, two = (
        measured(model(text), cases, for_="shop=north", against="shop=south")
        for text in (SHOPS, other)
    )
    assert one.ratios.lr_for == pytest.approx(two.ratios.lr_for, abs=1e-9)
    assert one.ratios.cllr.value == pytest.approx(two.ratios.cllr.value, abs=1e-10)


def test_the_cllr_of_a_state_is_that_of_the_state_against_the_rest(tmp_path):
    cases = drawn(tmp_path)
    found = measured(model(), cases)
    for state in found.states:
        others = "|".join(s.state for s in found.states if s != state)
        pair = measured(model(), cases, for_=f"shop={state.state}", against=f"shop={others}")
        assert state.cllr == pytest.approx(pair.ratios.cllr.value, abs=1e-9)


def test_pieces_on_which_nothing_was_examined_get_the_priors(tmp_path):
    known, cases = model(), drawn(tmp_path)
    bare = replace(cases, codes={"shop": cases.codes["shop"]}, values={}, doubts={})
    found = measured(known, bare).answers
    assert found.log_score.value == pytest.approx(found.prior_log_score, abs=1e-12)


def test_a_trait_may_be_the_question_and_is_then_no_evidence(tmp_path):
    found = measured(model(), drawn(tmp_path), question="rim", folds=3)
    assert found.question == "rim"
    assert {s.state for s in found.states} == {"bevelled", "flat"}
    assert 0.3 < found.answers.log_score.value < 1.5


def test_a_proposition_about_two_nodes_is_true_where_both_are(tmp_path):
    cases = drawn(tmp_path)
    found = measured(model(), cases, for_="shop=north,rim=bevelled", against="shop=south|other")
    shop, rim = cases.codes["shop"], cases.codes["rim"]
    assert found.ratios.pieces_for == ((shop == 0) & (rim == 0)).sum()
    assert found.ratios.pieces_against == (shop > 0).sum()


def test_the_sources_bound_the_lr_and_what_passes_is_counted(tmp_path):
    found = measured(
        model(), drawn(tmp_path, count=40, groups=2), for_="shop=north", against="shop=south"
    )
    span = found.ratios.by_sources
    assert span.most_bans == pytest.approx(np.log10(2))
    every = [*found.ratios.lr_for, *found.ratios.lr_against]
    assert span.beyond == sum(abs(b) > span.most_bans for b in every) > 0
    assert any("smaller side has 2 sources" in sentence for sentence in found.said)
