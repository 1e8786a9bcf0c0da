"""Words from probabilities: every grade at its edge, and what cannot be graded."""

from pathlib import Path

import pytest
from small import examined, model

from claywit.assessment import assess
from claywit.errors import ModelError
from claywit.reasoning.policy import attribute, grade_of, read_policy
from claywit.records import files

POLICY = files.read_policy()
OSKERVANE = files.read_model(Path(__file__).parents[2] / "models" / "oskervane.yaml")
POLICY_TEXT = (Path(__file__).parents[2] / "src/claywit/data/plaques-2026.yaml").read_text("utf-8")


def shares(workshop, mould, making, period=None):
    """Return posteriors with the named states at the given share, the rest evenly on others."""
    given = {"workshop": workshop, "mould": mould, "class": making, "period": period or {"P2": 1}}
    found = {}
    for node, own in given.items():
        others = [s for s in OSKERVANE.node(node).state_names if s not in own]
        left = (1 - sum(own.values())) / len(others)
        found[node] = {s: own.get(s, left) for s in OSKERVANE.node(node).state_names}
    return found


def words(**given):
    return attribute(OSKERVANE, POLICY, "mould", shares(**given))


@pytest.mark.parametrize(
    ("share", "grade"),
    [
        (0.99, "assigned"),
        (0.983, "assigned"),  # odds 57.8, a third of that is 19.3: .951
        (0.982, "attributed"),  # odds 54.6, a third of that is 18.2: .948
        (0.80, "attributed"),
        (0.79, "probable"),
        (0.60, "probable"),
        (0.59, "possible"),
        (0.40, "possible"),
        (0.39, None),
    ],
)
def test_each_grade_begins_where_the_policy_says(share, grade):
    found = grade_of(POLICY, share, next_best=min(0.15, 1 - share))
    assert (found.name if found else None) == grade


def test_possible_needs_twice_the_share_of_the_next():
    assert grade_of(POLICY, 0.5, 0.25).name == "possible"
    assert grade_of(POLICY, 0.5, 0.26) is None


def test_only_a_primary_issue_is_assigned_without_a_qualifier():
    assert grade_of(POLICY, 0.999, 0.0, primary=False).name == "attributed"


def test_the_words_name_the_workshop_and_the_date_beside_them():
    found = words(workshop={"W2": 0.85}, mould={"M05": 0.9}, making={"C1": 0.97})
    assert found.words == "attributed to the workshop of Ferry Stage"
    assert found.dating.date == "1812/1846"


def test_a_derivative_is_named_after_the_mould_of_the_piece_it_was_taken_from():
    found = words(
        workshop={"W3": 0.97}, mould={"M09": 0.99}, making={"C3": 0.98},
        period={"P3": 0.6, "P4": 0.38},
    )  # fmt: skip
    assert found.words == "attributed as after mould M02 (mould M09), pressed 1847–1950"


def test_a_later_copy_says_when_and_how_and_never_why():
    found = words(
        workshop={"W4": 1}, mould={"M12": 0.999}, making={"C4": 0.999}, period={"P5": 0.999}
    )
    assert found.words == "copy after mould M04 (mould M12), made from 1951"


def test_a_copy_whose_mould_is_not_settled_is_still_called_a_copy():
    copy = words(workshop={"W4": 1}, mould={"M00": 0.9}, making={"C4": 0.7}, period={"P5": 1})
    assert copy.grade == "probable"
    assert copy.words == "probably later copy, after which mould is not settled"


def test_class_and_mould_together_are_graded_by_what_both_have_at_least():
    """.95 derivative and .90 lineage: at least .85 of both at once (Frechet)."""
    found = words(workshop={"W3": 0.9}, mould={"M09": 0.90}, making={"C3": 0.95})
    assert found.share == pytest.approx(0.85)
    assert found.grade == "attributed"


def test_a_re_pressing_is_of_the_workshop_and_said_to_be_one():
    found = words(workshop={"W3": 0.99}, mould={"M11": 0.99}, making={"C2": 0.99})
    assert found.words == "Workshop of Chalk Lane, sanctioned re-pressing"


def test_a_mould_that_is_not_in_the_file_is_unattributed():
    stranger = words(workshop={"W2": 0.9}, mould={"M00": 0.9}, making={"C1": 0.9})
    assert stranger.grade == "unattributed"
    assert stranger.words == "unattributed: not matched in the reference file of oskervane 1.0.0"


def test_where_the_workshop_is_open_and_the_date_is_not_the_region_is_named():
    found = words(workshop={"W2": 0.38, "W1": 0.37}, mould={"M04": 0.9}, making={"C1": 0.97})
    assert (found.grade, found.words) == ("region", "Oskervane region, 1812–1846")


def test_the_date_is_the_shortest_run_of_periods_that_holds_enough():
    dating = words(workshop={"W3": 0.9}, mould={"M08": 0.9}, making={"C1": 0.97},
                   period={"P3": 0.70, "P4": 0.26}).dating  # fmt: skip
    assert (dating.date, dating.periods) == ("1847/1950", ("P3", "P4"))
    assert dating.share == pytest.approx(0.96)
    assert words(workshop={"W3": 0.9}, mould={"M08": 0.9}, making={"C1": 0.97},
                 period={"P1": 0.5, "P5": 0.5}).dating is None  # fmt: skip


def test_a_model_without_the_four_nodes_is_graded_by_its_question():
    known = model()
    report = assess(known, examined(known, "{rim: bevelled}"), files.read_standards())
    # North .4, South .04, elsewhere .01: .889.
    assert report.attribution.words == "attributed to North"
    assert report.attribution.grade == "attributed"


def test_every_word_of_the_policy_is_printed_with_its_meaning():
    known = model()
    report = assess(known, examined(known, "{rim: flat}"), files.read_standards())
    assert len(report.attribution.definitions) == len(POLICY.grades) + 5


def test_where_nothing_was_read_nothing_is_attributed():
    known = model()
    report = assess(known, examined(known, "{}"), files.read_standards())
    assert report.attribution is None
    assert "Nothing has been read yet" in report.statement[1]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("{subject}", "{subject.__class__}", "has a field that words do not have"),
        ("{subject}", "{maker}", "has a field that words do not have"),
        ("at_least: 0.80", "at_least: 1.80", "at_least"),
        ("version: 1.0.0", "version: one", "version"),
        ("at_least: 0.80", "at_least: 0.30", "write them from the highest to the lowest"),
        ("date_share: 0.95 ", "date_chare: 0.95 ", "date_share is missing"),
        (
            "nodes: {workshop: workshop, class: class, period: period, mould: mould}",
            "nodes: {workshop: workshop}",
            "no node for class, period, mould",
        ),
    ],
)
def test_a_policy_that_does_not_fit_is_refused_at_its_place(old, new, said):
    text = POLICY_TEXT.replace(old, new, 1)
    assert text != POLICY_TEXT
    with pytest.raises(ModelError, match=said):
        read_policy(text.encode(), "mine.yaml")


def test_a_mould_after_one_that_is_not_there_is_refused():
    from claywit.model.soundness import read_model

    text = (Path(__file__).parents[2] / "models" / "oskervane.yaml").read_text("utf-8")
    with pytest.raises(ModelError, match="M09 is after M2; name another state of it"):
        read_model(text.replace("after: M02", "after: M2").encode(), "m.yaml")
