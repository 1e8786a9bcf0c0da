"""The joint statement of two examiners: what it says, what it refuses, what it warns of."""

import pytest
from disputing import MASKED, party, shown, stated
from small import SHOPS, model

from claywit.errors import EvidenceError, ImpossibleEvidence
from claywit.report.bridge import bridge


def test_it_lists_what_is_agreed_and_what_is_not():
    found = stated("{rim: bevelled, wear: much}", "{rim: flat, wear: much, mark: stroke}")
    assert [(p.node, p.kind) for p in found.agreed] == [("wear", "same")]
    assert [(p.name, p.reading_a, p.reading_b, p.why) for p in found.disagreed] == [
        ("rim", "bevelled", "flat", "read differently"),
        ("mark", "not read", "stroke", "only one read it"),
    ]


def test_the_shares_in_the_statement_add_up():
    found = stated("{rim: bevelled}", "{rim: flat, mark: stroke}")
    assert sum(d.share_bans for d in found.disagreed) == pytest.approx(
        found.difference_bans, abs=3e-9
    )
    assert found.b_bans - found.a_bans == pytest.approx(found.difference_bans, abs=3e-9)


def test_it_says_how_far_apart_the_two_are_and_what_settles_most():
    """Rim: 8 to 1 against 1 to 4.5 is 1.56 bans; nothing else differs."""
    found = stated("{rim: bevelled}", "{rim: flat}")
    assert found.statement == (
        "Odds of North against South: A 10 to 1 (+1.00 bans), B 1 to 3.6 (−0.56 bans); elicited, no"
        " reference pieces."
        " They are 1.56 bans apart.",
        "Of the −1.56 bans from the one to the other, rim −1.56.",
        "Look again at rim first (edge, 2 min): whichever way it is settled, nearly all of the"
        " difference goes (above 99.9% at least; 0.00 bans stay at most), and both then name the"
        " same.",
    )


def test_two_that_name_different_things_disagree_whatever_the_average():
    priors = "priors: {shop: {north: 0.5, south: 0.5, other: 0}}\n" + MASKED
    sure_a = party("{rim: bevelled, mark: absent}", more=priors)
    sure_b = party("{rim: flat, mark: stroke}", "B", more=priors)
    found = stated(sure_a, sure_b)
    assert found.examiners_disagree
    assert found.answer == "The examiners disagree."
    assert "A holds North" in found.because[-1]
    assert "B South" in found.because[-1]


def test_where_one_rules_out_what_the_other_holds_there_is_no_average():
    only_north = party("{}", more="priors: {shop: {north: 1}}")
    only_south = party("{}", "B", more="priors: {shop: {south: 1}}")
    with pytest.raises(EvidenceError, match="A: "):
        stated(only_north, only_south)


def test_two_of_one_mind_have_one_answer_in_the_lower_grade():
    """North has .4 / .46 = 87 % and 89 %: both carry the word `attributed`."""
    found = stated("{rim: bevelled}", "{rim: bevelled, wear: much}")
    assert found.answer == "Together the two opinions say, of the workshop: attributed to North."
    assert not found.examiners_disagree
    assert (found.linear.grade, found.logarithmic.grade) == ("attributed", "attributed")


@pytest.mark.parametrize(
    ("north", "grade", "words"),
    [
        # Assigned asks for .95 with prior odds three times smaller too: .983 / 3 odds is .951.
        (0.984, "assigned", "North"),
        (0.96, "attributed", "attributed to North"),
        (0.79, "probable", "probably North"),
        (0.59, "unattributed", "unattributed"),  # the next has more than half of it
    ],
)
def test_the_words_are_those_of_the_policy(north, grade, words):
    more = f"priors: {{shop: {{north: {north}, south: {1 - north:.3f}}}}}"
    found = stated(party("{}", more=more), party("{}", "B", more=more))
    assert (found.linear.grade, found.linear.words) == (grade, words)
    assert found.grades["possible"] in " ".join(found.cautions)
    assert found.policy == "plaques-2026 1.0.0"


def test_what_is_not_in_the_file_is_never_attributed():
    more = "priors: {shop: {north: 0.01, other: 0.99}}"
    found = stated(party("{}", more=more), party("{}", "B", more=more), asked=(None, None, None))
    assert (
        found.answer == "Together the two opinions attribute no workshop; likeliest is Elsewhere."
    )


def test_pools_more_than_one_grade_apart_are_no_answer():
    """98 % and 55 % of north: the mean is 76.5 %, odds of sqrt(49 x 1.22) are 89 %: one grade.
    99.999 % and 55 %: 77 %, but sqrt(99,999 x 1.22) to 1."""

    def both(a, b):
        sides = [party("{}", by, more=f"priors: {{shop: {{north: {p}, south: {1 - p:.6f}}}}}")
                 for by, p in (("A", a), ("B", b))]  # fmt: skip
        return stated(*sides)

    one_apart, far = both(0.98, 0.55), both(0.99999, 0.55)
    assert (one_apart.linear.grade, one_apart.logarithmic.grade) == ("probable", "attributed")
    assert not one_apart.examiners_disagree
    assert (far.linear.grade, far.logarithmic.grade) == ("probable", "assigned")
    assert far.examiners_disagree
    assert far.because[0].startswith("the two ways of pooling differ by more than one grade")


def test_the_weight_leans_the_pools():
    shares = [
        float(stated("{rim: bevelled}", "{rim: flat}", weight=w).linear.shares["north"])
        for w in (0.0, 0.5, 1.0)
    ]
    a, b = (float(o.shares["north"]) for o in stated("{rim: bevelled}", "{rim: flat}").opinions)
    assert shares == pytest.approx([b, (a + b) / 2, a])


def test_a_ruled_out_side_is_said_and_not_computed_with():
    found = stated("{rim: bevelled}", "{seal: pressed}")
    assert found.b_bans is None
    assert found.difference_bans is None
    assert "no figure tells them apart" in found.statement[0]
    assert bridge(found) is None
    assert "NaN" not in found.model_dump_json()
    assert "nan" not in shown(found)


def test_two_pieces_are_refused_with_the_place():
    with pytest.raises(EvidenceError, match=r"^B\.yaml:2: .*piece p-2.* p-1; .* about one piece$"):
        stated("{}", party("{}", "B", piece="p-2"))


def test_one_examiner_twice_is_warned_of():
    again = party("{rim: flat}", "A")
    assert any("same examiner's name (A)" in c for c in stated("{rim: bevelled}", again).cautions)
    assert not any("same examiner" in c for c in stated("{rim: flat}", "{rim: bevelled}").cautions)
    assert [p.name for p in stated("{rim: bevelled}", again).parties] == [
        "first examiner", "second examiner",
    ]  # fmt: skip


def test_the_same_file_twice_is_warned_of():
    same = party("{rim: flat}", "A")
    found = stated(same, same)
    assert any("the same in every point" in c for c in found.cautions)
    assert found.disagreed == ()
    assert found.statement[-1] == "Nothing: the two agree in every point."


def test_a_reading_not_masked_on_both_sides_is_warned_of():
    bare = party("{rim: flat}", "B", more="")
    assert any("masked" in c for c in stated("{rim: flat}", bare).cautions)
    assert not any("masked" in c for c in stated("{rim: flat}", "{rim: flat}").cautions)


def test_another_question_or_other_propositions_of_the_second_file_are_told():
    more = "propositions: {for: shop=south, against: shop=other}\nquestion: shop"
    found = stated("{rim: flat}", party("{rim: flat}", "B", more=more))
    assert any("propositions that B states are not those" in c for c in found.cautions)
    wear = party("{rim: flat}", "B", more="question: wear")
    said = [c for c in stated("{rim: flat}", wear).cautions if "asks about" in c]
    assert said == ["The file of B asks about the wear; here both are asked about the workshop."]


def test_differences_that_cancel_need_no_settling():
    """A mark read as a stroke against absent, twice, the other way round."""
    text = SHOPS.replace("  seal:", TWIN_MARK + "  seal:")
    known = model(text)
    a = party("{mark: stroke, dent: absent}", known=known)
    found = stated(a, party("{mark: absent, dent: stroke}", "B", known=known))
    assert found.difference_bans == 0
    assert found.statement[-1].startswith("Nothing needs settling")


TWIN_MARK = SHOPS[SHOPS.index("  mark:\n") : SHOPS.index("  seal:\n")].replace("mark", "dent")
TWIN_MARK = TWIN_MARK.replace("Mark", "Dent")


@pytest.mark.parametrize("weight", [-0.1, 1.1, float("nan")])
def test_a_weight_beyond_its_range_is_refused(weight):
    with pytest.raises(EvidenceError, match="between 0 and 1"):
        stated("{rim: flat}", "{rim: flat}", weight=weight)


def test_a_side_whose_findings_cannot_stand_is_named():
    wrong = party("{seal: pressed}", "B", more="priors: {shop: {north: 1}}")
    with pytest.raises(ImpossibleEvidence, match=r"^B: seal cannot stand"):
        stated("{}", wrong)


def test_a_question_that_the_other_side_has_read_is_refused_at_its_file():
    known = model()
    given = party("{shop: north}", "B", more="question: wear", known=known)
    with pytest.raises(EvidenceError, match=r"^B\.yaml:4: .*cannot have a finding"):
        stated(party("{}", known=known), given, asked=(None, None, None))


def test_the_first_side_states_the_propositions_unless_they_are_typed():
    more = "propositions: {for: shop=south, against: shop=other}"
    found = stated(party("{mark: stroke}", more=more), "{}", asked=(None, None, None))
    assert (found.for_, found.against, found.chosen) == ("shop=south", "shop=other", "stated")
    typed = stated(party("{mark: stroke}", more=more), "{}")
    assert (typed.for_, typed.chosen) == ("shop=north", "named")
