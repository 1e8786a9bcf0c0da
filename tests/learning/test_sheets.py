"""Sheets: what they ask, what they refuse, and the rows that come of them."""

from datetime import date

import pytest
from sheets import GATE, blank, count, party, sheet
from small import HIDDEN, model

from claywit.errors import ModelError, SheetError
from claywit.learning.answers import opinions_of
from claywit.learning.asking import questions
from claywit.learning.opinions import fit_rows, seeds_of
from claywit.learning.revision import revision
from claywit.learning.sheet import read_seeds, read_sheet

NORTH = ("rim", "{shop: north}", f"{{flat: {count(10, 20, 35)}}}")


def rows(*texts, weights=None, known=None):
    parties = [party(text, f"{i}.yaml") for i, text in enumerate(texts)]
    opinions = [o for one in parties for o in opinions_of(known or model(), one)]
    return fit_rows(opinions, weights or {one.name: 1 / len(parties) for one in parties})


def test_a_question_pictures_100_pieces_and_names_the_state_in_words():
    (first, *_) = questions(model(), ["rim"])
    assert first.ask == (
        "Picture 100 pieces with Workshop: North. How many of the 100 have Rim: flat?"
        " The rest are: bevelled."
    )


def test_a_root_is_asked_about_as_pieces_come():
    (only,) = questions(model(), ["shop"])
    assert only.ask.startswith("Picture 100 pieces as they come to you. How many")
    assert only.listed == ("north", "south", "other")


def test_rows_with_one_possible_state_are_asked_about_on_demand_only():
    """A seal is never pressed by North or elsewhere: that row is a rule of the model."""
    assert [q.name for q in questions(model(), ["seal"])] == ["seal, given shop=south"]
    assert len(questions(model(), ["seal"], all_states=True)) == 2


def test_rows_that_hold_only_for_what_cannot_occur_are_not_asked_about():
    text = """
format: claywit-model/1
name: idle
version: 1.0.0
targets: [a]
status: elicited
nodes:
  a: {states: [x, y, z], rows: [{p: {x: 0.5, y: 0.5}}]}
  b:
    states: [u, v]
    parents: [a]
    rows:
      - {given: {a: x}, p: {u: 0.3, v: 0.7}}
      - {given: {a: y}, p: {u: 0.2, v: 0.8}}
      - {given: {}, p: {u: 0.5, v: 0.5}}
"""
    assert [q.name for q in questions(model(text), ["b"])] == ["b, given a=x", "b, given a=y"]


def test_causes_are_asked_about_one_by_one():
    asked = {q.name: q.ask for q in questions(model(GATE), ["g"])}
    assert list(asked) == ["g, leak", "g, given c=yes"]
    assert "with c: yes, and with no other cause" in asked["g, given c=yes"]
    assert "none of the causes" in asked["g, leak"]


def test_a_blank_sheet_reads_back_and_asks_every_question():
    read, _ = read_sheet(blank().encode(), "sheet.yaml")
    assert [asked.ask for asked in read.questions] == [q.ask for q in questions(model())]
    assert all(count.empty for asked in read.questions for count in asked.counts.values())


def test_a_sheet_shows_no_number_of_the_model():
    """0.8 and 0.2 of North's rims, as 80 and 20 of 100."""
    text = blank("rim").split("questions:")[1]
    assert not any(number in text for number in ("0.8", "0.2", "80", "20"))


def test_a_title_of_several_lines_cannot_break_out_of_its_comment():
    text = GATE.replace("name: gate", 'name: gate\ntitle: "one\\nformat: other"')
    empty = blank("g", text=text)
    assert "format: other" in empty
    assert "\nformat: other" not in empty
    assert read_sheet(empty.encode(), "sheet.yaml")[0].format == "claywit-sheet/1"


@pytest.mark.parametrize(
    ("names", "message"),
    [
        (["rimm"], "no node rimm; did you mean rim"),
        (["seal", "nothing"], "no node nothing"),
    ],
)
def test_a_node_that_is_not_there_is_named(names, message):
    with pytest.raises(ModelError, match=message):
        questions(model(), names)


def test_a_filled_answer_becomes_a_row():
    (only,) = rows(sheet([NORTH]))
    assert only.states == ("bevelled", "flat")
    assert only.row.shares[1] == pytest.approx(0.21, abs=0.01)
    assert only.row.n == pytest.approx(28, abs=1)


def test_a_question_may_have_its_own_confidence():
    (sure,), (less,) = rows(sheet([NORTH])), rows(sheet([(*NORTH, "confidence: 50")]))
    assert sure.row.n > 3 * less.row.n


def test_two_experts_who_say_the_same_give_the_row_of_one():
    (one,) = rows(sheet([NORTH]))
    (two,) = rows(sheet([NORTH]), sheet([NORTH], expert="Otto"))
    assert two.row.shares == pytest.approx(one.row.shares, abs=1e-4)
    assert two.row.n == pytest.approx(one.row.n, rel=1e-3)


def test_experts_who_differ_give_a_row_between_them_that_is_less_sure():
    other = ("rim", "{shop: north}", f"{{flat: {count(40, 55, 70)}}}")
    (one,), (far,) = rows(sheet([NORTH])), rows(sheet([other]))
    (both,) = rows(sheet([NORTH]), sheet([other], expert="Otto"))
    assert one.row.shares[1] < both.row.shares[1] < far.row.shares[1]
    assert both.row.n < min(one.row.n, far.row.n)


def test_an_expert_without_weight_moves_nothing():
    other = ("rim", "{shop: north}", f"{{flat: {count(40, 55, 70)}}}")
    (alone,) = rows(sheet([NORTH]))
    (both,) = rows(
        sheet([NORTH]), sheet([other], expert="Otto"), weights={"Edda": 1.0, "Otto": 0.0}
    )
    assert both.row.shares == pytest.approx(alone.row.shares)


def test_a_state_that_one_expert_rules_out_stays_possible_for_the_pool():
    a = (
        "shop",
        "{}",
        f"{{north: {count(40, 60, 80)}, south: {count(20, 40, 60)}, other: {count(0, 0, 0)}}}",
    )
    b = (
        "shop",
        "{}",
        f"{{north: {count(40, 60, 80)}, south: {count(10, 20, 40)}, other: {count(10, 20, 30)}}}",
    )
    (both,) = rows(sheet([a]), sheet([b], expert="Otto"))
    assert both.states == ("north", "south", "other")
    assert 0.02 < both.row.shares[2] < 0.2


def test_a_state_that_the_model_excludes_may_be_let_in():
    answer = ("seal", "{shop: [north, other]}", f"{{pressed: {count(0, 1, 4)}}}")
    (only,) = rows(sheet([answer]))
    assert only.row.shares[1] == pytest.approx(0.015, abs=0.005)


def test_a_cause_leaves_its_rest_to_the_lowest_level():
    answer = (
        "g",
        "{c: yes}",
        f"{{thin: {count(20, 30, 45)}, thick: {count(10, 20, 30)}}}",
        "place: cause",
    )
    (only,) = rows(sheet([answer], name="gate"), known=model(GATE))
    assert only.states == ("none", "thin", "thick")
    assert only.question.rest == "none"


REFUSED = [
    (sheet([NORTH], name="other"), r"edda\.yaml:2: a sheet of other, and the model is shops"),
    (sheet([("rimm", "{shop: north}", NORTH[2])]), "no node rimm; did you mean rim"),
    (sheet([("rim", "{shop: west}", NORTH[2])]), "rim: the model has no row given shop=west"),
    (sheet([("rim", "{shop: north}", f"{{flatt: {count(1, 2, 3)}}}")]), "rim, given shop=north: no state flatt is asked about; did you mean flat"),
    (sheet([NORTH, NORTH]), r"edda\.yaml:9: rim, given shop=north is asked twice"),
    (sheet([NORTH], confidence='""'), "rim, given shop=north: no confidence"),
    (sheet([("rim", "{shop: north}", "{flat: {lowest: , best: , highest: }}")]), "nothing is filled in"),
    (sheet([("rim", "{shop: north}", f"{{flat: {count(60, 80, 90)}, bevelled: {count(50, 60, 70)}}}")]),
     r"edda\.yaml:6: rim, given shop=north: the lowest numbers alone add to 110"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_what_cannot_hold_is_refused_with_the_line_and_the_question(text, message):
    with pytest.raises(SheetError, match=message):
        opinions_of(model(), party(text))


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ("{flat: {lowest: 10, best: , highest: 30}}", "no best; fill in all three, or none"),
        (
            "{flat: {lowest: 30, best: 20, highest: 40}}",
            "lowest 30, best 20, highest 40 are not in order",
        ),
        ("{flat: {lowest: 1e400, best: 20, highest: 40}}", "is too large for a number"),
        ("{flat: {lowest: a few, best: 20, highest: 40}}", "'a few' is not a plain decimal number"),
        ("{flat: {low: 10}}", "unknown key low; did you mean lowest"),
    ],
)
def test_a_range_that_is_no_range_is_refused_with_its_line(counts, message):
    with pytest.raises(SheetError, match=rf"edda\.yaml:\d+.*{message}"):
        party(sheet([("rim", "{shop: north}", counts)]))


SEEDS = """
format: claywit-seeds/1
seeds:
  - {id: one, ask: How many?, truth: 12}
  - {id: two, ask: How heavy?, truth: 250, scale: log}
"""


def with_seeds(one, two, expert="Edda"):
    said = f"seeds:\n  - {{id: one, {one}}}\n  - {{id: two, {two}}}"
    return sheet([NORTH], expert=expert, seeds=said)


FULL = ("lowest: 5, best: 10, highest: 20", "lowest: 100, best: 200, highest: 400")


def test_seeds_stand_on_their_own_scale():
    file = read_seeds(SEEDS.encode(), "seeds.yaml")
    found = seeds_of([party(with_seeds(*FULL))], file)
    assert found.quantiles[0, 0].tolist() == [5, 10, 20]
    steps = found.quantiles[0, 1]
    assert steps[1] - steps[0] == pytest.approx(steps[2] - steps[1])
    assert found.levels.tolist() == pytest.approx([0.05, 0.5, 0.95])


@pytest.mark.parametrize(
    ("one", "two", "message"),
    [
        ("lowest: , best: , highest: ", FULL[1], "Edda left seed one open"),
        (
            "lowest: 5, best: 5, highest: 9",
            FULL[1],
            "seed one, Edda: lowest, best and highest are the same or too close",
        ),
        (FULL[0], "lowest: 0, best: 2, highest: 4", "seed two, Edda: must be above 0"),
    ],
)
def test_a_seed_that_cannot_be_scored_is_refused(one, two, message):
    file = read_seeds(SEEDS.encode(), "seeds.yaml")
    with pytest.raises(SheetError, match=message):
        seeds_of([party(with_seeds(one, two))], file)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("truth: 12", "truth: 0, scale: log"), "truth 0 has no logarithm"),
        (("id: two", "id: one"), "seed one stands twice"),
        (("ask: How many?", "ask: ''"), "at least one character"),
    ],
)
def test_a_seed_file_that_cannot_serve_is_refused(change, message):
    with pytest.raises(SheetError, match=message):
        read_seeds(SEEDS.replace(*change).encode(), "seeds.yaml")


def test_how_often_a_trait_is_hidden_is_asked_for_each_state_of_the_obstruction():
    asked = questions(model(HIDDEN), ["size"])
    assert [q.name for q in asked] == [
        "size, given o=o1, visibility",
        "size, given o=o2, visibility",
    ]
    assert asked[0].ask.endswith("On how many of the 100 can this not be seen at all: size?")


def test_hidden_shares_are_written_one_by_one_with_the_n_of_the_least_sure():
    """p of o1 is elicited, that of o2 stays; the old n, 20, is less than the new one."""
    answer = ("size", "{o: o1}", f"{{not_visible: {count(20, 25, 30)}}}", "place: visibility")
    known = model(HIDDEN)
    found = rows(sheet([answer], name="hide"), known=known)
    changes = revision(known, found, {"Edda": 1.0}, on=date(2026, 1, 30))
    at = ("nodes", "size", "visibility")
    assert changes[*at, "p", "o1"] == pytest.approx(0.25, abs=0.01)
    assert (*at, "p", "o2") not in changes
    assert found[0].row.n > 100
    assert changes[*at, "n"] == 20
    assert changes[*at, "source"] == "elicited_2026_01_30"


def test_every_question_that_cannot_hold_is_named():
    wrong = f"{{bevelled: {count(60, 80, 90)}, flat: {count(50, 60, 70)}}}"
    text = sheet([("rim", "{shop: north}", wrong), ("rim", "{shop: [south, other]}", wrong), NORTH])
    with pytest.raises(SheetError, match=r"shop=north.*\(and 2 more\)") as refused:
        opinions_of(model(), party(text))
    assert len(refused.value.details) == 3
