"""What is said of a measured model, on the terminal and on the page."""

from dataclasses import replace

import numpy as np
import pytest
from measured import drawn, measured
from small import model

from claywit.evidence.cases import joined
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan as Rehearsal
from claywit.inference.rehearsal import rehearse
from claywit.model.schema import Model
from claywit.records.cases import read_cases
from claywit.report.evaluated_page import evaluation_page
from claywit.report.evaluated_text import show_evaluation
from claywit.report.terminal import plain_console


def text_of(found, width=100):
    console = plain_console(width=width, record=True, file=open("/dev/null", "w", encoding="utf-8"))  # noqa: PTH123, SIM115
    show_evaluation(found, console)
    return console.export_text()


def test_the_terminal_says_what_the_page_says(tmp_path):
    found = measured(model(), drawn(tmp_path), folds=4)
    text, page = " ".join(text_of(found).split()), evaluation_page(found)
    for sentence in (*found.said, *found.cautions):
        bare = " ".join(sentence.split())
        assert bare[:60] in text.replace(" · ", " ")
        assert bare[:40] in page
    assert page.count("<svg") >= 4
    assert "<script" not in page
    assert "http" not in page.replace("http-equiv", "")


def test_a_few_pieces_without_a_miss_are_not_said_to_leave_no_doubt(tmp_path):
    """Of two sources all right: the share could be as low as sqrt(0.025) = 0.158."""
    whole = drawn(tmp_path)
    found = measured(model(), whole)
    hits = [i for i in range(len(whole)) if measured(model(), whole.take([i])).answers.right]
    hit = list({whole.groups[i]: i for i in hits}.values())[:2]
    assert found.answers.accuracy.low > 0.158
    accuracy = measured(model(), whole.take(hit)).answers.accuracy
    assert (accuracy.value, accuracy.high) == (1, 1)
    assert accuracy.low == pytest.approx(0.025**0.5, abs=1e-6)


def test_the_page_escapes_what_a_model_says(tmp_path):
    data = model().model_dump(by_alias=True, exclude_defaults=True)
    data["nodes"][0]["states"][0]["label"] = "<b>North & co</b>"
    known = Model.model_validate(data)
    page = evaluation_page(measured(known, drawn(tmp_path), folds=3))
    assert "<b>North" not in page
    assert "&lt;b&gt;North &amp; co" in page


def test_a_page_of_one_piece_is_a_page(tmp_path):
    found = measured(model(), drawn(tmp_path).take([0]))
    assert found.answers.accuracy.low is None
    assert "no better than no LR" in evaluation_page(found)
    text_of(found, width=60)


def sure(folder, count, groups):
    """Return pieces that a seal gives away, all answered rightly."""
    lines = ["id,group,shop,seal"]
    lines += [f"q{i:02d},{f'g{i % groups}' if groups else ''},south,pressed" for i in range(count)]
    path = folder / "sure.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return joined(model(), read_cases(path, model()))


@pytest.mark.parametrize(("groups", "sources"), [(0, 20), (5, 5)])
def test_no_error_in_a_few_sources_is_not_certainty(tmp_path, groups, sources):
    found = measured(model(), sure(tmp_path, 20, groups))
    accuracy = found.answers.accuracy
    assert (accuracy.value, accuracy.high) == (1, 1)
    assert accuracy.low**sources == pytest.approx(0.025)  # none in so many, one time in forty
    assert "right one for 20 of 20 pieces (all, 95% band" in found.said[0]
    assert "20 of 20       20      all\n" in text_of(found).replace(" \n", "\n")


def test_few_sources_and_pieces_without_a_group_are_told(tmp_path):
    cases = drawn(tmp_path, count=60, groups=8)
    said = measured(model(), cases).cautions
    assert any(caution.startswith("Only 8 sources: the 95% bands") for caution in said)
    assert not any("source of its own" in caution for caution in said)
    some = replace(cases, groups=("", "", *cases.groups[2:]))
    found = measured(model(), some)
    assert found.how.without_group == 2
    assert any(
        c.startswith("2 pieces without a group, each of which counts") for c in found.cautions
    )
    none = measured(model(), replace(cases, groups=("",) * 60))
    assert any(c.startswith("Each piece counts as a source of its own") for c in none.cautions)
    assert not any("Only" in c for c in none.cautions)


def test_drawn_pieces_never_pass_for_known_ones(tmp_path):
    cases = drawn(tmp_path)
    known = compile_network(model())
    rehearsed = rehearse(known, Rehearsal(), 1, 30, np.random.default_rng(1))
    found = measured(model(), rehearsed)
    assert found.how.drawn == 30
    assert any("say nothing of whether the model is right" in c for c in found.cautions)
    real = measured(model(), cases)
    assert real.how.drawn == 0
    assert not any("simulate" in c for c in real.cautions)
    assert any("chosen and mixed as these were" in c for c in real.cautions)
