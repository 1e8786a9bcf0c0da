"""Three published sets of real pieces, learned and cross-validated by claywit alone.

- Compiegne: Lacroix (1997), 5 periods by 16 ceramic types, 179,530 sherds; as in Desachy (2004),
  Revue archeologique de Picardie 3/4:39 (from memory).
- Romano-British pottery: Tubb, Parker & Nickless (1980), Archaeometry 22:153, 48 pots, nine oxides.
- Dart points: Carlson's 91 points from Fort Hood, six categorical traits with gaps, five types
  (R package archdata; from memory).

The baselines are computed here with scikit-learn, on the same pieces left out one at a time. Where
naive Bayes gives the truth a probability of 0 its log score is infinite; it is then clipped at
1e-15, as scikit-learn's own log_loss clips.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from golden import REWRITE
from published.baselines import (
    OXIDES,
    ROOT,
    TRAITS,
    cases,
    judged,
    measured,
    model,
    points,
    pots,
    rows,
)
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.naive_bayes import CategoricalNB, GaussianNB

from claywit.evidence.cases import Cases
from claywit.learning.calibration import expected_calibration_error, reliability
from claywit.learning.crossvalidation import cross_validate
from claywit.learning.folds import in_parts, one_out
from claywit.learning.scores import log_losses
from claywit.learning.scoring import Asked
from claywit.learning.screening import screen
from claywit.measuring import Plan, measure
from claywit.model.lint import lint


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_the_baselines_of_the_pots_are_as_published_in_our_notes():
    lda, bayes = LinearDiscriminantAnalysis, GaussianNB
    assert [pots(q, k)[0] for q in ("kiln", "region") for k in (lda, bayes)] == [34, 38, 47, 47]


def test_the_baseline_of_the_points_is_as_in_our_notes():
    right, log_score, brier = points()
    assert right == 62
    assert log_score == pytest.approx(0.845604, abs=1e-6)
    assert brier == pytest.approx(0.420100, abs=1e-6)


@pytest.mark.parametrize("name", ["compiegne", "romano-british", "dart-points"])
def test_the_models_are_lint_clean_and_hold_no_piece(name):
    assert lint(model(name)) == ()
    assert model(name).reference.pieces == 0


def test_the_case_files_hold_the_published_tables():
    table, pieces = rows("rb_pottery"), cases("romano-british")
    assert list(pieces.names) == [row["ID"] for row in table]
    for oxide, node in OXIDES.items():
        assert pieces.values[node][:, 0].tolist() == [float(row[oxide]) for row in table]
    states = model("romano-british").node("kiln").states
    labels = [states[code].label for code in pieces.codes["kiln"]]
    assert labels == [row["Kiln"] for row in table]
    table, pieces = rows("dart_points"), cases("dart-points")
    names = dict(
        zip(TRAITS, ("blade", "base", "shoulder", "shoulder_lie", "haft", "haft_lie"), strict=True)
    )
    letters = {"shoulder": {"X": "none"}, "shoulder_lie": {"B": "barbed", "H": "horizontal", "T": "tapered"},
               "haft_lie": {"C": "concave", "E": "expanding", "P": "parallel", "T": "contracting", "V": "convex"}}  # fmt: skip
    plain = {"E": "excurvate", "I": "incurvate", "R": "recurvate", "S": "straight", "A": "angular"}
    for trait, node in names.items():
        states = model("dart-points").node(node).all_states
        for row, code in zip(table, pieces.codes[node], strict=True):
            said = letters.get(node, {}).get(row[trait], plain.get(row[trait]))
            expected = None if (node, row[trait]) == ("shoulder_lie", "X") else said
            assert (states[code] if code >= 0 else None) == (expected if row[trait] else None)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("question", ["kiln", "region"])
def test_the_log_score_beats_naive_bayes_and_discriminants_on_the_pots(question):
    found = measured("romano-british", question=question, one_out=True).answers
    for kind in (GaussianNB, LinearDiscriminantAnalysis):
        _, log_score, brier = pots(question, kind)
        assert found.log_score.value < log_score
        assert found.brier.value < brier


@cache
def single_points():
    """Return how claywit does one point at a time, as the baseline: sites are not kept apart."""
    pieces = cases("dart-points")
    alone = replace(pieces, groups=("",) * len(pieces))
    return measure(model("dart-points"), alone, Plan(one_out=True)).answers


def test_the_log_score_beats_naive_bayes_on_the_points():
    found, (right, log_score, brier) = single_points(), points()
    assert found.log_score.value < log_score
    assert found.brier.value < brier
    assert found.right >= right


def test_the_points_of_a_site_left_out_together_are_told_about_as_well():
    found = measured("dart-points", one_out=True)
    assert found.how.folds == found.answers.sources < found.answers.pieces
    assert found.answers.log_score.value < points()[1]


MISPRINTS = {("GA4", "titania", 0.03), ("C13", "manganese_oxide", 0.394), ("C14", "potash", 0.81)}


def test_the_three_known_misprints_are_flagged():
    """TiO2 of line 4, MnO of line 35 and K2O of line 36 of the paper, probable misprints all."""
    odd = {
        (o.name, o.node, o.value) for o in screen(cases("romano-british"), model("romano-british"))
    }
    assert odd >= MISPRINTS
    assert odd - MISPRINTS == {("GC2", "potash", 2.25)}


def wrong(scored):
    return {scored.names[i] for i in np.flatnonzero(scored.log_p.argmax(axis=1) != scored.truth)}


@cache
def kilns(*, blank):
    """Return what is said of each pot left out, the misprints as they are or left *blank*."""
    pieces = cases("romano-british")
    values = dict(pieces.values)
    for name, node, _ in MISPRINTS if blank else ():
        values[node] = np.where(np.array(pieces.names)[:, np.newaxis] == name, np.nan, values[node])
    asked = Asked("kiln", ({"kiln": ("gloucester",)}, {"kiln": ("llanedeyrn",)}))
    folds = one_out(pieces.groups, pieces.names)
    return cross_validate(model("romano-british"), replace(pieces, values=values), folds, asked)


def test_misprints_hardly_move_what_heavy_tails_have_learned():
    scores = [log_losses(s.log_p, s.truth).mean() for s in (kilns(blank=False), kilns(blank=True))]
    assert abs(scores[1] - scores[0]) < 0.02


def test_left_out_one_at_a_time_the_two_alike_kilns_are_always_taken_for_each_other():
    alike = {n for n in cases("romano-british").names if n[0] in "TA"}
    assert len(alike) == 10
    assert alike <= wrong(kilns(blank=False))
    by_state = {s.state: s for s in measured("romano-british", question="kiln", folds=5).states}
    assert 2 <= by_state["islands_thorns"].right + by_state["ashley_rails"].right <= 8


@cache
def sherds():
    """Return the scores of claywit and of naive Bayes, in five parts, and the calibration error."""
    kinds = "ABCDEFGHIJKLMNOP"
    table = sorted(rows("compiegne"), key=lambda row: row["period"])
    counts = np.array([[int(row[k]) for k in kinds] for row in table])
    truth, kind = (np.repeat(i.ravel(), counts.ravel()) for i in np.indices(counts.shape))
    n = len(truth)
    codes = {"period": truth.astype(np.int16), "type": kind.astype(np.int16)}
    names, groups = tuple(f"s{i}" for i in range(n)), ("",) * n
    pieces = Cases(model("compiegne"), names, groups, np.arange(n) + 2, codes, {}, {}, {})
    folds = in_parts(groups, names, truth, count=5, seed=1)
    asked = Asked("period", ({"period": ("period1",)}, {"period": ("period2",)}))
    scored = cross_validate(model("compiegne"), pieces, folds, asked)
    p = np.zeros((n, 5))
    for fold in folds:
        bayes = CategoricalNB(alpha=1, min_categories=16)
        bayes.fit(kind[fold.learn, np.newaxis], truth[fold.learn])
        p[fold.judge] = bayes.predict_proba(kind[fold.judge, np.newaxis])
    said = np.exp(scored.log_p)
    error = expected_calibration_error(reliability(said, scored.truth))
    return judged(said, scored.truth), judged(p, truth), error


def test_the_sherds_of_compiegne_score_as_naive_bayes_does():
    """One trait leaves nothing to be naive about: a match is all there can be."""
    (right, log_score, _), theirs, error = sherds()
    assert right == theirs[0]
    assert theirs[1] - 1e-4 < log_score <= theirs[1]
    assert error < 0.002


def line(set_, method, figures, pieces):
    right, log_score, brier = figures
    return f"| {set_} | {method} | {right:,} of {pieces:,} | {log_score:.3f} | {brier:.3f} |"


def ours(found):
    return found.right, found.log_score.value, found.brier.value


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_the_page_shows_these_figures():
    lines = ["| set | method | right | log score | Brier score |", "|---|---|---|---|---|"]
    for question in ("kiln", "region"):
        found = measured("romano-british", question=question, one_out=True).answers
        lines.append(line(f"Pots: {question}", "**claywit**", ours(found), 48))
        lines.append(line("", "Gaussian naive Bayes", pots(question, GaussianNB), 48))
        lines.append(
            line("", "linear discriminants", pots(question, LinearDiscriminantAnalysis), 48)
        )
    found = measured("romano-british", question="kiln", folds=5).answers
    lines.append(line("Pots: kiln, in five parts", "**claywit**", ours(found), 48))
    lines.append(line("", "Gaussian naive Bayes", pots("kiln", GaussianNB, 5), 48))
    lines.append(line("", "linear discriminants", pots("kiln", LinearDiscriminantAnalysis, 5), 48))
    lines.append(line("Dart points: type", "**claywit**", ours(single_points()), 91))
    lines.append(
        line(
            "", "**claywit**, site by site", ours(measured("dart-points", one_out=True).answers), 91
        )
    )
    lines.append(line("", "categorical naive Bayes", points(), 91))
    lines.append(line("Sherds: period", "**claywit**", sherds()[0], 179530))
    lines.append(line("", "categorical naive Bayes", sherds()[1], 179530))
    page = ROOT / "docs" / "explanation" / "real-data.md"
    text = page.read_text(encoding="utf-8")
    before, rest = text.split("<!-- figures -->\n")
    fresh = (
        f"{before}<!-- figures -->\n"
        + "\n".join(lines)
        + "\n<!-- end -->"
        + rest.split("<!-- end -->")[1]
    )
    if REWRITE:
        page.write_text(fresh, encoding="utf-8")
    assert page.read_text(encoding="utf-8") == fresh
